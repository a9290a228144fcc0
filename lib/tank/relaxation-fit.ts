import { choleskyFactor, logDeterminant, whiten } from "../numerics/cholesky.js";
import type { LowerTriangle } from "../numerics/cholesky.js";
import { fitLeastSquares } from "../numerics/least-squares.js";
import { normalQuantile80, normalQuantile90 } from "../numerics/normal-distribution.js";
import { exchangeTime_ratio } from "./gas-exchange.js";

/**
 * The approach of a tank's CO2 to rest, C = Csettled + (Cstart - Csettled) e^(-kt), fitted in ln C to readings that err by a
 * common factor (hardness test, probe offset), by noise of their own, by an hour's wander and by a drift. The factor shifts ln C
 * as a whole: it goes into Cstart and Csettled alike and cancels in k, as long as Csettled is free.
 */

export interface Co2Reading {
  readonly at_epochMs: number;
  readonly co2_mgPerL: number;
  readonly temperature_degC?: number;
}

/** What no single reading shows: in ln(CO2), of which 0.01 pH is 0.023. */
export interface SlowNoise {
  readonly wanderSigma_ln: number;
  readonly wanderMemory_h: number;
  readonly driftSigma_lnPerH: number;
  /** How far the settled value itself moves, as people, animals and plants come to rest; share of it. */
  readonly settledWander_ratio: number;
  readonly settledMemory_h: number;
}

/**
 * 0.005 pH of wander with an hour's memory, 0.015 pH of drift in a day, a settled value that moves by a tenth: common
 * practice, no source.
 */
export const usualSlowNoise: SlowNoise = {
  wanderSigma_ln: 0.0115,
  wanderMemory_h: 1,
  driftSigma_lnPerH: 0.0015,
  settledWander_ratio: 0.1,
  settledMemory_h: 3,
};

/** Readings of a quarter of an hour, or of another short span, taken together by their median. */
export interface Co2Bin {
  /** Since the start of the record. */
  readonly hour_h: number;
  /** The same in hours of gas exchange at the record's mean temperature. */
  readonly exchangeTime_h: number;
  readonly lnCo2: number;
  readonly sigma_ln: number;
  readonly count: number;
}

export interface BinnedReadings {
  readonly bins: readonly Co2Bin[];
  readonly temperature_degC: number | undefined;
  /** Standard deviation of one reading against its neighbours. */
  readonly readingSigma_ln: number;
}

const millisecondsPerHour = 3_600_000;
const quarterHour_h = 0.25;
/** Rounding to 0.01 pH, which many probes do: 0.023 / sqrt(12) in ln(CO2). */
const roundingSigma_ln = 0.0066;

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = Math.floor(sorted.length / 2);
  const upper = sorted[middle] ?? NaN;
  return sorted.length % 2 === 1 ? upper : ((sorted[middle - 1] ?? NaN) + upper) / 2;
}

/** From the median of absolute deviations to a standard deviation, for a normal distribution. */
const normalOfMedianDeviation = 1.4826;

/** Noise of single readings from how far each stands off the line between its neighbours; spikes do not count. */
function readingSigma_ln(values: readonly number[]): number {
  const bends = values
    .slice(1, -1)
    .map((value, i) => Math.abs(value - ((values[i] ?? value) + (values[i + 2] ?? value)) / 2));
  return bends.length < 3 ? 2 * roundingSigma_ln : (normalOfMedianDeviation * median(bends)) / Math.sqrt(1.5);
}

/** Off from its neighbours by so many standard deviations of a reading, and by so much, a reading is a spike. */
const spike = { sigmas: 6, off_ln: 0.1 };

/** The readings without those that stand alone against the median of themselves and two on either side. */
function withoutSpikes(readings: readonly Co2Reading[], sigma_ln: number): readonly Co2Reading[] {
  const limit_ln = Math.max(spike.off_ln, spike.sigmas * sigma_ln);
  return readings.filter((reading, i) => {
    const around = readings.slice(Math.max(0, i - 2), i + 3).map(({ co2_mgPerL }) => Math.log(co2_mgPerL));
    return Math.abs(Math.log(reading.co2_mgPerL) - median(around)) <= limit_ln;
  });
}

