import { describe, expect, it } from "vitest";
import { runOutText, supplyBrief, supplyLines } from "../../../../daemon/supply/supply-text.js";
import type { VesselSupply } from "../../../../daemon/supply/vessel-supply.js";
import type { SupplyEstimate } from "../../../../lib/estimation/supply-estimate.js";
import { suppliedCharge } from "../../../support/supply-trace-rows.js";

const now_epochMs = Date.parse("2026-12-01T12:00:00+01:00");
const day_ms = 86_400_000;
const timeZone = "Europe/Berlin";
const grams = (value_g: number) => ({
  value_g,
  low80_g: value_g - 1,
  high80_g: value_g + 1,
  low95_g: value_g - 2,
  high95_g: value_g + 2,
});
const estimateOf = (
  [low_days, median_days, high_days]: readonly [number, number, number],
  leak_gPerDay = 0,
): SupplyEstimate => ({
  at_epochMs: now_epochMs,
  charge_g: 42,
  remaining: grams(40),
  deliverable: grams(27),
  leak_gPerDay: { value: leak_gPerDay, deviation: 0.1 },
  flow_gPerH: { value: 0.3, deviation: 0.05 },
  contents_degC: { value: 20, deviation: 0.5 },
  runOut: {
    low80_epochMs: now_epochMs + low_days * day_ms,
    median_epochMs: now_epochMs + median_days * day_ms,
    high80_epochMs: now_epochMs + high_days * day_ms,
  },
  dosingLeft_days: median_days,
  phase: "dosing",
  warnings: [],
});
const supplyOf = (estimate: SupplyEstimate): VesselSupply => ({
  vesselId: "cellar",
  charge: { from: "journal", closedAt_epochMs: 0, supplied: suppliedCharge() },
  told: {
    estimate,
    source: "by eye",
    removed_g: { value: 2, deviation: 1 },
    pressureRead_epochMs: now_epochMs,
    use: { total_gPerDay: 1.4, byTank: [] },
    limits: { isLow: false, isVeryLow: false },
    refill: undefined,
    surge: undefined,
    pressurising: undefined,
  },
  failure: undefined,
});

describe("what is told of a charge", () => {
  it.each([
    {
      days: [8, 17, 215] as const,
      says: "may run out from 2026-12-09 on; on which day is not known yet: too little of its use has been seen",
      brief: "40 g",
      because: "on the first day an end between a week and half a year is no day to plan by",
    },
    {
      days: [6, 11, 26] as const,
      says: "may run out from 2026-12-07 on; on which day is not known yet: too little of its use has been seen",
      brief: "40 g",
      because: "two days of use and a slow one look alike so far",
    },
    {
      days: [8, 10, 13] as const,
      says: "runs out about 2026-12-11, in 10 days (80 %: 2026-12-09 to 2026-12-14)",
      brief: "40 g until 12-11",
      because: "a day known to a few days can be planned by",
    },
    {
      days: [0.2, 0.5, 1] as const,
      says: "runs out about 2026-12-02, in 12 hours (80 %: 2026-12-01 to 2026-12-02)",
      brief: "40 g until 12-02",
      because: "near its end hours count, and no minute is known",
    },
  ])("is $says, as $because", ({ days, says, brief }) => {
    const estimate = estimateOf(days);
    expect(runOutText(estimate, now_epochMs, timeZone)).toBe(says);
    expect(supplyBrief(supplyOf(estimate), timeZone)).toBe(brief);
  });

  it.each([
    { leak_gPerDay: 6.4e-7, says: "use 1.4 g a day, leak none seen" },
    { leak_gPerDay: 0.000037, says: "use 1.4 g a day, leak none seen" },
    { leak_gPerDay: 0.12, says: "use 1.4 g a day, leak 0.12 g a day" },
  ])("calls a leak of $leak_gPerDay g a day: $says", ({ leak_gPerDay, says }) => {
    const lines = supplyLines(supplyOf(estimateOf([8, 10, 13], leak_gPerDay)), { now_epochMs, timeZone });
    expect(lines).toContain(`  ${says}`);
  });
});
