export interface FittedParameter {
  readonly value: number;
  /** One standard deviation, by the residuals' own size where that is larger than stated. */
  readonly sigma: number;
  readonly atBound: boolean;
}

export interface LeastSquaresFit {
  readonly kind: "fitted";
  readonly parameters: readonly FittedParameter[];
  /** Correlation of each pair of parameters. */
  readonly correlation: readonly (readonly number[])[];
  readonly sumOfSquares: number;
  /** Sum of squares over the degrees of freedom, 1 or more: the variances are widened by it. */
  readonly inflation: number;
}

/** From this start no minimum was reached in the steps allowed. */
export interface LeastSquaresFailure {
  readonly kind: "not-converged";
}

export interface LeastSquaresProblem {
  readonly start: readonly number[];
  readonly minimum: readonly number[];
  readonly maximum: readonly number[];
  /** Differences between model and record, each over its standard deviation; as many every time. */
  readonly residuals: (parameters: readonly number[]) => readonly number[];
}

const iterationLimit = 60;
/** Parameters are logarithms of what is sought: steps of 0.1 % for the slopes, done when nothing moves by 1e-5. */
const slopeStep = 1e-3;
const stepTolerance = 1e-5;

function sumOfSquares(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value * value, 0);
}

/** Inverse of a symmetric positive matrix by Gauss-Jordan elimination; undefined where it is singular. */
function inverseOf(matrix: readonly (readonly number[])[]): readonly (readonly number[])[] | undefined {
  const size = matrix.length;
  const rows = matrix.map((row, i) => [...row, ...row.map((_, j) => (i === j ? 1 : 0))]);
  for (let pivot = 0; pivot < size; pivot += 1) {
    const row = rows[pivot];
    const head = row?.[pivot] ?? 0;
    if (row === undefined || !(head > 1e-12 * (matrix[pivot]?.[pivot] ?? 0))) return undefined;
    for (let column = 0; column < 2 * size; column += 1) row[column] = (row[column] ?? 0) / head;
    for (const other of rows) {
      if (other === row) continue;
      const factor = other[pivot] ?? 0;
      for (let column = 0; column < 2 * size; column += 1) {
        other[column] = (other[column] ?? 0) - factor * (row[column] ?? 0);
      }
    }
  }
  return rows.map((row) => row.slice(size));
}

/**
 * Least squares with bounds on parameters that are logarithms: damped Gauss-Newton steps, cut at the bounds, 60 at most.
 * @see [Marquardt1963]
 */
export function fitLeastSquares(problem: LeastSquaresProblem): LeastSquaresFit | LeastSquaresFailure {
  const { minimum, maximum, residuals } = problem;
  const bounded = (values: readonly number[]): number[] =>
    values.map((value, k) => Math.min(maximum[k] ?? value, Math.max(minimum[k] ?? value, value)));
  let at = bounded(problem.start);
  let here = residuals(at);
  let damping = 1e-2;
  for (let iteration = 0; iteration < iterationLimit; iteration += 1) {
    const base = at;
    const from = here;
    const slopes = base.map((value, k) => {
      const sign = value + slopeStep > (maximum[k] ?? Infinity) ? -1 : 1;
      const moved = residuals(base.map((other, j) => (j === k ? other + sign * slopeStep : other)));
      return moved.map((residual, i) => (sign * (residual - (from[i] ?? 0))) / slopeStep);
    });
    const dot = (a: readonly number[], b: readonly number[]): number =>
      a.reduce((sum, value, i) => sum + value * (b[i] ?? 0), 0);
    const normal = slopes.map((a) => slopes.map((b) => dot(a, b)));
    const gradient = slopes.map((a) => dot(a, from));
    // A parameter that its bound holds takes no part, so that the others move freely.
    const held = base.map(
      (value, k) =>
        (value <= (minimum[k] ?? -Infinity) && (gradient[k] ?? 0) > 0) ||
        (value >= (maximum[k] ?? Infinity) && (gradient[k] ?? 0) < 0),
    );
    let moved = 0;
    for (let attempt = 0; attempt < 12; attempt += 1) {
      const damped = normal.map((row, i) =>
        row.map((value, j) =>
          i === j ? value * (1 + damping) + 1e-9 : held[i] === true || held[j] === true ? 0 : value,
        ),
      );
      const inverse = inverseOf(damped);
      if (inverse === undefined) {
        damping *= 10;
        continue;
      }
      const next = bounded(
        base.map((value, i) =>
          held[i] === true
            ? value
            : value -
              dot(
                inverse[i] ?? [],
                gradient.map((g, j) => (held[j] === true ? 0 : g)),
              ),
        ),
      );
      const there = residuals(next);
      if (sumOfSquares(there) <= sumOfSquares(from)) {
        moved = Math.max(...next.map((value, k) => Math.abs(value - (base[k] ?? 0))));
        at = next;
        here = there;
        damping = Math.max(1e-6, damping / 5);
        break;
      }
      damping *= 5;
    }
    if (moved < stepTolerance) {
      return summary(at, here, normal, problem);
    }
  }
  return { kind: "not-converged" };
}

function summary(
  at: readonly number[],
  residuals: readonly number[],
  normal: readonly (readonly number[])[],
  problem: LeastSquaresProblem,
): LeastSquaresFit {
  const total = sumOfSquares(residuals);
  const inflation = Math.max(1, total / Math.max(1, residuals.length - at.length));
  // So little is added to the diagonal that only a parameter without any effect feels it.
  const covariance = inverseOf(
    normal.map((row, i) => row.map((value, j) => (i === j ? value + 1e-6 : value))),
  );
  const variance = at.map((_, k) => inflation * (covariance?.[k]?.[k] ?? Infinity));
  return {
    kind: "fitted",
    parameters: at.map((value, k) => ({
      value,
      sigma: Math.sqrt(variance[k] ?? Infinity),
      atBound: value <= (problem.minimum[k] ?? -Infinity) || value >= (problem.maximum[k] ?? Infinity),
    })),
    correlation: at.map((_, i) =>
      at.map(
        (__, j) =>
          (inflation * (covariance?.[i]?.[j] ?? 0)) /
          Math.sqrt((variance[i] ?? Infinity) * (variance[j] ?? Infinity)),
      ),
    ),
    sumOfSquares: total,
    inflation,
  };
}
