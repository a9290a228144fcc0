/**
 * The few operations on a covariance that a filter needs. A matrix is its rows one after the other, whole and symmetric;
 * what is called matrix or mean and is not readonly is changed in place.
 */

/** Room for one column while an operation lasts: nothing in it outlives the call. */
const column = new Float64Array(64);

export function diagonalMatrix(deviations: readonly number[]): number[] {
  const size = deviations.length;
  const matrix = new Array<number>(size * size).fill(0);
  deviations.forEach((deviation, k) => (matrix[k * size + k] = deviation * deviation));
  return matrix;
}

/** One component of the next state as a sum of components of this one: row `component` of the transition. */
export interface TransitionRow {
  readonly component: number;
  readonly from: readonly (readonly [component: number, factor: number])[];
}

/** The covariance after one component has become a linear sum of components. */
export function propagateRow(matrix: number[], size: number, row: TransitionRow): void {
  const { component, from } = row;
  const next = column.fill(0);
  for (const [source, factor] of from) {
    const offset = source * size;
    for (let k = 0; k < size; k += 1) next[k] = (next[k] ?? 0) + factor * (matrix[offset + k] ?? 0);
  }
  let variance = 0;
  for (const [source, factor] of from) variance += factor * (next[source] ?? 0);
  next[component] = variance;
  for (let k = 0; k < size; k += 1) {
    matrix[component * size + k] = next[k] ?? 0;
    matrix[k * size + component] = next[k] ?? 0;
  }
}

export function addVariance(matrix: number[], size: number, component: number, variance: number): void {
  const at = component * size + component;
  matrix[at] = (matrix[at] ?? 0) + variance;
}

/** Variance of a linear sum of components. */
export function varianceAlong(matrix: readonly number[], size: number, gradient: readonly number[]): number {
  let sum = 0;
  for (let i = 0; i < size; i += 1) {
    const g = gradient[i] ?? 0;
    if (g === 0) continue;
    for (let j = 0; j < size; j += 1) sum += g * (gradient[j] ?? 0) * (matrix[i * size + j] ?? 0);
  }
  return Math.max(0, sum);
}

export interface ScalarObservation {
  /** Observed less expected. */
  readonly innovation: number;
  readonly gradient: readonly number[];
  readonly noiseVariance: number;
}

export interface Correction {
  readonly innovationVariance: number;
  readonly logLikelihood: number;
}

/** Takes one observed number into mean and covariance: the Kalman update. @see [Kalman1960] */
export function correct(
  mean: number[],
  matrix: number[],
  size: number,
  observation: ScalarObservation,
): Correction {
  const { gradient, innovation, noiseVariance } = observation;
  const cross = column.fill(0);
  for (let j = 0; j < size; j += 1) {
    const g = gradient[j] ?? 0;
    if (g === 0) continue;
    const offset = j * size;
    for (let i = 0; i < size; i += 1) cross[i] = (cross[i] ?? 0) + g * (matrix[offset + i] ?? 0);
  }
  let innovationVariance = noiseVariance;
  for (let i = 0; i < size; i += 1) innovationVariance += (gradient[i] ?? 0) * (cross[i] ?? 0);
  const scale = 1 / innovationVariance;
  for (let i = 0; i < size; i += 1) {
    const gain = (cross[i] ?? 0) * scale;
    if (gain === 0) continue;
    mean[i] = (mean[i] ?? 0) + gain * innovation;
    for (let j = i; j < size; j += 1) {
      const value = (matrix[i * size + j] ?? 0) - gain * (cross[j] ?? 0);
      matrix[i * size + j] = value;
      matrix[j * size + i] = value;
    }
  }
  return {
    innovationVariance,
    logLikelihood: -0.5 * (innovation * innovation * scale + Math.log(innovationVariance)),
  };
}

/** Mean and covariance when more is known of one component by itself: the others follow by what they share with it. */
export function narrowed(
  mean: number[],
  matrix: number[],
  size: number,
  known: { readonly component: number; readonly value: number; readonly variance: number },
): void {
  const { component } = known;
  const before = matrix[component * size + component] ?? 0;
  if (!(before > 0)) return;
  const shared = column.fill(0);
  for (let k = 0; k < size; k += 1) shared[k] = (matrix[component * size + k] ?? 0) / before;
  const moved = known.value - (mean[component] ?? 0);
  const gone = before - known.variance;
  for (let i = 0; i < size; i += 1) {
    const share = shared[i] ?? 0;
    if (share === 0) continue;
    mean[i] = (mean[i] ?? 0) + share * moved;
    for (let j = 0; j < size; j += 1) {
      const at = i * size + j;
      matrix[at] = (matrix[at] ?? 0) - share * gone * (shared[j] ?? 0);
    }
  }
}

/** Lower triangle L with L times its transpose the matrix; a component without variance gives a row of zeros. */
export function choleskyOf(matrix: readonly number[], size: number): number[] {
  const lower = new Array<number>(size * size).fill(0);
  for (let i = 0; i < size; i += 1) {
    for (let j = 0; j <= i; j += 1) {
      let sum = matrix[i * size + j] ?? 0;
      for (let k = 0; k < j; k += 1) sum -= (lower[i * size + k] ?? 0) * (lower[j * size + k] ?? 0);
      const pivot = lower[j * size + j] ?? 0;
      if (i === j) lower[i * size + i] = sum > 0 ? Math.sqrt(sum) : 0;
      else lower[i * size + j] = pivot > 0 ? sum / pivot : 0;
    }
  }
  return lower;
}
