import { describe, expect, it } from "vitest";
import { isStuck, withRawSeen } from "../../../../lib/readings/stuck-value.js";

const minute_ms = 60_000;

describe("a value that does not move", () => {
  it.each<[number, number | undefined, boolean, string]>([
    [120 * minute_ms, 120, false, "exactly as long as allowed"],
    [120 * minute_ms + 1, 120, true, "a millisecond longer"],
    [1e12, undefined, false, "no limit"],
  ])("after %d ms with a limit of %s min is stuck: %s (%s)", (at_monotonicMs, stuckAfter_min, expected) => {
    const span = withRawSeen(withRawSeen(undefined, 6.62, 0), 6.62, at_monotonicMs);
    expect(isStuck(span, at_monotonicMs, stuckAfter_min)).toBe(expected);
  });

  it("is free again with the smallest move", () => {
    const span = withRawSeen(withRawSeen(undefined, 6.62, 0), 6.62 + 1e-9, 130 * minute_ms);
    expect(span.since_monotonicMs).toBe(130 * minute_ms);
  });
});
