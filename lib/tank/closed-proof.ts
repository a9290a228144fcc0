import { whiten } from "../numerics/cholesky.js";
import type { LowerTriangle } from "../numerics/cholesky.js";
import { normalQuantile80 } from "../numerics/normal-distribution.js";
import { assertInRange } from "../quantities/valid-range.js";
import { binReadings, noiseFactor, relaxed_ln, usualSlowNoise } from "./relaxation-fit.js";
import type { Co2Bin, Co2Reading, SlowNoise } from "./relaxation-fit.js";

/**
 * Whether the gas stopped after the valve was told to close: a relay's state proves the coil, only the tank's fall proves the
 * seat. Two kinds of tank are weighed against each other after every quarter hour: one that loses its CO2, and one into
 * which a share of the dose still flows.
 *
 * The weight is the ratio of their likelihoods for all readings so far, averaged over what is not known of k and of the CO2
 * at rest. As long as the gas did stop it passes 1/a with probability a at most, however often it is looked at (Ville's
 * inequality for likelihood ratios): the rate of false alarms is set by that, not by the number of looks.
 */

export interface ClosedProofRecord {
  /** The later of valve closed and lights off: in light the plants' uptake looks like a closed valve. */
  readonly from_epochMs: number;
  readonly now_epochMs: number;
  /** When gas or light is due again. */
  readonly until_epochMs: number;
  readonly readings: readonly Co2Reading[];
}

/** From earlier nights, on the scale of the readings; a wide sigma where there are none. */
export interface ClosedProofKnowledge {
  readonly k_perH: number;
  /** For the next night: the nights' own scatter goes in. */
  readonly kSigma_ln: number;
  readonly settledCo2_mgPerL: number;
  readonly settledSigma_ln: number;
  /** Effective dose with the valve open; without it the evening's CO2 counts as the plateau. */
  readonly dose_mgPerLPerH: number | undefined;
}

export interface ClosedProofLimits {
  /** Nights on which a valve that did close may be called open. */
  readonly falseAlarm_ratio: number;
  /** Nights on which a leak of the least size may be called closed. */
  readonly missed_ratio: number;
  /** The smallest share of the dose that counts as a leak. */
  readonly leastLeak_ratio: number;
}

export const usualClosedProofLimits: ClosedProofLimits = {
  falseAlarm_ratio: 0.001,
  missed_ratio: 0.01,
  leastLeak_ratio: 0.3,
};

export interface ClosedProofEvidence {
  /** Hours that were weighed. */
  readonly watched_h: number;
  /** CO2 over that time, from the readings. */
  readonly fromCo2_mgPerL: number;
  readonly toCo2_mgPerL: number;
  /** What the tank would show if the gas had stopped. */
  readonly expectedCo2_mgPerL: number;
  /** Likelihood of gas flowing over that of gas stopped: 1000 and more speaks for flowing, 0.01 and less for stopped. */
  readonly likelihoodRatio: number;
}

export type ClosedProof =
  | {
      readonly kind: "gas stopped";
      /**
       * So much of the flow can go on, with 90 %: what the readings leave open, and what the CO2 at rest stands above the
       * air's, for respiration and a leak look alike.
       */
      readonly leakAtMost_ratio: number;
      readonly evidence: ClosedProofEvidence;
    }
  | {
      /** Nothing is proven either way, but CO2 stays where the day left it. */
      readonly kind: "not falling";
      readonly because: string;
      readonly evidence: ClosedProofEvidence;
    }
  | {
      readonly kind: "gas did not stop";
      readonly suspicion: "stuck valve" | "leaking seat" | "stuck valve or leaking seat";
      readonly leak_ratio: number;
      readonly leakLow80_ratio: number;
      readonly leakHigh80_ratio: number;
      /** What else keeps CO2 up on a night like no other; the rate of false alarms does not cover it. */
      readonly alsoPossible: string;
      readonly evidence: ClosedProofEvidence;
    }
  | {
      readonly kind: "not yet";
      /** After so many hours from the start a stuck valve is usually told; undefined if this night will not tell. */
      readonly stuckTold_h: number;
      readonly evidence: ClosedProofEvidence | undefined;
    }
  | {
      readonly kind: "cannot be told";
      readonly because: string;
      readonly evidence: ClosedProofEvidence | undefined;
    };

/** Above it "gas stopped" would say too much. */
export const gasStoppedUpTo_ratio = 0.3;
/** Above it nothing is said to have stopped. */
const mostStoppedUpTo_ratio = 0.7;

