import { describe, expect, it } from "vitest";
import { fitLeastSquares } from "../../../../lib/numerics/least-squares.js";

describe("least squares", () => {
  it("agrees with the textbook formula for a straight line, slope and standard errors", () => {
    // Normal equations by hand: x = 0..4, y = 1, 3, 4, 8, 9: slope 2.1, intercept 0.8, sum of squares 1.9.
    const y = [1, 3, 4, 8, 9];
    const fit = fitLeastSquares({
      start: [0, 0],
      minimum: [-100, -100],
      maximum: [100, 100],
      residuals: ([intercept = 0, slope = 0]) => y.map((value, x) => intercept + slope * x - value),
    });
    if (fit.kind !== "fitted") throw new Error("not fitted");
    expect(fit.parameters[0]?.value).toBeCloseTo(0.8, 4);
    expect(fit.parameters[1]?.value).toBeCloseTo(2.1, 4);
    expect(fit.sumOfSquares).toBeCloseTo(1.9, 6);
    // Unit standard deviations, for the residuals are smaller: variances 3/5 and 1/10, correlation -2 / sqrt(6).
    expect(fit.inflation).toBe(1);
    expect(fit.parameters[0]?.sigma).toBeCloseTo(Math.sqrt(0.6), 4);
    expect(fit.parameters[1]?.sigma).toBeCloseTo(Math.sqrt(0.1), 4);
    expect(fit.correlation[0]?.[1]).toBeCloseTo(-2 / Math.sqrt(6), 4);
  });

  it("finds the curved valley's floor", () => {
    // Rosenbrock's function, least at 1, 1.
    const fit = fitLeastSquares({
      start: [-1.2, 1],
      minimum: [-5, -5],
      maximum: [5, 5],
      residuals: ([a = 0, b = 0]) => [10 * (b - a * a), 1 - a],
    });
    if (fit.kind !== "fitted") throw new Error("not fitted");
    expect(fit.parameters[0]?.value).toBeCloseTo(1, 3);
    expect(fit.parameters[1]?.value).toBeCloseTo(1, 3);
  });

  it("stops at a bound, says so, and still fits the other parameter", () => {
    const fit = fitLeastSquares({
      start: [0, 0],
      minimum: [-1, -10],
      maximum: [1, 10],
      residuals: ([a = 0, b = 0]) => [a - 3, a + b - 2],
    });
    if (fit.kind !== "fitted") throw new Error("not fitted");
    expect(fit.parameters[0]).toMatchObject({ value: 1, atBound: true });
    expect(fit.parameters[1]?.value).toBeCloseTo(1, 4);
    expect(fit.parameters[1]?.atBound).toBe(false);
  });

  it("gives a parameter without effect an error beyond any use", () => {
    const fit = fitLeastSquares({
      start: [0.5, 0.5],
      minimum: [-5, -5],
      maximum: [5, 5],
      residuals: ([a = 0]) => [a - 1, a - 1.1],
    });
    if (fit.kind !== "fitted") throw new Error("not fitted");
    expect(fit.parameters[0]?.value).toBeCloseTo(1.05, 4);
    expect(fit.parameters[1]?.sigma).toBeGreaterThan(100);
  });
});
