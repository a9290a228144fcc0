import { describe, expect, it } from "vitest";
import {
  choleskyOf,
  correct,
  diagonalMatrix,
  narrowed,
  propagateRow,
  varianceAlong,
} from "../../../../lib/estimation/symmetric-matrix.js";

describe("covariance", () => {
  it("takes a number in as the textbook's scalar case: gain P/(P + R)", () => {
    const mean = [10];
    const matrix = diagonalMatrix([2]);
    const { innovationVariance } = correct(mean, matrix, 1, {
      innovation: 3,
      gradient: [1],
      noiseVariance: 12,
    });
    expect(innovationVariance).toBe(16);
    expect(mean[0]).toBeCloseTo(10 + 3 / 4, 12);
    expect(matrix[0]).toBeCloseTo(3, 12);
  });

  it("takes what is known of one component by itself as an exact observation of it would", () => {
    const matrix = [4, 1.5, 0.5, 1.5, 2, 0.3, 0.5, 0.3, 1];
    const [observed, told] = [[...matrix], [...matrix]];
    const [byReading, byKnowledge] = [
      [1, 2, 3],
      [1, 2, 3],
    ];
    correct(byReading, observed, 3, { innovation: 0.7, gradient: [0, 1, 0], noiseVariance: 1e-12 });
    narrowed(byKnowledge, told, 3, { component: 1, value: 2.7, variance: 0 });
    byReading.forEach((value, k) => expect(byKnowledge[k]).toBeCloseTo(value, 9));
    observed.forEach((value, k) => expect(told[k]).toBeCloseTo(value, 9));
  });

  it("moves what was never seen along with what it depends on", () => {
    const mean = [0, 0];
    const matrix = diagonalMatrix([1, 1]);
    // Position after one unit of time at an unknown speed.
    propagateRow(matrix, 2, {
      component: 0,
      from: [
        [0, 1],
        [1, 1],
      ],
    });
    expect(matrix).toEqual([2, 1, 1, 1]);
    correct(mean, matrix, 2, { innovation: 2, gradient: [1, 0], noiseVariance: 2 });
    expect(mean).toEqual([1, 0.5]);
    expect(matrix).toEqual([1, 0.5, 0.5, 0.75]);
  });

  it("gives the variance of a sum, correlation counted", () => {
    expect(varianceAlong([4, -1, -1, 9], 2, [1, 1])).toBe(11);
    expect(varianceAlong([4, -1, -1, 9], 2, [1, -1])).toBe(15);
  });

  it("factors into a lower triangle whose square is the matrix, also where a component has no variance", () => {
    const matrix = [4, 2, 0, 2, 10, 0, 0, 0, 0];
    const lower = choleskyOf(matrix, 3);
    const square = matrix.map((_, at) => {
      const row = Math.floor(at / 3);
      const column = at % 3;
      return [0, 1, 2].reduce((sum, k) => sum + lower[row * 3 + k]! * lower[column * 3 + k]!, 0);
    });
    square.forEach((value, at) => {
      expect(value).toBeCloseTo(matrix[at]!, 12);
    });
  });
});