/**
 * A tank that loses its CO2 as slowly as any without a lid, down to a rest higher than most, and how much of that fall must be
 * seen. Common practice, no source.
 */
const slowest = { k_perH: 0.06, settledCo2_mgPerL: 3 };
/** Of that fall less must be seen for an alarm, and less than so much for a night that must not teach. Judgement. */
const heldBelow = { alarm_ratio: 0.25, teaching_ratio: 0.4 };
/** From so much CO2 and so many hours on a tank that holds it is told of. Judgement. */
const toldAsHeld = { co2_mgPerL: 10, watched_h: 5 };
/** Indoor air in the water. Common practice, no source. */
const airCo2_mgPerL = 0.85;

export const notFallingBecause = "gas flows on, or the gas exchange is very slow (lid, film)";

/**
 * Whether CO2, mg/L, stayed where it was: it fell by less than a quarter of what the slowest plausible gas exchange takes, or
 * by less than two fifths where the night would teach.
 * @param known undefined: nothing is known of the tank
 */
export function isHeld(
  seen: { readonly watched_h: number; readonly fromCo2_mgPerL: number; readonly toCo2_mgPerL: number },
  known: Pick<ClosedProofKnowledge, "k_perH" | "kSigma_ln" | "settledCo2_mgPerL"> | undefined,
  use: "alarm" | "teaching",
): boolean {
  const k_perH =
    known === undefined
      ? slowest.k_perH
      : Math.min(slowest.k_perH, known.k_perH * Math.exp(-normalQuantile80 * known.kSigma_ln));
  const rest_mgPerL = Math.max(slowest.settledCo2_mgPerL, known?.settledCo2_mgPerL ?? 0);
  const least_mgPerL =
    heldBelow[`${use}_ratio`] * (seen.fromCo2_mgPerL - rest_mgPerL) * -Math.expm1(-k_perH * seen.watched_h);
  return seen.fromCo2_mgPerL - seen.toCo2_mgPerL < least_mgPerL;
}

const millisecondsPerHour = 3_600_000;
const settling_ms = 0.5 * millisecondsPerHour;

interface Weighted {
  readonly z: number;
  readonly weight: number;
}

const gaussNodes: readonly Weighted[] = [-2.5, -2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2, 2.5].map((z) => ({
  z,
  weight: Math.exp((-z * z) / 2),
}));
const restNodes = gaussNodes.filter((_, index) => index % 2 === 1);

/** A film or a lid may have slowed the exchange since the last night: one night in twenty, to 0.4 by a factor of 1.6. */
const film = { share: 1 / 20, lnFactor: Math.log(0.4), sigma_ln: 0.5 };

interface PossibleTank {
  readonly lnK: number;
  readonly lnSettled: number;
  readonly weight: number;
}

function possibleTanks(known: ClosedProofKnowledge): readonly PossibleTank[] {
  const lnK = Math.log(known.k_perH);
  const total = (nodes: readonly Weighted[]): number => nodes.reduce((sum, { weight }) => sum + weight, 0);
  const exchange = [
    ...gaussNodes.map(({ z, weight }) => ({
      lnK: lnK + known.kSigma_ln * z,
      weight: ((1 - film.share) * weight) / total(gaussNodes),
    })),
    ...gaussNodes.map(({ z, weight }) => ({
      lnK: lnK + film.lnFactor + Math.hypot(film.sigma_ln, known.kSigma_ln) * z,
      weight: (film.share * weight) / total(gaussNodes),
    })),
  ];
  return exchange.flatMap((tank) =>
    restNodes.map(({ z, weight }) => ({
      lnK: tank.lnK,
      lnSettled: Math.log(known.settledCo2_mgPerL) + known.settledSigma_ln * z,
      weight: (tank.weight * weight) / total(restNodes),
    })),
  );
}

/** How loosely the CO2 at the start is known before the readings, in ln. */
const startSigma_ln = 1;

interface Weighing {
  readonly bins: readonly Co2Bin[];
  readonly factor: LowerTriangle;
  readonly lnStart: number;
  readonly whitened: readonly number[];
}

