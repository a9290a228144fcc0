import {
  acceptClock,
  createClockPlausibilityState,
  judgeClock,
  type BothClocks,
  type ClockVerdict,
  type Synchronisation,
} from "../lib/schedule/clock-plausibility.js";

/** Whether the civil clock may be believed, followed from pass to pass. */
export interface BelievedClock {
  judge(both: BothClocks): ClockVerdict;
  /** A person says that it is right. */
  accept(both: BothClocks): void;
  /** Whether such a word still stands in for what was known before. */
  isAccepted(): boolean;
}

/** The build's own date: no true time lies before it. */
const buildDate_epochMs = Date.UTC(2026, 0, 1);

/** @param known  the latest instant that the store holds, and what a person accepted in an earlier run. */
export function createBelievedClock(
  synchronisation: () => Synchronisation,
  known: { readonly latest_epochMs: number | undefined; readonly accepted_epochMs: number | undefined },
): BelievedClock {
  let state = createClockPlausibilityState(known.accepted_epochMs);
  let latestPlausible_epochMs = Math.max(buildDate_epochMs, known.latest_epochMs ?? 0);

  return {
    judge(both) {
      const judged = judgeClock(state, {
        ...both,
        notBefore_epochMs: latestPlausible_epochMs,
        synchronisation: synchronisation(),
      });
      state = judged.state;
      // A clock that is put back behind what was believed is no more to be trusted than one that starts there.
      if (judged.verdict.kind === "plausible") {
        latestPlausible_epochMs = Math.max(latestPlausible_epochMs, both.now_epochMs);
      }
      return judged.verdict;
    },
    accept(both) {
      state = acceptClock(state, both);
      latestPlausible_epochMs = both.now_epochMs;
    },
    isAccepted: () => state.accepted_epochMs !== undefined,
  };
}