/** Readings of a span in bins of a quarter of an hour or so. Unordered or impossible readings are left out. */
export function binReadings(
  readings: readonly Co2Reading[],
  span: { readonly from_epochMs: number; readonly until_epochMs: number },
  bin_h = quarterHour_h,
): BinnedReadings {
  const ordered = readings
    .filter(
      (reading) =>
        reading.at_epochMs >= span.from_epochMs &&
        reading.at_epochMs <= span.until_epochMs &&
        reading.co2_mgPerL > 0 &&
        Number.isFinite(reading.co2_mgPerL),
    )
    .sort((a, b) => a.at_epochMs - b.at_epochMs);
  const sigma_ln = readingSigma_ln(ordered.map((reading) => Math.log(reading.co2_mgPerL)));
  const used = withoutSpikes(ordered, sigma_ln);
  const groups = new Map<number, Co2Reading[]>();
  for (const reading of used) {
    const hour_h = (reading.at_epochMs - span.from_epochMs) / millisecondsPerHour;
    const slot = Math.floor(hour_h / bin_h);
    groups.set(slot, [...(groups.get(slot) ?? []), reading]);
  }
  const temperatures = used.flatMap((reading) =>
    reading.temperature_degC === undefined ? [] : [reading.temperature_degC],
  );
  const temperature_degC =
    temperatures.length < used.length / 2
      ? undefined
      : temperatures.reduce((sum, value) => sum + value, 0) / temperatures.length;
  let exchangeTime_h = 0;
  let before_h = 0;
  const bins = [...groups.values()].map((group): Co2Bin => {
    const hours = group.map((reading) => (reading.at_epochMs - span.from_epochMs) / millisecondsPerHour);
    const hour_h = hours.reduce((sum, value) => sum + value, 0) / hours.length;
    const warmth = group.flatMap((reading) =>
      reading.temperature_degC === undefined ? [] : [reading.temperature_degC],
    );
    const rate =
      temperature_degC === undefined || warmth.length === 0
        ? 1
        : exchangeTime_ratio(median(warmth), temperature_degC);
    exchangeTime_h += rate * (hour_h - before_h);
    before_h = hour_h;
    // The median of three or more normal values scatters by a quarter more than their mean.
    const factor = group.length > 2 ? 1.25 : 1;
    return {
      hour_h,
      exchangeTime_h,
      lnCo2: median(group.map((reading) => Math.log(reading.co2_mgPerL))),
      // Noise above the last digit averages the rounding out; below it a digit stands still and its error with it.
      sigma_ln: Math.hypot(
        (factor * Math.max(sigma_ln, roundingSigma_ln)) / Math.sqrt(group.length),
        sigma_ln > roundingSigma_ln ? 0 : roundingSigma_ln,
      ),
      count: group.length,
    };
  });
  return { bins, temperature_degC, readingSigma_ln: sigma_ln };
}

/**
 * Covariance of the binned ln C: each bin's own noise, wander, drift, and the settled value's own movement as far as the
 * CO2 has come under its sway; its triangular factor.
 */
export function noiseFactor(
  bins: readonly Co2Bin[],
  slow: SlowNoise,
  at?: Relaxation,
  widening: readonly number[] = [],
): LowerTriangle {
  const sway = bins.map((bin) =>
    at === undefined
      ? 0
      : (1 - Math.exp(-Math.exp(at.lnK) * bin.exchangeTime_h)) *
        Math.min(1, Math.exp(at.lnSettled - bin.lnCo2)),
  );
  return choleskyFactor(
    bins.map((a, i) =>
      bins.slice(0, i + 1).map((b, j) => {
        const apart_h = Math.abs(a.hour_h - b.hour_h);
        const wander = slow.wanderSigma_ln ** 2 * Math.exp(-apart_h / slow.wanderMemory_h);
        const drift = slow.driftSigma_lnPerH ** 2 * a.hour_h * b.hour_h;
        const settled =
          slow.settledWander_ratio ** 2 *
          (sway[i] ?? 0) *
          (sway[j] ?? 0) *
          Math.exp(-apart_h / slow.settledMemory_h);
        return wander + drift + settled + (i === j ? (a.sigma_ln * (widening[i] ?? 1)) ** 2 : 0);
      }),
    ),
  );
}

