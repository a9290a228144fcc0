import { describe, expect, it } from "vitest";
import { createRandomSource } from "../../../../lib/simulation/random-source.js";
import { recordingGaps } from "../../../../lib/simulation/recording-gaps.js";
import { createRoomClimate } from "../../../../lib/simulation/room-climate.js";
import { createFlowWander, plannedOpenSpans } from "../../../../lib/simulation/simulated-use.js";
import { supplyFaultsAt } from "../../../../lib/simulation/supply-fault.js";

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
const steady = {
  skippedDay_ratio: 0,
  openedByHand_ratio: 0,
  closedByHand_ratio: 0,
  needleTouched_days: Infinity,
  needleTouch_ln: 0,
  flowWander_ln: 0,
};
const morning = [{ opens_min: 8 * 60, closes_min: 16 * 60 }];

describe("the spans in which the valve is open", () => {
  it("follow the wall clock over the change to summer time", () => {
    // 30 March 2025, 02:00 becomes 03:00 in Berlin.
    const spans = plannedOpenSpans(
      {
        windows: morning,
        timeZone: "Europe/Berlin",
        from_epochMs: Date.parse("2025-03-29T00:00:00Z"),
        to_epochMs: Date.parse("2025-03-31T00:00:00Z"),
        habits: steady,
      },
      createRandomSource(1),
    );
    expect(spans.slice(0, 2).map((span) => new Date(span.from_epochMs).toISOString())).toEqual([
      "2025-03-29T07:00:00.000Z",
      "2025-03-30T06:00:00.000Z",
    ]);
    expect(spans.every((span) => span.to_epochMs - span.from_epochMs === 8 * hour_ms)).toBe(true);
  });

  it("run over midnight where a window does, and are cut at the start", () => {
    const spans = plannedOpenSpans(
      {
        windows: [{ opens_min: 20 * 60, closes_min: 2 * 60 }],
        timeZone: "UTC",
        from_epochMs: Date.parse("2025-06-01T21:00:00Z"),
        to_epochMs: Date.parse("2025-06-02T12:00:00Z"),
        habits: steady,
      },
      createRandomSource(1),
    );
    expect(spans[0]).toEqual({
      from_epochMs: Date.parse("2025-06-01T21:00:00Z"),
      to_epochMs: Date.parse("2025-06-02T02:00:00Z"),
    });
  });

  it("lose the share of days that people skip, and never overlap", () => {
    const habits = { ...steady, skippedDay_ratio: 0.2, openedByHand_ratio: 0.5, closedByHand_ratio: 0.2 };
    const plan = {
      windows: morning,
      timeZone: "UTC",
      from_epochMs: Date.parse("2025-01-01T00:00:00Z"),
      to_epochMs: Date.parse("2025-12-31T00:00:00Z"),
    };
    const skipping = plannedOpenSpans(
      { ...plan, habits: { ...habits, openedByHand_ratio: 0 } },
      createRandomSource(3),
    );
    // 365 days, a fifth skipped: 292, standard deviation 7.6.
    expect(Math.abs(skipping.length - 292)).toBeLessThan(31);
    const spans = plannedOpenSpans({ ...plan, habits }, createRandomSource(3));
    spans.slice(1).forEach((span, index) => {
      expect(span.from_epochMs).toBeGreaterThan(spans[index]!.to_epochMs);
      expect(span.from_epochMs % (5 * 60_000)).toBe(0);
    });
  });
});

