import { assertInRange } from "../quantities/valid-range.js";

const first_ms = 5000;
/** An answer is expected again by then. */
const longest_ms = 15 * 60_000;
/** A receiver that says no may be set right by a person; it is not asked more often than this. */
const refused_ms = 60 * 60_000;
/** What a receiver may ask for is bounded: a wrong header must not hold an alert for days. */
const longestAsked_ms = 60 * 60_000;

export type FailedDelivery =
  /** No answer, or one that says later. `retryAfter_s`: when the receiver asks to be tried again. */
  | { readonly kind: "failed"; readonly retryAfter_s: number | undefined }
  /** The receiver does not take this message. */
  | { readonly kind: "refused" };

/**
 * How long to wait before the next try, ms: the ceiling doubles from 5 s to 15 min, and the wait is uniform between half the
 * ceiling and the ceiling, so that many who lost the same network come back spread out.
 * @param attempts  tries so far, from 1 on.
 * @throws OutOfValidRangeError for attempts below 1.
 */
export function retryDelay_ms(failure: FailedDelivery, attempts: number, random: () => number): number {
  assertInRange(attempts, { quantity: "attempts", unit: "", minimum: 1, maximum: 1e9 });
  const ceiling_ms =
    failure.kind === "refused"
      ? refused_ms
      : Math.min(longest_ms, first_ms * 2 ** Math.min(attempts - 1, 20));
  const spread_ms = ceiling_ms / 2 + (random() * ceiling_ms) / 2;
  if (failure.kind === "refused" || failure.retryAfter_s === undefined) return Math.round(spread_ms);
  const asked_ms = Math.min(Math.max(0, failure.retryAfter_s * 1000), longestAsked_ms);
  return Math.round(Math.max(asked_ms, spread_ms));
}
