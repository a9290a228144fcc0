import { z } from "zod";
import { usualBackPressure_bar } from "../../lib/refill/branch-scenario.js";
import type { SiteModel } from "../site-model.js";
import { branchOutlook, type BranchAnswer, type FollowedSupply } from "../supply/branch-outlook.js";
import { unknownName } from "../unknown-name.js";
import { commandFamily } from "./command-family.js";
import type { SocketHandler } from "./control-socket.js";

const requestSchema = z.strictObject({
  command: z.literal("branches-outlook"),
  vessel: z.string().max(60).exactOptional(),
  tanks: z.int().min(1).max(16),
  backPressure_bar: z.number().min(0).max(5).default(usualBackPressure_bar.ceramicDiffuser),
  oneNeedle: z.boolean().default(false),
  json: z.boolean().default(false),
});

/** How long the charge lasts with more tanks on it; every other command goes on to `others`. */
export function createBranchCommands(
  site: {
    readonly model: () => Pick<SiteModel, "vessels" | "valves">;
    readonly followed: (vesselId: string) => FollowedSupply | undefined;
  },
  others: SocketHandler,
): SocketHandler {
  return commandFamily(
    "branches-",
    requestSchema,
    ({ vessel, tanks, backPressure_bar, oneNeedle, json }, conversation) => {
      const { vessels } = site.model();
      if (vessel !== undefined && !vessels.has(vessel)) {
        conversation.reply({ kind: "refused", text: unknownName("vessel", vessel, vessels.keys()) });
        return;
      }
      const answers = new Map<string, BranchAnswer>();
      for (const vesselId of vessel === undefined ? vessels.keys() : [vessel]) {
        const followed = site.followed(vesselId);
        const answer =
          followed === undefined
            ? undefined
            : branchOutlook(vesselId, followed, site.model(), {
                tanks,
                backPressureGauge_bar: backPressure_bar,
                needleValves: oneNeedle ? "before the splitter" : "each branch",
              });
        if (answer !== undefined) answers.set(vesselId, answer);
      }
      if (answers.size === 0) {
        const text = "no charge is followed whose use is known; enter one with `journal charge-closed`";
        conversation.reply({ kind: "refused", text });
        return;
      }
      const lines = [...answers].flatMap(([vesselId, { sentences }]) => [
        `vessel ${vesselId}, by what is left in it now`,
        ...sentences.map((sentence) => `  ${sentence}`),
      ]);
      conversation.reply(
        json
          ? { kind: "done", text: "branches", value: Object.fromEntries(answers) }
          : { kind: "done", text: lines.join("\n") },
      );
    },
    others,
  );
}