/** ln of the likelihood of the bins for one tank and leak, less what all share; the start is averaged over. */
function lnLikelihood(
  weighing: Weighing,
  tank: PossibleTank,
  leak_ratio: number,
  dose_mgPerLPerH: number | undefined,
): number {
  const settled = Math.exp(tank.lnSettled);
  const rise_mgPerL =
    dose_mgPerLPerH === undefined
      ? Math.max(0, Math.exp(weighing.lnStart) - settled)
      : dose_mgPerLPerH / Math.exp(tank.lnK);
  const rest = settled + leak_ratio * rise_mgPerL;
  const k_perH = Math.exp(tank.lnK);
  const begin_h = weighing.bins[0]?.exchangeTime_h ?? 0;
  const started = Math.exp(weighing.lnStart);
  const model: number[] = [];
  const slope: number[] = [];
  for (const { exchangeTime_h } of weighing.bins) {
    const left = started * Math.exp(-k_perH * (exchangeTime_h - begin_h));
    const co2 = rest + left - (rest * left) / started;
    model.push(Math.log(co2));
    slope.push(left / co2);
  }
  const whiteModel = whiten(weighing.factor, model);
  const whiteSlope = whiten(weighing.factor, slope);
  let squares = 0;
  let along = 0;
  let length2 = 1 / startSigma_ln ** 2;
  weighing.whitened.forEach((value, i) => {
    const residual = value - (whiteModel[i] ?? 0);
    const direction = whiteSlope[i] ?? 0;
    squares += residual * residual;
    along += residual * direction;
    length2 += direction * direction;
  });
  return -0.5 * (squares - along ** 2 / length2 + Math.log(length2));
}

/** ln of a mean of exponentials, without overflow. */
function lnMean(terms: readonly { readonly ln: number; readonly weight: number }[]): number {
  const largest = Math.max(...terms.map(({ ln }) => ln));
  const sum = terms.reduce((total, { ln, weight }) => total + weight * Math.exp(ln - largest), 0);
  return largest + Math.log(sum);
}

const alsoPossible =
  "a pH probe that is stuck or in poor contact with the water, a film or lid that closed the surface since last night, a stopped filter, or a heavy feeding after the closing";

/** A seat may pass anything from the least leak that counts to the whole dose. */
function leaksFrom(least_ratio: number): readonly number[] {
  return [0, 1 / 3, 2 / 3, 1].map((part) => least_ratio + (1 - least_ratio) * part);
}

/**
 * How well the dose itself is known, which the leak is a share of; the evening's plateau stands below the dose's own by what
 * plants took. Common practice, no source.
 */
const doseDoubt = {
  learnt: { lnFactor: 0, sigma_ln: 0.15 },
  plateau: { lnFactor: Math.log(1.15), sigma_ln: 0.25 },
};

/** Share of the dose that still flows, as the readings have it: quantiles of the likelihood over 0 to 1.5 of the dose. */
function leakSpan(
  lnOfLeak: (leak_ratio: number) => number,
  doubt: { readonly lnFactor: number; readonly sigma_ln: number },
): Pick<
  Extract<ClosedProof, { kind: "gas did not stop" }>,
  "leak_ratio" | "leakLow80_ratio" | "leakHigh80_ratio"
> {
  const step = 0.05;
  const atStep = Array.from({ length: 46 }, (_, i) => lnOfLeak(i * step));
  const grid = Array.from({ length: 31 }, (_, i) => ({
    leak_ratio: i * step,
    ln: lnMean(
      restNodes.map(({ z, weight }) => ({
        ln:
          atStep[
            Math.min(atStep.length - 1, Math.round(i * Math.exp(doubt.lnFactor + doubt.sigma_ln * z)))
          ] ?? 0,
        weight,
      })),
    ),
  }));
  const largest = Math.max(...grid.map(({ ln }) => ln));
  const weights = grid.map(({ ln }) => Math.exp(ln - largest));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const quantile = (share: number): number => {
    let below = 0;
    for (const [i, { leak_ratio }] of grid.entries()) {
      below += (weights[i] ?? 0) / total;
      if (below >= share) return leak_ratio;
    }
    return grid.at(-1)?.leak_ratio ?? 1;
  };
  return { leak_ratio: quantile(0.5), leakLow80_ratio: quantile(0.1), leakHigh80_ratio: quantile(0.9) };
}