describe("what surrounds a supply", () => {
  it("the room swings by what was asked for, within 30 % from day to day", () => {
    const roomAt = createRoomClimate(
      {
        yearMean_degC: 21,
        season_K: 0,
        dailySwing_K: 2,
        wander_K: 0,
        wanderMemory_h: 48,
        warmestAtUtc_h: 15,
      },
      createRandomSource(1),
    );
    for (let day = 0; day < 20; day += 1) {
      // From noon to noon: a day's own swing begins six hours before its warmest hour.
      const shown = Array.from({ length: 96 }, (_, quarter) =>
        roomAt(day * day_ms + (quarter * hour_ms) / 4),
      );
      const swing_K = Math.max(...shown) - Math.min(...shown);
      expect(swing_K).toBeGreaterThan(1.3);
      expect(swing_K).toBeLessThan(2.7);
    }
  });

  it("the weather wanders with its own standard deviation, and the year is warm in July", () => {
    const spec = {
      yearMean_degC: 20,
      season_K: 3,
      dailySwing_K: 0,
      wander_K: 0,
      wanderMemory_h: 48,
      warmestAtUtc_h: 15,
    };
    const calm = createRoomClimate(spec, createRandomSource(1));
    expect(calm(Date.parse("2025-01-18T12:00:00Z"))).toBeLessThan(17.1);
    expect(calm(Date.parse("2025-07-19T12:00:00Z"))).toBeGreaterThan(22.9);
    const windy = createRoomClimate({ ...spec, season_K: 0, wander_K: 0.6 }, createRandomSource(1));
    const values = Array.from({ length: 4000 }, (_, index) => windy(index * 12 * hour_ms) - 20);
    const spread_K = Math.sqrt(values.reduce((sum, value) => sum + value ** 2, 0) / values.length);
    expect(Math.abs(spread_K / 0.6 - 1)).toBeLessThan(0.1);
  });

  it("the flow wanders by its share in a day, whatever the step", () => {
    const after40Days = (step_ms: number): number => {
      const openings = Array.from({ length: 300 }, (_, seed) => {
        const openingAt = createFlowWander({ ...steady, flowWander_ln: 0.01 }, 0, createRandomSource(seed));
        let opening = 1;
        for (let at_epochMs = step_ms; at_epochMs <= 40 * day_ms; at_epochMs += step_ms)
          opening = openingAt(at_epochMs);
        return Math.log(opening);
      });
      return Math.sqrt(openings.reduce((sum, value) => sum + value ** 2, 0) / openings.length);
    };
    const expected = 0.01 * Math.sqrt(40);
    expect(Math.abs(after40Days(day_ms) / expected - 1)).toBeLessThan(0.17);
    expect(Math.abs(after40Days(2 * hour_ms) / expected - 1)).toBeLessThan(0.17);
  });

  it("the recorder is silent about once in twelve days, for 2 hours to 3 days; a power cut is mended in half a day", () => {
    const gaps = recordingGaps(0, 3650 * day_ms, createRandomSource(1));
    expect(gaps.length).toBeGreaterThan(200);
    expect(gaps.length).toBeLessThan(370);
    gaps.forEach((gap, index) => {
      const lasts_ms = gap.to_epochMs - gap.from_epochMs;
      expect(lasts_ms).toBeGreaterThan(1.9 * hour_ms);
      expect(lasts_ms).toBeLessThan((gap.kind === "all-and-valve-closed" ? 12.2 : 72.2) * hour_ms);
      if (index > 0) expect(gap.from_epochMs).toBeGreaterThanOrEqual(gaps[index - 1]!.to_epochMs);
    });
    expect(new Set(gaps.map((gap) => gap.kind)).size).toBe(3);
  });

  it("faults hold from their onset to their end, openings multiply and leaks add", () => {
    const faults = [
      { kind: "vessel-leak", onset_epochMs: 10, until_epochMs: 20, leak_gPerDay: 1 },
      { kind: "vessel-leak", onset_epochMs: 15, leak_gPerDay: 0.5 },
      { kind: "needle-readjusted", onset_epochMs: 10, opening_ratio: 0.8 },
      { kind: "branch-closed", onset_epochMs: 10, share_ratio: 0.5 },
      { kind: "gauge-step", onset_epochMs: 30, step_bar: -0.5 },
    ] as const;
    expect(supplyFaultsAt(faults, 9)).toEqual({
      vesselLeak_gPerDay: 0,
      valveLeak_gPerH: 0,
      opening_ratio: 1,
      gaugeStep_bar: 0,
    });
    expect(supplyFaultsAt(faults, 15)).toMatchObject({ vesselLeak_gPerDay: 1.5, opening_ratio: 0.4 });
    expect(supplyFaultsAt(faults, 20).vesselLeak_gPerDay).toBe(0.5);
    expect(supplyFaultsAt(faults, 30).gaugeStep_bar).toBe(-0.5);
  });
});
