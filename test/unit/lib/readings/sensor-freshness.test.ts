import { describe, expect, it } from "vitest";
import type { Reading } from "../../../../lib/readings/reading.js";
import { freshness, type SensorFreshness } from "../../../../lib/readings/sensor-freshness.js";

const rules = { maximumAge_s: 120 };
const reading: Reading = {
  kind: "accepted",
  sensorId: "loach-ph",
  quantity: "pH",
  value: 6.62,
  at_epochMs: Date.parse("2026-03-01T12:00:00Z"),
  at_monotonicMs: 1_000_000,
};

const later = (counted_ms: number, civil_ms: number) => ({
  now_monotonicMs: reading.at_monotonicMs + counted_ms,
  now_epochMs: reading.at_epochMs + civil_ms,
});

describe("the freshness of a sensor", () => {
  it.each<[number, SensorFreshness, string]>([
    [0, { kind: "fresh", age_s: 0 }, "just come"],
    [120_000, { kind: "fresh", age_s: 120 }, "exactly the age allowed"],
    [120_001, { kind: "stale", age_s: 120.001 }, "a millisecond more"],
    [-200, { kind: "fresh", age_s: 0 }, "come after the tick took its time"],
    [-1_000_000, { kind: "never" }, "from an earlier run of the monotonic clock"],
    [Number.NaN, { kind: "never" }, "no number"],
  ])("%d ms after the last reading is %j (%s)", (after, expected) => {
    expect(freshness(rules, reading, later(after, after))).toEqual(expected);
  });

  it("is never without a reading", () => {
    expect(freshness(rules, undefined, later(0, 0))).toEqual({ kind: "never" });
  });

  it.each<{ counted_ms: number; civil_ms: number; expected: SensorFreshness; because: string }>([
    {
      counted_ms: 1000,
      civil_ms: 8 * 3_600_000,
      expected: { kind: "stale", age_s: 28_800 },
      because: "the machine slept for eight hours, in which CLOCK_MONOTONIC stands still (clock_gettime(2))",
    },
    {
      counted_ms: 1000,
      civil_ms: 121_000,
      expected: { kind: "stale", age_s: 121 },
      because: "two minutes of sleep count as much",
    },
    {
      counted_ms: 1000,
      civil_ms: 3000,
      expected: { kind: "fresh", age_s: 3 },
      because: "a small step of the clock costs nothing",
    },
    {
      counted_ms: 1000,
      civil_ms: -3_600_000,
      expected: { kind: "fresh", age_s: 1 },
      because: "a clock set back makes no reading come from the future",
    },
    {
      counted_ms: 200_000,
      civil_ms: -3_600_000,
      expected: { kind: "stale", age_s: 200 },
      because: "nor does it make an old one young",
    },
    {
      counted_ms: 1000,
      civil_ms: Number.NaN,
      expected: { kind: "never" },
      because: "a clock that is no number vouches for nothing",
    },
  ])("is $expected after $counted_ms ms counted and $civil_ms ms by the civil clock: $because", (row) => {
    expect(freshness(rules, reading, later(row.counted_ms, row.civil_ms))).toEqual(row.expected);
  });
});