/** What is known beforehand, each as a residual over its standard deviation. */
export type Foreknowledge = (at: Relaxation) => readonly number[];

export interface Relaxation {
  readonly lnK: number;
  readonly lnSettled: number;
  readonly lnStart: number;
}

export interface Span {
  readonly low: number;
  readonly high: number;
}

export interface RelaxationFit {
  readonly kind: "fitted";
  readonly at: Relaxation;
  readonly lnKSigma: number;
  readonly lnSettledSigma: number;
  readonly lnStartSigma: number;
  /** Correlation of ln k with ln Csettled. */
  readonly correlation: number;
  readonly lnK80: Span;
  readonly lnK90: Span;
  /** Sum of squares over the degrees of freedom: well above 1 where this is no exponential approach. */
  readonly misfit_ratio: number;
  /** Each bin's own residual over its own standard deviation. */
  readonly residuals: readonly number[];
}

const bounds = {
  minimum: [Math.log(1e-3), Math.log(0.02), Math.log(0.02)],
  maximum: [Math.log(20), Math.log(1000), Math.log(1000)],
} as const;

export function relaxed_ln(at: Relaxation, hours: number): number {
  const settled = Math.exp(at.lnSettled);
  const start = Math.exp(at.lnStart);
  return Math.log(settled + (start - settled) * Math.exp(-Math.exp(at.lnK) * hours));
}

function relaxationOf(parameters: readonly number[]): Relaxation {
  const [lnK = 0, lnSettled = 0, lnStart = 0] = parameters;
  return { lnK, lnSettled, lnStart };
}

interface Problem {
  readonly bins: readonly Co2Bin[];
  readonly factor: LowerTriangle;
  readonly known: Foreknowledge;
}

function residualsOf({ bins, factor, known }: Problem, at: Relaxation): number[] {
  const raw = bins.map((bin) => bin.lnCo2 - relaxed_ln(at, bin.exchangeTime_h));
  return [...whiten(factor, raw), ...known(at)];
}

function leastAt(
  problem: Problem,
  start: Relaxation,
  fixedLnK?: number,
): { readonly at: Relaxation; readonly sumOfSquares: number } {
  const from = [fixedLnK ?? start.lnK, start.lnSettled, start.lnStart];
  const freeze = (values: readonly number[]): readonly number[] =>
    fixedLnK === undefined ? values : [fixedLnK, ...values.slice(1)];
  const fit = fitLeastSquares({
    start: from,
    minimum: freeze(bounds.minimum),
    maximum: freeze(bounds.maximum),
    residuals: (parameters) => residualsOf(problem, relaxationOf(parameters)),
  });
  if (fit.kind === "not-converged") return { at: start, sumOfSquares: Infinity };
  return { at: relaxationOf(fit.parameters.map(({ value }) => value)), sumOfSquares: fit.sumOfSquares };
}

/** Where the signed root of the sum of squares over its least passes the quantiles, outwards from the best ln k. */
function profileEdges(
  problem: Problem,
  best: { readonly at: Relaxation; readonly sumOfSquares: number },
  sigma: number,
  scale: number,
  side: 1 | -1,
): { readonly edge80: number; readonly edge90: number } {
  let from = { lnK: best.at.lnK, root: 0 };
  let start = best.at;
  const edges: number[] = [];
  const limit = side > 0 ? bounds.maximum[0] : bounds.minimum[0];
  for (let step = 1; step <= 14 && edges.length < 2; step += 1) {
    const lnK = best.at.lnK + side * sigma * (step <= 4 ? step * 0.7 : 2.8 * 1.5 ** (step - 4));
    if (side * (lnK - limit) >= 0) break;
    const there = leastAt(problem, start, lnK);
    start = there.at;
    const root = Math.sqrt(Math.max(0, there.sumOfSquares - best.sumOfSquares) / scale);
    for (const quantile of [normalQuantile80, normalQuantile90].slice(edges.length)) {
      if (root < quantile) break;
      edges.push(from.lnK + ((lnK - from.lnK) * (quantile - from.root)) / (root - from.root));
    }
    from = { lnK, root };
  }
  return { edge80: edges[0] ?? limit, edge90: edges[1] ?? limit };
}

