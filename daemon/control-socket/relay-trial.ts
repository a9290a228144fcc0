import {
  beginTrial,
  commandOf,
  stepTrial,
  type Commissioning,
  type Trial,
} from "../../lib/control/commissioning.js";
import { holdInWords } from "../../lib/control/hold.js";
import type { ControlCycle } from "../control-cycle.js";
import type { Clock } from "../ports/clock.js";
import type { RelayModel, RelayReport } from "../relay-link.js";
import { askForYes } from "./ask-for-yes.js";
import type { SocketConversation } from "./control-socket.js";

export interface RelayUnderTrial {
  readonly valveId: string;
  readonly relay: RelayModel;
  readonly trial: Trial;
}

type TrialCycle = Pick<
  ControlCycle,
  "beginTrial" | "isTrialRunning" | "commandForTrial" | "endTrial" | "queryRelay" | "status"
>;

/**
 * One trial of one relay, with a person beside it. The round trip runs only for as long as the rules would let gas flow; the
 * others are for a vessel that is shut by hand.
 * @returns why it failed, or undefined.
 */
export async function tryRelay(
  { clock, cycle }: { readonly clock: Clock; readonly cycle: TrialCycle },
  { valveId, relay, trial }: RelayUnderTrial,
  conversation: SocketConversation,
): Promise<string | undefined> {
  const { autoOff_s, confirmWithin_s, relayId, answersStatusQuery } = relay.rules;
  const isRoundTrip = trial === "round trip";
  if (autoOff_s === undefined && !isRoundTrip) return "autoOff_s is not in the config";
  const rules = { autoOff_s: autoOff_s ?? Number.POSITIVE_INFINITY, confirmWithin_s, answersStatusQuery };
  let state: Commissioning = beginTrial(trial, clock.monotonic_ms());
  let asked = false;
  let told: Commissioning["kind"] | undefined;
  const hear = ({ reported, at_monotonicMs }: RelayReport): void => {
    state = stepTrial(rules, state, { kind: "report", reported, at_monotonicMs });
  };
  if (!cycle.beginTrial(valveId, relayId, isRoundTrip ? "as the rules say" : "shut by hand", hear)) {
    const held = heldInWords(cycle, valveId);
    return held === undefined
      ? "another trial of this valve is running, or the daemon ends"
      : `somebody works at it: ${held}`;
  }
  try {
    conversation.reply({
      kind: "progress",
      text: `${relayId}: trying its ${trial}${trial === "auto-off" ? `, which takes ${autoOff_s ?? 0} s` : ""}`,
    });
    for (;;) {
      state = stepTrial(rules, state, { kind: "tick", at_monotonicMs: clock.monotonic_ms() });
      if (state.kind === "failed") return state.reason;
      if (state.kind === "passed") {
        const after = state.measured_s === 0 ? "" : ` after ${state.measured_s.toFixed(1)} s`;
        conversation.reply({ kind: "progress", text: `${relayId}: ${trial} passed${after}` });
        return undefined;
      }
      if (!cycle.isTrialRunning(valveId)) return `ended at once: ${closedBecause(cycle, valveId)}`;
      const command = commandOf(state);
      if (command !== undefined && told !== state.kind) {
        told = state.kind;
        cycle.commandForTrial(relayId, command);
      }
      if (state.kind === "waiting for the plug" && !asked) {
        asked = true;
        const no = await askForYes(
          conversation,
          `${relayId} is on. Pull the relay's plug now, wait five seconds, put it back, all within ${autoOff_s ?? 0} s. Is its power back?`,
        );
        if (no !== undefined) return no;
        const at_monotonicMs = clock.monotonic_ms();
        state = stepTrial(rules, state, { kind: "person says power is back", at_monotonicMs });
        cycle.queryRelay(relayId);
      }
      if (conversation.isGone()) return "the person is gone";
      await clock.sleep(isRoundTrip ? 50 : 200);
    }
  } finally {
    cycle.commandForTrial(relayId, "off");
    cycle.endTrial(valveId);
  }
}

function heldInWords(cycle: Pick<TrialCycle, "status">, valveId: string): string | undefined {
  const holds = cycle.status()?.valves.find((valve) => valve.valveId === valveId)?.holds ?? [];
  return holds.length === 0 ? undefined : holds.map(holdInWords).join("; ");
}

/** Why the daemon would not leave a valve open now. */
export function closedBecause(cycle: Pick<TrialCycle, "status">, valveId: string): string {
  const decision = cycle.status()?.valves.find((valve) => valve.valveId === valveId)?.decision;
  if (decision === undefined) return "no control pass has run yet";
  const [first] = decision.blocks;
  if (first !== undefined) return `${first.rule} (${first.reason})`;
  return decision.wish.action === "closed" ? decision.wish.reason : decision.reason;
}
