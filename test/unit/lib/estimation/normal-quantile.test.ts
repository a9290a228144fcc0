import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { normalQuantile, quasiRandomNormals } from "../../../../lib/estimation/normal-quantile.js";
import {
  normalQuantile80,
  normalQuantile90,
  normalQuantile95,
} from "../../../../lib/numerics/normal-distribution.js";

describe("normal quantiles", () => {
  // Standard tables of the normal distribution, as in any handbook of statistics.
  it.each([
    { share: 0.5, deviate: 0 },
    { share: 0.8413447, deviate: 1 },
    { share: 0.9, deviate: 1.2815516 },
    { share: 0.975, deviate: 1.959964 },
    { share: 0.999, deviate: 3.0902323 },
    { share: 0.001, deviate: -3.0902323 },
    { share: 0.1, deviate: -1.2815516 },
  ])("finds $deviate under which $share lies", ({ share, deviate }) => {
    expect(normalQuantile(share)).toBeCloseTo(deviate, 5);
  });

  it("agrees with the half-widths of the intervals that hold 80, 90 and 95 of 100", () => {
    expect(normalQuantile80).toBeCloseTo(normalQuantile(0.9), 6);
    expect(normalQuantile90).toBeCloseTo(normalQuantile(0.95), 6);
    expect(normalQuantile95).toBeCloseTo(normalQuantile(0.975), 6);
  });

  it("spreads points evenly: the mean of each dimension near 0, its variance near 1", () => {
    const points = Array.from({ length: 400 }, (_, k) => quasiRandomNormals(k + 1, 12));
    for (let dimension = 0; dimension < 12; dimension += 1) {
      const values = points.map((point) => point[dimension]!);
      const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
      const variance = values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / values.length;
      expect(Math.abs(mean)).toBeLessThan(0.1);
      expect(Math.abs(variance - 1)).toBeLessThan(0.15);
    }
  });

  it("gives each dimension that is asked for, or refuses: one that is missing would pass as zero", () => {
    expect(quasiRandomNormals(61, 18)).toHaveLength(18);
    expect(() => quasiRandomNormals(61, 19)).toThrow(OutOfValidRangeError);
  });
});
