import { choleskyFactor, whiten } from "../numerics/cholesky.js";
import type { Co2Evidence } from "./co2-evidence.js";
import { normalCumulative, normalQuantile95 } from "../numerics/normal-distribution.js";

/** What is not known of the tank's pH probe, in pH: the whole probe's offset, and the noise of the present reading. */
export interface ProbeSpread {
  readonly offsetPhSigma: number;
  readonly readingPhSigma: number;
}

/** What a group of methods says together of ln(CO2). */
export interface GroupEstimate {
  /** Share of the probability below this ln(CO2). */
  readonly cumulative: (lnCo2: number) => number;
  readonly low_ln: number;
  readonly high_ln: number;
}

/** No method is better than 1 %: K1 alone is not known more closely. */
const leastOwnSigma_ln = 0.01;
/**
 * Used only where every method bounds from one side, so that something holds the other: a tank has some 10 mg/L, by a factor of
 * 3 either way. Judgement.
 */
const anyTank = { mean_ln: Math.log(10), sigma_ln: 1.2 } as const;
/** 95 % of the chi-square distribution by degrees of freedom, 1 on. [AbramowitzStegun1964] table 26.8 */
const chiSquare95 = [3.841, 5.991, 7.815, 9.488, 11.07, 12.592, 14.067];
/** Beyond this many standard deviations nothing of the probability is left. */
const reachSigmas = 8;
const gridSteps = 640;

const ownVariance = (evidence: Co2Evidence): number => Math.max(evidence.ownSigma_ln, leastOwnSigma_ln) ** 2;

/** Covariance of two methods' errors by what they share: the probe. */
function sharedCovariance(a: Co2Evidence, b: Co2Evidence, probe: ProbeSpread): number {
  return (
    a.probeOffset_lnPerPh * b.probeOffset_lnPerPh * probe.offsetPhSigma ** 2 +
    a.probeReading_lnPerPh * b.probeReading_lnPerPh * probe.readingPhSigma ** 2
  );
}

/** Of the difference of two methods, in ln: what they share in the probe cancels. */
export function differenceSigma_ln(a: Co2Evidence, b: Co2Evidence, probe: ProbeSpread): number {
  const variance =
    ownVariance(a) +
    ownVariance(b) +
    sharedCovariance(a, a, probe) +
    sharedCovariance(b, b, probe) -
    2 * sharedCovariance(a, b, probe);
  return Math.sqrt(Math.max(variance, 0));
}

interface GaussPart {
  readonly mean_ln: number;
  readonly sigma_ln: number;
  /** Of the methods that give a value, in their order. */
  readonly weights: readonly number[];
  readonly chiSquared: number;
  readonly degrees: number;
  readonly about: readonly Co2Evidence[];
  readonly solve: (values: readonly number[]) => readonly number[];
}

const dot = (a: readonly number[], b: readonly number[]): number =>
  a.reduce((sum, value, index) => sum + value * (b[index] ?? 0), 0);

/** Generalised least squares of one mean with correlated errors: weight by the inverse covariance. [Aitken1936] */
function gaussPart(group: readonly Co2Evidence[], probe: ProbeSpread): GaussPart {
  const about = group.filter((evidence) => evidence.reach === "about");
  if (about.length === 0) {
    return { ...anyTank, weights: [], chiSquared: 0, degrees: 0, about, solve: () => [] };
  }
  const factor = choleskyFactor(
    about.map((a, i) => about.map((b, j) => sharedCovariance(a, b, probe) + (i === j ? ownVariance(a) : 0))),
  );
  const solve = (values: readonly number[]): readonly number[] => whiten(factor, values);
  const ones = solve(about.map(() => 1));
  const values = solve(about.map((evidence) => Math.log(evidence.co2_mgPerL)));
  const information = dot(ones, ones);
  const mean_ln = dot(ones, values) / information;
  return {
    mean_ln,
    sigma_ln: 1 / Math.sqrt(information),
    weights: about.map((_, i) => dot(ones, solve(about.map((__, j) => (i === j ? 1 : 0)))) / information),
    chiSquared: values.reduce((sum, value, i) => sum + (value - mean_ln * (ones[i] ?? 0)) ** 2, 0),
    degrees: about.length - 1,
    about,
    solve,
  };
}

/** Chance of a one-sided finding at a given ln(CO2): normalCumulative(slope x ln(CO2) + start). */
interface Bound {
  readonly slope: number;
  readonly start: number;
}

/**
 * A one-sided finding, with what the other methods tell at this ln(CO2) of the probe that it may share. Exact for one such
 * finding; several take their share of the probe as apart.
 */
function boundOf(evidence: Co2Evidence, gauss: GaussPart, probe: ProbeSpread): Bound {
  const shared = gauss.solve(gauss.about.map((other) => sharedCovariance(evidence, other, probe)));
  const ones = gauss.solve(gauss.about.map(() => 1));
  const values = gauss.solve(gauss.about.map((other) => Math.log(other.co2_mgPerL)));
  const variance = ownVariance(evidence) + sharedCovariance(evidence, evidence, probe) - dot(shared, shared);
  const sign = evidence.reach === "at most" ? -1 : 1;
  const sigma = Math.sqrt(Math.max(variance, leastOwnSigma_ln ** 2));
  return {
    slope: (sign * (1 - dot(shared, ones))) / sigma,
    start: (sign * (dot(shared, values) - Math.log(evidence.co2_mgPerL))) / sigma,
  };
}