const slowScales = [0.4, 0.6, 0.8, 1, 1.3, 1.7, 2.2, 2.8, 3.6];
/** How well the usual slow noise is known: a factor of this logarithm either way. */
const slowScaleSigma_ln = 0.5;

/** The slow noise scaled to what this record's residuals are likely to come from; the usual size where they do not tell. */
function likelySlowNoise(
  bins: readonly Co2Bin[],
  slow: SlowNoise,
  at: Relaxation,
  widening: readonly number[],
): SlowNoise {
  const raw = bins.map((bin) => bin.lnCo2 - relaxed_ln(at, bin.exchangeTime_h));
  let likely = slow;
  let least = Infinity;
  for (const scale of slowScales) {
    const scaled = {
      ...slow,
      wanderSigma_ln: slow.wanderSigma_ln * scale,
      driftSigma_lnPerH: slow.driftSigma_lnPerH * scale,
    };
    const factor = noiseFactor(bins, scaled, at, widening);
    const squares = whiten(factor, raw).reduce((sum, value) => sum + value * value, 0);
    const unlikely = squares + logDeterminant(factor) + (Math.log(scale) / slowScaleSigma_ln) ** 2;
    if (unlikely < least) {
      least = unlikely;
      likely = scaled;
    }
  }
  return likely;
}

/**
 * Fits the approach to rest; bins far off are given less weight in three rounds, after Huber. The intervals of ln k follow
 * the profile of the sum of squares, not its curvature: they may be lopsided.
 * @see [Huber1981] for the weights, [Marquardt1963] for the search
 */
export function fitRelaxation(
  bins: readonly Co2Bin[],
  start: Relaxation,
  known: Foreknowledge,
  slow: SlowNoise,
): RelaxationFit | { readonly kind: "not-converged" } {
  let widening: readonly number[] = bins.map(() => 1);
  let at = start;
  for (let round = 0; round < 3; round += 1) {
    const factor = noiseFactor(bins, slow, round === 0 ? undefined : at, widening);
    const reached = leastAt({ bins, factor, known }, at).at;
    at = reached;
    widening = bins.map((bin) => {
      const off =
        Math.abs(bin.lnCo2 - relaxed_ln(reached, bin.exchangeTime_h)) /
        Math.hypot(bin.sigma_ln, slow.wanderSigma_ln);
      return off <= huberLimit ? 1 : Math.max(1, off ** 2 / huberLimit);
    });
  }
  const likely = likelySlowNoise(bins, slow, at, widening);
  const problem = { bins, factor: noiseFactor(bins, likely, at, widening), known };
  const fit = fitLeastSquares({
    start: [at.lnK, at.lnSettled, at.lnStart],
    ...bounds,
    residuals: (parameters) => residualsOf(problem, relaxationOf(parameters)),
  });
  if (fit.kind === "not-converged") return fit;
  const [k, settled, begin] = fit.parameters;
  if (k === undefined || settled === undefined || begin === undefined) return { kind: "not-converged" };
  const best = {
    at: { lnK: k.value, lnSettled: settled.value, lnStart: begin.value },
    sumOfSquares: fit.sumOfSquares,
  };
  const misfit_ratio = fit.sumOfSquares / Math.max(1, bins.length - 3);
  const scale = Math.max(1, misfit_ratio);
  const low = profileEdges(problem, best, Math.min(k.sigma, 1), scale, -1);
  const high = profileEdges(problem, best, Math.min(k.sigma, 1), scale, 1);
  return {
    kind: "fitted",
    at: best.at,
    lnKSigma: k.sigma,
    lnSettledSigma: settled.sigma,
    lnStartSigma: begin.sigma,
    correlation: fit.correlation[0]?.[1] ?? 0,
    lnK80: { low: low.edge80, high: high.edge80 },
    lnK90: { low: low.edge90, high: high.edge90 },
    misfit_ratio,
    residuals: bins.map((bin) => (bin.lnCo2 - relaxed_ln(best.at, bin.exchangeTime_h)) / bin.sigma_ln),
  };
}

/** Standard deviations from which a bin loses weight. */
const huberLimit = 2.5;
