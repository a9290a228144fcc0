import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { choleskyFactor, logDeterminant, whiten } from "../../../../lib/numerics/cholesky.js";

describe("the triangular factor of a symmetric matrix", () => {
  // By hand: L = [[2], [6, 1], [-8, 5, 3]], the usual worked example of numerical analysis courses (from memory).
  const matrix = [
    [4, 12, -16],
    [12, 37, -43],
    [-16, -43, 98],
  ];

  it("is that of the worked example", () => {
    expect(choleskyFactor(matrix)).toEqual([[2], [6, 1], [-8, 5, 3]]);
  });

  it("gives the determinant", () => {
    expect(logDeterminant(choleskyFactor(matrix))).toBeCloseTo(Math.log(36), 12);
  });

  it("undoes the correlation it stands for", () => {
    // L z with z = 1, 2, 3.
    expect(whiten(choleskyFactor(matrix), [2, 8, 11])).toEqual([1, 2, 3]);
  });

  it("refuses a matrix that no variances can have", () => {
    const impossible = [
      [1, 2],
      [2, 1],
    ];
    expect(() => choleskyFactor(impossible)).toThrow(OutOfValidRangeError);
  });
});