const oneSided = (group: readonly Co2Evidence[]): readonly Co2Evidence[] =>
  group.filter((evidence) => evidence.reach !== "about");

/** How far a pair stands apart, in ln, the first above the second positive; 0 where a bound is kept. */
export function gap_ln(first: Co2Evidence, second: Co2Evidence): number {
  const gap = Math.log(first.co2_mgPerL / second.co2_mgPerL);
  const firstMayBeHigher = first.reach === "at least" || second.reach === "at most";
  const secondMayBeHigher = second.reach === "at least" || first.reach === "at most";
  if (firstMayBeHigher && secondMayBeHigher) return 0;
  if (firstMayBeHigher) return Math.max(gap, 0);
  return secondMayBeHigher ? Math.min(gap, 0) : gap;
}

/** Size of the residuals against what was stated: the Birge ratio, 1 where all errors are as stated. [Birge1932] */
export function birgeRatio(group: readonly Co2Evidence[], probe: ProbeSpread): number {
  const { chiSquared, degrees } = gaussPart(group, probe);
  return degrees === 0 ? 1 : Math.sqrt(chiSquared / degrees);
}

/** Whether a group agrees within its stated errors, at 95 %: by chi-square, and every bound kept. */
export function isConsistent(group: readonly Co2Evidence[], probe: ProbeSpread): boolean {
  const gauss = gaussPart(group, probe);
  if (gauss.chiSquared > (chiSquare95[gauss.degrees - 1] ?? Infinity)) return false;
  return oneSided(group).every((bounding) => {
    const { slope, start } = boundOf(bounding, gauss, probe);
    const z = (slope * gauss.mean_ln + start) / Math.hypot(1, slope * gauss.sigma_ln);
    const keepsGroup = gauss.about.length === 0 || z > -normalQuantile95;
    return (
      keepsGroup &&
      group.every(
        (other) =>
          other === bounding ||
          Math.abs(gap_ln(bounding, other)) < normalQuantile95 * differenceSigma_ln(bounding, other, probe),
      )
    );
  });
}

/** All that a group says: the normal distribution of its values, cut softly by its bounds. */
export function estimateGroup(group: readonly Co2Evidence[], probe: ProbeSpread): GroupEstimate {
  const gauss = gaussPart(group, probe);
  const { mean_ln, sigma_ln } = gauss;
  const low_ln = mean_ln - reachSigmas * sigma_ln;
  const high_ln = mean_ln + reachSigmas * sigma_ln;
  const bounds = oneSided(group).map((evidence) => boundOf(evidence, gauss, probe));
  if (bounds.length === 0) {
    return { cumulative: (lnCo2) => normalCumulative((lnCo2 - mean_ln) / sigma_ln), low_ln, high_ln };
  }
  const step = (high_ln - low_ln) / gridSteps;
  const densityAt = (lnCo2: number): number =>
    bounds.reduce(
      (density, { slope, start }) => density * normalCumulative(slope * lnCo2 + start),
      Math.exp(-(((lnCo2 - mean_ln) / sigma_ln) ** 2) / 2),
    );
  const sums = [0];
  let before = densityAt(low_ln);
  for (let index = 1; index <= gridSteps; index += 1) {
    const density = densityAt(low_ln + index * step);
    sums.push((sums[index - 1] ?? 0) + (before + density) / 2);
    before = density;
  }
  const whole = sums[gridSteps] ?? 1;
  return {
    low_ln,
    high_ln,
    cumulative: (lnCo2) => {
      const place = Math.min(Math.max((lnCo2 - low_ln) / step, 0), gridSteps);
      const index = Math.min(Math.floor(place), gridSteps - 1);
      const low = sums[index] ?? 0;
      return (low + (place - index) * ((sums[index + 1] ?? whole) - low)) / whole;
    },
  };
}

/** The ln(CO2) below which this share of the probability lies. */
export function quantile_ln(estimate: GroupEstimate, share: number): number {
  let { low_ln: low, high_ln: high } = estimate;
  for (let halving = 0; halving < 60 && high - low > 1e-9; halving += 1) {
    const middle = (low + high) / 2;
    if (estimate.cumulative(middle) < share) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** Enough to be beyond rounding, little against any error. */
const nudge_ln = 0.02;

/**
 * How far the median moves for each method that moves by one: the weights, which add to 1. Of values alone they are those of
 * least squares; a bound that is far off weighs nothing.
 */
export function groupWeights(group: readonly Co2Evidence[], probe: ProbeSpread): readonly number[] {
  if (oneSided(group).length === 0) return normalised(gaussPart(group, probe).weights);
  const medianWith = (moved: number, by_ln: number): number =>
    quantile_ln(
      estimateGroup(
        group.map((evidence, index) =>
          index === moved ? { ...evidence, co2_mgPerL: evidence.co2_mgPerL * Math.exp(by_ln) } : evidence,
        ),
        probe,
      ),
      0.5,
    );
  return normalised(group.map((_, index) => medianWith(index, nudge_ln) - medianWith(index, -nudge_ln)));
}

/** Of errors that share unequally a weight can come out below zero by a little; people are shown none. */
function normalised(weights: readonly number[]): readonly number[] {
  const positive = weights.map((weight) => Math.max(weight, 0));
  const sum = positive.reduce((total, weight) => total + weight, 0);
  return sum > 0 ? positive.map((weight) => weight / sum) : weights.map(() => 1 / weights.length);
}