function leakAtMost(
  lnOfLeak: (leak_ratio: number) => number,
  known: ClosedProofKnowledge,
  { fromCo2_mgPerL }: ClosedProofEvidence,
): number {
  const { dose_mgPerLPerH, k_perH, settledCo2_mgPerL } = known;
  const rise_mgPerL =
    dose_mgPerLPerH === undefined ? fromCo2_mgPerL - settledCo2_mgPerL : dose_mgPerLPerH / k_perH;
  const doubt = dose_mgPerLPerH === undefined ? doseDoubt.plateau : doseDoubt.learnt;
  const unexplained_ratio =
    rise_mgPerL > 0 ? Math.max(0, settledCo2_mgPerL - airCo2_mgPerL) / rise_mgPerL : 1;
  return Math.min(1, leakSpan(lnOfLeak, doubt).leakHigh80_ratio + unexplained_ratio);
}

function suspicionFor(low_ratio: number, high_ratio: number) {
  if (low_ratio >= 0.7) return "stuck valve";
  return high_ratio < 0.7 ? "leaking seat" : "stuck valve or leaking seat";
}

/**
 * Hours from the start after which a valve that hangs open is told on half of the nights: where the expected ln of the
 * ratio, half of the squared distance between the two courses, passes the alarm's. k and rest count as known.
 * @returns undefined where the span does not suffice
 */
function hoursToTell(
  known: ClosedProofKnowledge,
  lnStart: number,
  binSigma_ln: number,
  span_h: number,
  slow: SlowNoise,
  needed_ln: number,
): number | undefined {
  const stopped = {
    lnK: Math.log(known.k_perH),
    lnSettled: Math.log(known.settledCo2_mgPerL),
    lnStart,
  };
  const flowing =
    known.dose_mgPerLPerH === undefined
      ? { ...stopped, lnSettled: Math.max(lnStart, stopped.lnSettled) }
      : { ...stopped, lnSettled: Math.log(known.settledCo2_mgPerL + known.dose_mgPerLPerH / known.k_perH) };
  const bins: Co2Bin[] = [];
  for (let hour_h = 0.125; hour_h <= span_h - 0.5; hour_h += 0.25) {
    bins.push({ hour_h, exchangeTime_h: hour_h, lnCo2: lnStart, sigma_ln: binSigma_ln, count: 1 });
    if (bins.length < leastBins) continue;
    const factor = noiseFactor(bins, slow);
    const apart = whiten(
      factor,
      bins.map((bin) => relaxed_ln(flowing, bin.exchangeTime_h) - relaxed_ln(stopped, bin.exchangeTime_h)),
    );
    const level = whiten(
      factor,
      bins.map(() => 1),
    );
    // What k might be slower by is not told from a leak: its direction is free within its uncertainty.
    const slower = whiten(
      factor,
      bins.map(
        (bin) =>
          known.kSigma_ln *
          (relaxed_ln({ ...stopped, lnK: stopped.lnK - 0.1 }, bin.exchangeTime_h) -
            relaxed_ln(stopped, bin.exchangeTime_h)) *
          10,
      ),
    );
    const dot = (a: readonly number[], b: readonly number[]): number =>
      a.reduce((sum, value, i) => sum + value * (b[i] ?? 0), 0);
    const free = (vector: readonly number[]): number[] => {
      const share = dot(vector, level) / dot(level, level);
      return vector.map((value, i) => value - share * (level[i] ?? 0));
    };
    const distance = free(apart);
    const direction = free(slower);
    const explained = dot(distance, direction) ** 2 / (1 + dot(direction, direction));
    if ((dot(distance, distance) - explained) / 2 >= needed_ln) return hour_h + 0.5;
  }
  return undefined;
}

/** Quarter hours before anything is said. */
const leastBins = 3;

/**
 * The proof so far; call it again as readings come. The bound on false alarms holds for the first "gas did not stop" of a night
 * whose exchange and respiration are as usual; readings that come later may take it back. Start anew after a water
 * change and where an air pump goes on or off: both look like a valve.
 * @param limits.falseAlarm_ratio 1e-6 to 0.1; limits.leastLeak_ratio 0.05 to 1
 * @throws OutOfValidRangeError outside these
 * @see [Ville1939] for the bound on false alarms, [Wald1945] for the bound on missed leaks
 */
