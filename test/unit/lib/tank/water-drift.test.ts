import { describe, expect, it } from "vitest";
import { replacedShare, waterDriftSigma_ln } from "../../../../lib/tank/water-drift.js";

describe("the share of the water that was replaced", () => {
  it.each([
    [[], 0, "no change"],
    [[50], 0.5, "half"],
    [[50, 50], 0.75, "half, and half of what was then there"],
    [[100], 1, "all of it"],
    [[150], 1, "more than there is"],
  ])("of %j L in 100 L is %f: %s", (changed_L, share) => {
    expect(replacedShare(changed_L, 100)).toBeCloseTo(share, 12);
  });
});

describe("what a hardness may have moved since its test", () => {
  it.each<[number | undefined, number, number, string]>([
    [0, 0, 0, "a test of this minute"],
    [7, 0, 0.05, "a week"],
    [28, 0, 0.1, "four weeks: the root of time"],
    [0, 1, 0.3, "all new water that nobody tested"],
    [28, 0.5, Math.hypot(0.1, 0.15), "both"],
    [undefined, 0, 0.05 * Math.sqrt(8), "no date counts as eight weeks"],
  ])("after %s days and with %f of new water is %f: %s", (age_days, replaced_ratio, sigma) => {
    expect(waterDriftSigma_ln({ age_days, replaced_ratio })).toBeCloseTo(sigma, 12);
  });

  it("refuses a share beyond the whole and a test of tomorrow", () => {
    expect(() => waterDriftSigma_ln({ age_days: 1, replaced_ratio: 1.1 })).toThrow("share of the water");
    expect(() => waterDriftSigma_ln({ age_days: -1, replaced_ratio: 0 })).toThrow("age of the measurement");
  });
});
