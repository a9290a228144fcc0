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

describe("the freshness of a sensor", () => {
  it.each<[number, SensorFreshness, string]>([
    [0, { kind: "fresh", age_s: 0 }, "just come"],
    [120_000, { kind: "fresh", age_s: 120 }, "exactly the age allowed"],
    [120_001, { kind: "stale", age_s: 120.001 }, "a millisecond more"],
    [-200, { kind: "fresh", age_s: 0 }, "come after the tick took its time"],
    [-1_000_000, { kind: "never" }, "from an earlier run of the monotonic clock"],
    [Number.NaN, { kind: "never" }, "no number"],
  ])("%d ms after the last reading is %j (%s)", (after, expected) => {
    expect(freshness(rules, reading, reading.at_monotonicMs + after)).toEqual(expected);
  });

  it("is never without a reading", () => {
    expect(freshness(rules, undefined, 5000)).toEqual({ kind: "never" });
  });

  it("does not look at the civil clock, which may jump", () => {
    const jumped = { ...reading, at_epochMs: 0 };
    expect(freshness(rules, jumped, reading.at_monotonicMs + 1000)).toEqual({ kind: "fresh", age_s: 1 });
  });
});
