import { OutOfValidRangeError } from "../errors.js";

/** Lower triangle, row by row: row i has i + 1 entries. */
export type LowerTriangle = readonly (readonly number[])[];

/**
 * Lower factor L of a symmetric positive matrix, L L' = matrix; only its lower half is read.
 * @throws OutOfValidRangeError where the matrix is not positive definite
 * @see [DahlquistBjorck2008]
 */
export function choleskyFactor(matrix: readonly (readonly number[])[]): LowerTriangle {
  const factor: number[][] = [];
  for (let i = 0; i < matrix.length; i += 1) {
    const row: number[] = [];
    for (let j = 0; j <= i; j += 1) {
      const other = j === i ? row : (factor[j] ?? []);
      let sum = matrix[i]?.[j] ?? 0;
      for (let k = 0; k < j; k += 1) sum -= (row[k] ?? 0) * (other[k] ?? 0);
      if (j < i) row.push(sum / (other[j] ?? 1));
      else {
        if (!(sum > 0)) throw new OutOfValidRangeError("pivot of the matrix", sum, "", 0, Infinity);
        row.push(Math.sqrt(sum));
      }
    }
    factor.push(row);
  }
  return factor;
}

/** The solution z of L z = values: what was correlated by L L' comes out with variance one and no correlation. */
export function whiten(factor: LowerTriangle, values: readonly number[]): number[] {
  const whitened: number[] = [];
  factor.forEach((row, i) => {
    let sum = values[i] ?? 0;
    for (let k = 0; k < i; k += 1) sum -= (row[k] ?? 0) * (whitened[k] ?? 0);
    whitened.push(sum / (row[i] ?? 1));
  });
  return whitened;
}

/** Logarithm of the determinant of the matrix that was factored. */
export function logDeterminant(factor: LowerTriangle): number {
  return factor.reduce((sum, row, i) => sum + 2 * Math.log(row[i] ?? 1), 0);
}
