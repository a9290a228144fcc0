import { describe, expect, it } from "vitest";
import { normalSpread } from "../../../../lib/numerics/normal-spread.js";

describe("the spread of a result", () => {
  it.each([
    // Quantiles of the standard normal distribution, any table: 1.2816 at 0.9, 1.6449 at 0.95.
    { variables: 1, within: 0.05 },
    { variables: 2, within: 0.05 },
    { variables: 3, within: 0.05 },
    { variables: 5, within: 0.05 },
  ])("of a sum of $variables normal variables is that of the table", ({ variables, within }) => {
    const spread = normalSpread(variables, (z) => z.reduce((sum, value) => sum + value, 0));
    const sigma = Math.sqrt(variables);
    expect(Math.abs(spread.quantile(0.5))).toBeLessThan(1e-9);
    expect(Math.abs(spread.quantile(0.9) / sigma - 1.2816)).toBeLessThan(within);
    expect(Math.abs(spread.quantile(0.05) / sigma + 1.6449)).toBeLessThan(within);
    expect(spread.finiteShare).toBe(1);
  });

  it("of a product is log-normal", () => {
    const spread = normalSpread(2, ([a = 0, b = 0]) => Math.exp(0.3 * a) * Math.exp(0.4 * b));
    expect(spread.quantile(0.9)).toBeCloseTo(Math.exp(0.5 * 1.2816), 1);
  });

  it("counts what is out of reach as the largest", () => {
    const spread = normalSpread(1, ([a = 0]) => (a > 0.75 ? Infinity : a));
    // 22.7 % of the normal distribution lie above 0.75.
    expect(Math.abs(spread.finiteShare - 0.773)).toBeLessThan(0.01);
    expect(spread.quantile(0.9)).toBe(Infinity);
    expect(spread.quantile(0.5)).toBeLessThan(0.2);
  });
});
