import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { hoursToLimit } from "../../../../lib/tank/overdose.js";
import { integrate } from "../../../support/runge-kutta.js";

const overdose = {
  co2_mgPerL: 70,
  co2Sigma_ln: 0.2,
  limit_mgPerL: 40,
  k_perH: 0.2,
  kSigma_ln: 0.1,
  settledCo2_mgPerL: 2,
  settledSigma_ln: 0.2,
};

describe("hours until an overdose is below the alarm limit", () => {
  it("are those of the decay by stepwise integration", () => {
    const { hours_h } = hoursToLimit(overdose).asItIs;
    expect(integrate(70, hours_h, (c) => -0.2 * (c - 2))).toBeCloseTo(40, 6);
  });

  it("are a range that holds the uncertainty of the readings", () => {
    const { asItIs } = hoursToLimit(overdose);
    const surer = hoursToLimit({ ...overdose, co2Sigma_ln: 0.05 }).asItIs;
    expect(asItIs.hoursLow80_h).toBeLessThan(asItIs.hours_h);
    expect(asItIs.hoursHigh80_h).toBeGreaterThan(asItIs.hours_h);
    expect(surer.hoursHigh80_h - surer.hoursLow80_h).toBeLessThan(
      0.5 * (asItIs.hoursHigh80_h - asItIs.hoursLow80_h),
    );
  });

  it("shrink to a fifth or so under an air pump", () => {
    const { asItIs, aerated } = hoursToLimit(overdose);
    expect(aerated.hours_h).toBeLessThan(asItIs.hours_h / 4);
    expect(aerated.hours_h).toBeGreaterThan(asItIs.hours_h / 7);
  });

  it("are none where the limit is not passed, but may be some where it is uncertain", () => {
    const { asItIs } = hoursToLimit({ ...overdose, co2_mgPerL: 38 });
    expect(asItIs.hours_h).toBe(0);
    expect(asItIs.hoursHigh80_h).toBeGreaterThan(0);
  });

  it("are without end in a tank that rests above the limit, and an air pump ends it", () => {
    const crowded = { ...overdose, settledCo2_mgPerL: 45, settledSigma_ln: 0.05 };
    expect(hoursToLimit(crowded).asItIs.hours_h).toBe(Infinity);
    expect(hoursToLimit(crowded).aerated.hours_h).toBeLessThan(3);
  });

  it("refuse a limit that protects nothing", () => {
    expect(() => hoursToLimit({ ...overdose, limit_mgPerL: 500 })).toThrow(OutOfValidRangeError);
  });
});
