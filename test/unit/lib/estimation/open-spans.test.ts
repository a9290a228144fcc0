import { describe, expect, it } from "vitest";
import { createOpenSpans, dailyRule, forecastHorizon_days } from "../../../../lib/estimation/open-spans.js";

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
const berlin = (windows: readonly (readonly [number, number])[]) =>
  createOpenSpans(
    dailyRule(windows.map(([from, to]) => ({ opens_min: from * 60, closes_min: to * 60 }))),
    "Europe/Berlin",
  );

describe("open spans", () => {
  it.each([
    { windows: [[10, 18]], per: 8, because: "one window" },
    {
      windows: [
        [8, 11],
        [15, 20],
      ],
      per: 8,
      because: "two windows",
    },
    { windows: [[20, 4]], per: 8, because: "a window over midnight" },
    { windows: [[16, 24]], per: 8, because: "a window that closes at midnight" },
    { windows: [[0, 24]], per: 24, because: "all day" },
  ] as const)("counts $per hours a day: $because", ({ windows, per }) => {
    const spans = berlin(windows);
    const from_epochMs = Date.UTC(2026, 5, 1);
    expect(spans.openPerDay_h).toBeCloseTo(per, 9);
    expect(spans.openBetween_h(from_epochMs, from_epochMs + 70 * day_ms)).toBeCloseTo(70 * per, 9);
  });

  it("follows the wall clock over the change to summer time", () => {
    const spans = berlin([[10, 18]]);
    expect(spans.hasOpenAt(Date.UTC(2026, 2, 28, 9, 30))).toBe(true);
    // 29 March 2026: the clock in Berlin goes forward; 10:00 is then 08:00 UTC.
    expect(spans.hasOpenAt(Date.UTC(2026, 2, 29, 8, 30))).toBe(true);
    expect(spans.hasOpenAt(Date.UTC(2026, 2, 28, 8, 30))).toBe(false);
  });

  it("loses an hour of a night window when the clock goes forward in it", () => {
    const spans = berlin([[0, 6]]);
    expect(spans.openBetween_h(Date.UTC(2026, 2, 28, 23), Date.UTC(2026, 2, 29, 22))).toBeCloseTo(5, 9);
  });

  it("finds the instant after so many open hours, as the inverse of counting them", () => {
    const spans = berlin([
      [8, 11],
      [15, 20],
    ]);
    const from_epochMs = Date.UTC(2026, 2, 20, 12);
    for (const open_h of [0.5, 3, 8, 77.25, 400]) {
      const at_epochMs = spans.instantAfter(from_epochMs, open_h);
      expect(spans.openBetween_h(from_epochMs, at_epochMs)).toBeCloseTo(open_h, 9);
    }
    expect(spans.instantAfter(from_epochMs, 0)).toBe(from_epochMs);
  });

  it("looks no further than its horizon", () => {
    const spans = berlin([[10, 11]]);
    const from_epochMs = Date.UTC(2026, 0, 1);
    expect(spans.instantAfter(from_epochMs, 1e6)).toBe(from_epochMs + forecastHorizon_days * day_ms);
  });

  it("is always open without a rule", () => {
    const spans = createOpenSpans(undefined, "Etc/UTC");
    expect(spans.hasOpenAt(0)).toBe(true);
    expect(spans.openBetween_h(0, 100 * day_ms)).toBeCloseTo(2400, 6);
  });
});
