import { z } from "zod";
import { roundTripOn_s } from "../../lib/control/commissioning.js";
import type { ServiceView } from "../../lib/inspection/service-finding.js";
import type { ControlCycle } from "../control-cycle.js";
import type { Clock } from "../ports/clock.js";
import type { RelayModel } from "../relay-link.js";
import type { SiteModel, ValveModel } from "../site-model.js";
import { unknownName } from "../unknown-name.js";
import { commandFamily } from "./command-family.js";
import type { SocketConversation, SocketHandler } from "./control-socket.js";
import { closedBecause, tryRelay } from "./relay-trial.js";

const valve = z.string().max(60);
const requestSchema = z.discriminatedUnion("command", [
  z.strictObject({ command: z.literal("inspect-service") }),
  /** `atTheTank`: the valve's name, where the person has said beforehand that somebody is there. */
  z.strictObject({ command: z.literal("inspect-click"), valve, atTheTank: valve.exactOptional() }),
]);

/**
 * For `inspect`: how the daemon is watched over, and the round trip of one valve with a person at its tank. The valve moves only
 * where it is open by its window and no rule holds it: this command opens nothing that would be closed without it.
 */
export function createInspectionCommands(
  ports: { readonly clock: Clock; readonly service: () => ServiceView },
  cycle: ControlCycle,
  model: () => SiteModel,
  others: SocketHandler,
): SocketHandler {
  const { clock, service } = ports;
  return commandFamily(
    "inspect-",
    requestSchema,
    async (command, conversation) => {
      if (command.command === "inspect-service") {
        conversation.reply({ kind: "done", text: "how the daemon is watched over", value: service() });
        return;
      }
      const refusal = await click(command.valve, command.atTheTank, conversation);
      conversation.reply(
        refusal === undefined
          ? {
              kind: "done",
              text: `${command.valve} went off, on and off as told, and follows its schedule again`,
            }
          : { kind: "refused", text: refusal },
      );
    },
    others,
  );

  async function click(
    valveId: string,
    atTheTank: string | undefined,
    conversation: SocketConversation,
  ): Promise<string | undefined> {
    const known = model().valves.get(valveId);
    if (known === undefined) return unknownName("valve", valveId, model().valves.keys());
    const closed = notOpen(valveId);
    if (closed !== undefined) return closed;
    const consent = atTheTank ?? (await askForName(valveId, conversation));
    if (consent !== valveId) return `not done: the name of the valve, ${valveId}, was not given`;
    for (const relay of relaysOf(known)) {
      // The relay before this one has given the valve back to its schedule.
      const stillClosed = await opened(valveId, relay, conversation);
      const failure =
        stillClosed ??
        (await tryRelay({ clock, cycle }, { valveId, relay, trial: "round trip" }, conversation));
      if (failure !== undefined) return `${relay.rules.relayId}: ${failure}`;
    }
    const now_epochMs = clock.now_epochMs();
    await cycle.replaceSnapshot(cycle.snapshot(), {
      at_epochMs: now_epochMs,
      area: "valve",
      subject: valveId,
      what: "round trip passed",
      reason: "by a person at the daemon's socket",
      details: {},
    });
    return undefined;
  }

  function relaysOf({ rules }: ValveModel): readonly RelayModel[] {
    return rules.gasRelays.flatMap(({ relayId }) => model().relays.get(relayId) ?? []);
  }

  async function askForName(valveId: string, conversation: SocketConversation): Promise<string | undefined> {
    conversation.reply({
      kind: "question",
      text: `Valve ${valveId} will click closed, open for about ${roundTripOn_s} s, and closed. A person must be at the tank. Type the valve's name to begin:`,
    });
    return (await conversation.nextLine())?.trim();
  }

  /** Why it is not open now; undefined where it is, by its window, by every rule and by its own report. */
  function notOpen(valveId: string): string | undefined {
    const view = cycle.status()?.valves.find((candidate) => candidate.valveId === valveId);
    if (view === undefined) return "no control pass has run yet";
    if (view.window.kind !== "open") return "it is outside its dosing window, and opens for no trial there";
    if (view.decision.action !== "open") return `it is held closed: ${closedBecause(cycle, valveId)}`;
    return view.reported === "open" ? undefined : "it is told to open and does not report that it is open";
  }

  async function opened(
    valveId: string,
    { rules }: RelayModel,
    conversation: SocketConversation,
  ): Promise<string | undefined> {
    const until_monotonicMs = clock.monotonic_ms() + rules.confirmWithin_s * 3000;
    for (;;) {
      const closed = notOpen(valveId);
      if (closed === undefined) return undefined;
      if (clock.monotonic_ms() > until_monotonicMs) return closed;
      if (conversation.isGone()) return "the person is gone";
      await clock.sleep(200);
    }
  }
}
