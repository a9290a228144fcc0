import { describe, expect, it } from "vitest";
import {
  normalAboveZero,
  normalCumulative,
  normalQuantile80,
  normalQuantile90,
  normalQuantile95,
} from "../../../../lib/numerics/normal-distribution.js";

describe("the normal distribution", () => {
  // Abramowitz & Stegun (1964), table 26.1.
  it.each([
    [0, 0.5],
    [0.5, 0.6914624613],
    [1, 0.8413447461],
    [1.64, 0.9494974165],
    [2, 0.9772498681],
    [3, 0.998650102],
    [-1, 0.1586552539],
    [-3, 0.001349898],
    [-12, 0],
    [12, 1],
  ])("has at z = %d %d of its probability below", (z, expected) => {
    expect(Math.abs(normalCumulative(z) - expected)).toBeLessThan(1.1e-7);
  });

  // Half-normal: mean sqrt(2 / pi), variance 1 - 2 / pi. At z = 1 and 2 density over tail from Abramowitz & Stegun, table 26.1.
  it.each([
    { z: 0, mean: 0.7978846, variance: 0.3633802 },
    { z: 1, mean: 0.2419707 / 0.1586553 - 1, variance: 0.1990976 },
    { z: 2, mean: 0.053991 / 0.0227501 - 2, variance: 0.1142792 },
  ])("has, cut off at $z deviations above its middle, a mean of $mean", ({ z, mean, variance }) => {
    const cut = normalAboveZero({ value: -3 * z, deviation: 3 });
    expect(cut.value / 3).toBeCloseTo(mean, 4);
    expect(cut.variance / 9).toBeCloseTo(variance, 4);
  });

  it("stays above zero and narrow however far below its middle lay", () => {
    for (const value of [-10, -50, -500]) {
      const cut = normalAboveZero({ value, deviation: 1 });
      // The tail of a normal distribution is nearly exponential there.
      expect(cut.value * -value).toBeGreaterThan(0.97);
      expect(cut.value * -value).toBeLessThan(1);
      expect(cut.variance).toBeGreaterThanOrEqual(0);
      expect(cut.variance).toBeLessThan(cut.value ** 2 * 1.01);
    }
  });

  it("has 80, 90 and 95 % within the intervals used", () => {
    expect(2 * normalCumulative(normalQuantile80) - 1).toBeCloseTo(0.8, 6);
    expect(2 * normalCumulative(normalQuantile90) - 1).toBeCloseTo(0.9, 6);
    expect(2 * normalCumulative(normalQuantile95) - 1).toBeCloseTo(0.95, 6);
  });
});
