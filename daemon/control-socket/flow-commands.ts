import { z } from "zod";
import { flowOutlook, type FlowOutlook, type ScaledDynamics } from "../../lib/tank/flow-outlook.js";
import type { SiteModel } from "../site-model.js";
import { commandFamily } from "./command-family.js";
import type { SocketHandler } from "./control-socket.js";

const requestSchema = z.strictObject({
  command: z.literal("flow-outlook"),
  flow_ratio: z.number().min(0).max(50).exactOptional(),
  target_mgPerL: z.number().min(1).max(60).exactOptional(),
});

/** Where each tank comes to rest at another flow, and what flow a target takes; every other command goes on to `others`. */
export function createFlowCommands(
  site: {
    readonly model: () => Pick<SiteModel, "tanks">;
    readonly dynamics: (tankId: string) => ScaledDynamics | { readonly because: string };
  },
  others: SocketHandler,
): SocketHandler {
  return commandFamily(
    "flow-",
    requestSchema,
    ({ flow_ratio, target_mgPerL }, conversation) => {
      const lines = [...site.model().tanks.keys()].flatMap((tankId) => {
        const known = site.dynamics(tankId);
        if ("because" in known)
          return [`tank ${tankId}: nothing can be said of another flow: ${known.because}`];
        const outlook = flowOutlook(known, { flow_ratio, target_mgPerL });
        return flowLines(outlook, { flow_ratio, target_mgPerL }).map((line) => `tank ${tankId}: ${line}`);
      });
      conversation.reply({ kind: "done", text: lines.join("\n") });
    },
    others,
  );
}

function flowLines(
  { plateau, needed }: FlowOutlook,
  asked: { readonly flow_ratio: number | undefined; readonly target_mgPerL: number | undefined },
): readonly string[] {
  return [
    ...(plateau === undefined
      ? []
      : [
          `at ${digits(asked.flow_ratio ?? 1)} times today's flow it would rest at ${digits(plateau.plateau_mgPerL)} mg/L without light (80 %: ${digits(plateau.plateauLow80_mgPerL)} to ${digits(plateau.plateauHigh80_mgPerL)}); plants in light hold it lower`,
        ]),
    ...(needed === undefined
      ? []
      : [
          `to rest at ${digits(asked.target_mgPerL ?? 0)} mg/L without light it would take ${digits(needed.flow_ratio)} times today's flow (80 %: ${digits(needed.flowLow80_ratio)} to ${digits(needed.flowHigh80_ratio)}); turn the needle valve by small steps, wait some hours and watch the fish`,
        ]),
  ];
}

function digits(value: number): string {
  return String(Number(value.toPrecision(2)));
}
