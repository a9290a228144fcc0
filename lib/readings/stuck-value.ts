/** Since when a sensor has sent the very same number. A probe in water is never that still; a hung converter is. */
export interface UnchangedSpan {
  readonly raw: number;
  readonly since_monotonicMs: number;
}

/** Follows the raw number, compared exactly. A silence does not interrupt the span: nothing moved that was seen. */
export function withRawSeen(
  span: UnchangedSpan | undefined,
  raw: number,
  at_monotonicMs: number,
): UnchangedSpan {
  return span?.raw === raw ? span : { raw, since_monotonicMs: at_monotonicMs };
}

/** Whether the same number has come for longer than the limit; never without a limit. */
export function isStuck(
  span: UnchangedSpan,
  at_monotonicMs: number,
  stuckAfter_min: number | undefined,
): boolean {
  return stuckAfter_min !== undefined && at_monotonicMs - span.since_monotonicMs > stuckAfter_min * 60_000;
}