export function closedProof(
  record: ClosedProofRecord,
  known: ClosedProofKnowledge,
  limits: ClosedProofLimits = usualClosedProofLimits,
  slow: SlowNoise = usualSlowNoise,
): ClosedProof {
  assertInRange(limits.falseAlarm_ratio, {
    quantity: "rate of false alarms",
    unit: "",
    minimum: 1e-6,
    maximum: 0.1,
  });
  assertInRange(limits.missed_ratio, {
    quantity: "rate of missed leaks",
    unit: "",
    minimum: 1e-6,
    maximum: 0.1,
  });
  assertInRange(limits.leastLeak_ratio, {
    quantity: "least leak",
    unit: "of the dose",
    minimum: 0.05,
    maximum: 1,
  });
  const span = { from_epochMs: record.from_epochMs + settling_ms, until_epochMs: record.now_epochMs };
  const span_h = (record.until_epochMs - record.from_epochMs) / millisecondsPerHour;
  const { bins } = binReadings(record.readings, span);
  const [first] = bins;
  const last = bins.at(-1);
  const lnStart = first?.lnCo2 ?? Math.log(known.settledCo2_mgPerL);
  const needed_ln = -Math.log(limits.falseAlarm_ratio);
  const usualBinSigma_ln = first?.sigma_ln ?? slow.wanderSigma_ln;
  const told_h = hoursToTell(known, lnStart, usualBinSigma_ln, span_h, slow, needed_ln);
  if (first === undefined || last === undefined || bins.length < leastBins) {
    return told_h === undefined && first !== undefined
      ? { kind: "cannot be told", because: restBecause(lnStart, known), evidence: undefined }
      : { kind: "not yet", stuckTold_h: told_h ?? span_h, evidence: undefined };
  }
  const factor = noiseFactor(bins, slow, {
    lnK: Math.log(known.k_perH),
    lnSettled: Math.log(known.settledCo2_mgPerL),
    lnStart,
  });
  const weighing = {
    bins,
    factor,
    lnStart,
    whitened: whiten(
      factor,
      bins.map(({ lnCo2 }) => lnCo2),
    ),
  };
  const tanks = possibleTanks(known);
  const lnOfLeak = (leak_ratio: number): number =>
    lnMean(
      tanks.map((tank) => ({
        ln: lnLikelihood(weighing, tank, leak_ratio, known.dose_mgPerLPerH),
        weight: tank.weight,
      })),
    );
  const stopped_ln = lnOfLeak(0);
  const leaks = leaksFrom(limits.leastLeak_ratio).map((leak_ratio) => lnOfLeak(leak_ratio));
  const flowing_ln = lnMean(leaks.map((ln) => ({ ln, weight: 1 / leaks.length })));
  const ratio_ln = flowing_ln - stopped_ln;
  const expected = {
    lnK: Math.log(known.k_perH),
    lnSettled: Math.log(known.settledCo2_mgPerL),
    lnStart,
  };
  const evidence: ClosedProofEvidence = {
    watched_h: last.hour_h - first.hour_h,
    fromCo2_mgPerL: Math.exp(first.lnCo2),
    toCo2_mgPerL: Math.exp(last.lnCo2),
    expectedCo2_mgPerL: Math.exp(relaxed_ln(expected, last.exchangeTime_h - first.exchangeTime_h)),
    likelihoodRatio: Math.exp(ratio_ln),
  };
  if (ratio_ln >= needed_ln) {
    const leak = leakSpan(
      lnOfLeak,
      known.dose_mgPerLPerH === undefined ? doseDoubt.plateau : doseDoubt.learnt,
    );
    return {
      kind: "gas did not stop",
      suspicion: suspicionFor(leak.leakLow80_ratio, leak.leakHigh80_ratio),
      ...leak,
      alsoPossible,
      evidence,
    };
  }
  if (Math.max(...leaks) - stopped_ln <= Math.log(limits.missed_ratio)) {
    const leakAtMost_ratio = leakAtMost(lnOfLeak, known, evidence);
    return leakAtMost_ratio <= mostStoppedUpTo_ratio
      ? { kind: "gas stopped", leakAtMost_ratio, evidence }
      : { kind: "cannot be told", because: "CO2 rests so high that gas may flow on", evidence };
  }
  const isHigh = evidence.toCo2_mgPerL > toldAsHeld.co2_mgPerL && evidence.watched_h >= toldAsHeld.watched_h;
  if (isHigh && isHeld(evidence, known, "alarm"))
    return { kind: "not falling", because: notFallingBecause, evidence };
  if (told_h === undefined) {
    return { kind: "cannot be told", because: restBecause(lnStart, known), evidence };
  }
  return { kind: "not yet", stuckTold_h: told_h, evidence };
}

function restBecause(lnStart: number, known: ClosedProofKnowledge): string {
  return Math.exp(lnStart) < 1.5 * known.settledCo2_mgPerL
    ? "the CO2 is near its rest of the night already: there is little to fall"
    : "the gas exchange is too slow, or too little known, for the time until gas or light";
}
