import { normalQuantile } from "../estimation/normal-quantile.js";
import { studentQuantile } from "../numerics/student-t.js";

/** One measured outcome of a treatment under conditions that may matter too. */
export interface Outcome {
  readonly treatment: string;
  /** What else differs from outcome to outcome; treatments are only compared inside a block. */
  readonly block: string;
  readonly value: number;
  /** Standard deviation of its measurement alone. */
  readonly deviation: number;
}

/** How one treatment does against another, as other less one. */
export type Contrast =
  | {
      readonly kind: "told" | "open";
      readonly difference: number;
      readonly low: number;
      readonly high: number;
      readonly degreesOfFreedom: number;
      /** Outcomes of each with which a true difference of this size would just be told; undefined above 50, or when it is told. */
      readonly needed: number | undefined;
    }
  | { readonly kind: "too few" }
  /** No block holds both: what differs may be the block. */
  | { readonly kind: "confounded" };

/** Scatter inside the cells of treatment and block. */
export interface PooledScatter {
  readonly deviation: number;
  readonly degreesOfFreedom: number;
}

const mostNeeded = 50;

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

function cellsOf(outcomes: readonly Outcome[]): ReadonlyMap<string, readonly Outcome[]> {
  const cells = new Map<string, readonly Outcome[]>();
  for (const outcome of outcomes) {
    const key = JSON.stringify([outcome.treatment, outcome.block]);
    cells.set(key, [...(cells.get(key) ?? []), outcome]);
  }
  return cells;
}

/** Pooled standard deviation of the outcomes about the means of their cells. @see [NistSematech2012] 7.4.3 */
export function pooledScatter(outcomes: readonly Outcome[]): PooledScatter {
  const cells = [...cellsOf(outcomes).values()].map((cell) => cell.map(({ value }) => value));
  const squares = cells.reduce((sum, cell) => {
    const centre = mean(cell);
    return sum + cell.reduce((own, value) => own + (value - centre) ** 2, 0);
  }, 0);
  const degreesOfFreedom = outcomes.length - cells.length;
  return {
    deviation: degreesOfFreedom > 0 ? Math.sqrt(squares / degreesOfFreedom) : NaN,
    degreesOfFreedom,
  };
}

/**
 * Difference of two treatments by least squares with the blocks taken out, with an interval by Student's t on the scatter that
 * all cells share, never narrower than the measurements' own errors make it. By Bonferroni's inequality the chance that any of
 * `comparisons` such intervals misses is at most 5 %. Told only where the interval leaves out zero.
 * @param scatter  of all outcomes of the comparison, other treatments too
 * @see [NistSematech2012] 7.4.3 and 7.4.7.3
 */
export function blockContrast(
  outcomes: readonly Outcome[],
  pair: { readonly one: string; readonly other: string },
  scatter: PooledScatter,
  comparisons: number,
): Contrast {
  const blocks = [...new Set(outcomes.map(({ block }) => block))].flatMap((block) => {
    const of = (treatment: string): readonly Outcome[] =>
      outcomes.filter((outcome) => outcome.block === block && outcome.treatment === treatment);
    const [ones, others] = [of(pair.one), of(pair.other)];
    return ones.length > 0 && others.length > 0 ? [{ ones, others }] : [];
  });
  if (blocks.length === 0) return { kind: "confounded" };
  const { deviation, degreesOfFreedom } = scatter;
  if (!(degreesOfFreedom > 0)) return { kind: "too few" };
  let weights = 0;
  let weighted = 0;
  let measured = 0;
  for (const { ones, others } of blocks) {
    const weight = (ones.length * others.length) / (ones.length + others.length);
    weights += weight;
    weighted += weight * (mean(others.map(({ value }) => value)) - mean(ones.map(({ value }) => value)));
    for (const side of [ones, others]) {
      for (const outcome of side) measured += ((weight / side.length) * outcome.deviation) ** 2;
    }
  }
  const difference = weighted / weights;
  const share = 1 - 0.025 / Math.max(1, comparisons);
  const half = Math.max(
    (studentQuantile(share, degreesOfFreedom) * deviation) / Math.sqrt(weights),
    (normalQuantile(share) * Math.sqrt(measured)) / weights,
  );
  const isTold = Math.abs(difference) > half;
  return {
    kind: isTold ? "told" : "open",
    difference,
    low: difference - half,
    high: difference + half,
    degreesOfFreedom,
    needed: isTold ? undefined : outcomesNeeded(Math.abs(difference), outcomes, scatter, share),
  };
}

/** How many of each: by the scatter seen, or by the measurements' errors where these are larger. */
function outcomesNeeded(
  difference: number,
  outcomes: readonly Outcome[],
  { deviation }: PooledScatter,
  share: number,
): number | undefined {
  const measured = Math.sqrt(mean(outcomes.map((outcome) => outcome.deviation ** 2)));
  for (let count = 2; count <= mostNeeded; count += 1) {
    const both = Math.sqrt(2 / count);
    const half = Math.max(
      studentQuantile(share, 2 * count - 2) * deviation * both,
      normalQuantile(share) * measured * both,
    );
    if (half < difference) return count;
  }
  return undefined;
}

/** Mean of outcomes with its 95 % interval; without one where a single outcome stands alone and no other shows the scatter. */
export function meanOutcome(
  outcomes: readonly Outcome[],
  { deviation, degreesOfFreedom }: PooledScatter,
): { readonly mean: number; readonly low: number | undefined; readonly high: number | undefined } {
  const centre = mean(outcomes.map(({ value }) => value));
  if (!(degreesOfFreedom > 0)) return { mean: centre, low: undefined, high: undefined };
  const measured =
    Math.sqrt(outcomes.reduce((sum, outcome) => sum + outcome.deviation ** 2, 0)) / outcomes.length;
  const half = Math.max(
    (studentQuantile(0.975, degreesOfFreedom) * deviation) / Math.sqrt(outcomes.length),
    normalQuantile(0.975) * measured,
  );
  return { mean: centre, low: centre - half, high: centre + half };
}
