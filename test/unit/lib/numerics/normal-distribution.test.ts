import { describe, expect, it } from "vitest";
import {
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

  it("has 80, 90 and 95 % within the intervals used", () => {
    expect(2 * normalCumulative(normalQuantile80) - 1).toBeCloseTo(0.8, 6);
    expect(2 * normalCumulative(normalQuantile90) - 1).toBeCloseTo(0.9, 6);
    expect(2 * normalCumulative(normalQuantile95) - 1).toBeCloseTo(0.95, 6);
  });
});
