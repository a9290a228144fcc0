import { beforeAll, describe, expect, it } from "vitest";
import { runEnsemble, summarise, type MethodSummary, type ScoredCharge } from "../support/charge-ensemble.js";
import { limits } from "../support/charge-report.js";
import { proportionalToCorrectedGauge, proportionalToGauge } from "../support/naive-supply.js";
import { recursiveEstimator } from "../support/supply-under-test.js";

/**
 * The estimator against charges of a simulation with physics of its own, errors of model and filling drawn anew for each.
 * Forty of them here; a command of its own runs five hundred and prints all figures. Nothing here is measured: the
 * simulation's pressures are held against published equilibria in test/reference.
 */

const firstSeed = 1001;
const methods = [recursiveEstimator, proportionalToGauge, proportionalToCorrectedGauge];

/** Of forty charges the 95th percentile is that of two; the share within a limit says more. */
const shareForetoldWithin = (charges: readonly ScoredCharge[], limit_ratio: number): number =>
  charges.filter(
    (charge) => Math.abs(charge.methods[0]?.at.half?.runOutError_ratio ?? Infinity) <= limit_ratio,
  ).length / charges.length;

const summaryOf = (charges: readonly ScoredCharge[]): readonly [MethodSummary, ...MethodSummary[]] => {
  const [ours, ...usual] = summarise(charges);
  expect(ours).toBeDefined();
  return [ours!, ...usual];
};

describe("forty simulated charges, the gauge read by a device", () => {
  let charges: readonly ScoredCharge[];
  let ours: MethodSummary;
  let usual: readonly MethodSummary[];

  beforeAll(() => {
    const conditions = { readBy: "device", mostDays: 25 } as const;
    charges = runEnsemble({ charges: 40, firstSeed, conditions, methods });
    [ours, ...usual] = summaryOf(charges);
  }, 120_000);

  it("gives an answer for each of them", () => {
    expect(ours.thrown).toEqual([]);
    expect(ours.at.half.charges).toBe(40);
    expect(ours.at.quarter.charges).toBe(40);
  });

  it("holds the grams left in its 80 % intervals 65 to 92 times in a hundred", () => {
    expect(ours.overTime.coverage80_ratio).toBeGreaterThan(0.65);
    expect(ours.overTime.coverage80_ratio).toBeLessThan(0.92);
    expect(ours.overTime.coverage95_ratio).toBeGreaterThan(0.85);
  });

  it("knows the grams left at half to 4 points", () => {
    expect(ours.at.half.halfWidth80_percent).toBeLessThan(limits.device.halfWidthAtHalf_percent);
    expect(ours.at.half.remainingError_percent.median).toBeLessThan(
      limits.device.halfWidthAtHalf_percent / 2,
    );
  });

  it("foretells the run-out at half: the median within its limit, nine in ten within the limit of the 95th percentile", () => {
    expect(ours.at.half.runOutError_ratio.median).toBeLessThan(limits.device.runOutMedian_ratio);
    expect(shareForetoldWithin(charges, limits.device.runOutP95_ratio)).toBeGreaterThanOrEqual(0.9);
  });

  it("is at most half as far off the deliverable as the better of the methods that people use", () => {
    for (const stage of ["half", "quarter"] as const) {
      const best = Math.min(...usual.map((method) => method.at[stage].deliverableError_percent.median));
      expect(ours.at[stage].deliverableError_percent.median).toBeLessThan(limits.ofUsualMethods_ratio * best);
    }
  });
});

describe("twenty simulated charges of three weeks and more, the gauge read by eye twice a week", () => {
  let charges: readonly ScoredCharge[];
  let ours: MethodSummary;
  let usual: readonly MethodSummary[];

  beforeAll(() => {
    const conditions = { readBy: "eye", leastDays: 21, mostDays: 45 } as const;
    charges = runEnsemble({ charges: 20, firstSeed, conditions, methods });
    [ours, ...usual] = summaryOf(charges);
  }, 120_000);

  it("foretells the run-out at half: the median within its limit, 17 of 20 within the limit of the 95th percentile", () => {
    expect(ours.thrown).toEqual([]);
    expect(ours.at.half.runOutError_ratio.median).toBeLessThan(limits.eye.runOutMedian_ratio);
    expect(shareForetoldWithin(charges, limits.eye.runOutP95_ratio)).toBeGreaterThanOrEqual(0.85);
  });

  it("is at most half as far off as the better of the methods that people use", () => {
    const best = Math.min(...usual.map((method) => method.at.half.remainingError_percent.median));
    expect(ours.at.half.remainingError_percent.median).toBeLessThan(limits.ofUsualMethods_ratio * best);
  });
});
