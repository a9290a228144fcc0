import type { Reading } from "./reading.js";
import type { SensorRules } from "./sensor-rules.js";

export type SensorFreshness =
  | { readonly kind: "fresh"; readonly age_s: number }
  | { readonly kind: "stale"; readonly age_s: number }
  | { readonly kind: "never" };

/** A reading may be judged in a tick whose time was taken just before it came. */
const tickTolerance_ms = 5000;

/**
 * How old the last accepted reading is by the monotonic clock. A reading from further ahead than a tick belongs to another run
 * of that clock (a state restored after a restart) and counts as none.
 */
export function freshness(
  rules: Pick<SensorRules, "maximumAge_s">,
  lastAccepted: Reading | undefined,
  now_monotonicMs: number,
): SensorFreshness {
  if (lastAccepted === undefined) return { kind: "never" };
  const age_ms = now_monotonicMs - lastAccepted.at_monotonicMs;
  if (!(age_ms >= -tickTolerance_ms)) return { kind: "never" };
  const age_s = Math.max(0, age_ms / 1000);
  return { kind: age_s <= rules.maximumAge_s ? "fresh" : "stale", age_s };
}
