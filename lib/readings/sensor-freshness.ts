import type { Reading } from "./reading.js";
import type { SensorRules } from "./sensor-rules.js";

export type SensorFreshness =
  | { readonly kind: "fresh"; readonly age_s: number }
  | { readonly kind: "stale"; readonly age_s: number }
  | { readonly kind: "never" };

/** The same instant by both clocks. */
export interface FreshnessInstant {
  readonly now_epochMs: number;
  readonly now_monotonicMs: number;
}

/** A reading may be judged in a tick whose time was taken just before it came. */
const tickTolerance_ms = 5000;

/**
 * How old the last accepted reading is: by the monotonic clock, or by the civil one where that says more. The monotonic clock
 * stands still while the machine sleeps, so that only the civil clock knows of a suspend; a civil clock that is set back makes
 * nothing younger, one that is set forward makes every sensor stale until its next reading. A reading from further ahead on
 * the monotonic clock than a tick belongs to another run of it (a state restored after a restart) and counts as none.
 */
export function freshness(
  rules: Pick<SensorRules, "maximumAge_s">,
  lastAccepted: Reading | undefined,
  { now_epochMs, now_monotonicMs }: FreshnessInstant,
): SensorFreshness {
  if (lastAccepted === undefined) return { kind: "never" };
  const counted_ms = now_monotonicMs - lastAccepted.at_monotonicMs;
  const age_ms = Math.max(0, counted_ms, now_epochMs - lastAccepted.at_epochMs);
  // Written so that a clock that is no number counts as none.
  if (!(counted_ms >= -tickTolerance_ms && Number.isFinite(age_ms))) return { kind: "never" };
  const age_s = age_ms / 1000;
  return { kind: age_s <= rules.maximumAge_s ? "fresh" : "stale", age_s };
}
