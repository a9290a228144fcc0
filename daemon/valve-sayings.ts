import type { ValveDecision } from "../lib/control/control-step.js";
import type { SiteEvent } from "./ports/site-store.js";
import type { ValveStatus } from "./site-status.js";

/** What became of one valve in a pass. */
export interface ValveSaying {
  readonly valveId: string;
  readonly decision: ValveDecision;
  readonly reported: ValveStatus["reported"];
}

/** Each change of what a valve is told and of what its relays report goes into the record once. */
export function createValveSayings(
  record: (event: SiteEvent) => void,
): (valve: ValveSaying, now_epochMs: number) => void {
  const lastSaid = new Map<string, { readonly decided: string; readonly reported: string }>();

  return ({ valveId, decision, reported }, now_epochMs) => {
    const say = (what: string, reason: string): void => {
      const details = { reported, wish: decision.wish.reason };
      record({ at_epochMs: now_epochMs, area: "valve", subject: valveId, what, reason, details });
    };
    const decided = `${decision.action} ${decision.action === "open" ? "" : decision.gist}`;
    const before = lastSaid.get(valveId);
    if (before?.decided !== decided) say(`commanded ${decision.action}`, decision.reason);
    if (before !== undefined && before.reported !== reported && reported !== "unknown")
      say(`reports ${reported}`, "");
    lastSaid.set(valveId, { decided, reported });
  };
}
