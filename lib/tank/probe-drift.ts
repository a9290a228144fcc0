import { calibrated } from "../readings/calibration.js";
import { calibrationPhSigma, probeCorrection, type ProbeCalibration } from "./probe-calibration.js";

const day_ms = 86_400_000;
const week_days = 7;

/** How far a probe wanders from its calibration: part at random, which grows with the root of time, part in one direction. */
export interface ProbeDrift {
  /** Standard deviation after one week by the random part, pH. */
  readonly walkPhPerRootWeek: number;
  /** Allowance for a steady drift whose direction is not known, pH a week, as a standard deviation. */
  readonly steadyPhPerWeek: number;
  /** Over how many spans between calibrations it was learnt; 0: the default. */
  readonly learntFrom: number;
  /** Mean direction over those spans: what the probe showed too much, a day. Told, never corrected for. */
  readonly trend_pHPerDay: number | undefined;
}

/**
 * Of a probe about which nothing is known: 0.05 after a week, 0.13 after four. From memory: 0.05 to 0.1 pH a week when new, more
 * when old; one keeper's month at +-0.1.
 */
export const defaultProbeDrift: ProbeDrift = {
  walkPhPerRootWeek: 0.05,
  steadyPhPerWeek: 0.02,
  learntFrom: 0,
  trend_pHPerDay: undefined,
};

/** So many spans of its own weigh as much as the default. Judgement. */
const defaultCountsAs = 3;
/** A few quiet spans do not make a probe perfect, nor one bad buffer a wreck. Judgement. */
const scaleLimits = { minimum: 0.4, maximum: 4 };
/** From this age, in days, a probe is taken to drift more; twice as much at two years. From memory. */
const ageing_days = 365;
/** Middle of what a planted tank has. */
const tankPh = 6.7;

/** What the probe would have shown in a solution of this pH, by its new calibration, read through the old one; less the pH. */
function shiftPh(before: ProbeCalibration, after: ProbeCalibration): number {
  const fresh = probeCorrection(after, after.temperature_degC);
  const shown = (tankPh - fresh.offset) / fresh.gain;
  return calibrated(shown, probeCorrection(before, after.temperature_degC)) - tankPh;
}

function driftVariance(drift: ProbeDrift, span_days: number): number {
  const weeks = Math.max(0, span_days) / week_days;
  return drift.walkPhPerRootWeek ** 2 * weeks + (drift.steadyPhPerWeek * weeks) ** 2;
}

/**
 * The drift of this probe, learnt from what each calibration found against the one before: the default scaled by the shifts seen,
 * less what buffers and readings explain, the default itself counting as three spans. Calibrations of other probes, and those
 * of another scale, must not be among them.
 * @param history  oldest first; fewer than two give the default.
 */
export function learnProbeDrift(history: readonly ProbeCalibration[]): ProbeDrift {
  let spans = 0;
  let squares = 0;
  let shifts = 0;
  let days = 0;
  history.forEach((after, index) => {
    const before = history[index - 1];
    const span_days = before === undefined ? 0 : (after.at_epochMs - before.at_epochMs) / day_ms;
    if (before === undefined || span_days < 1 || before.scale !== after.scale) return;
    const shift = shiftPh(before, after);
    const expected = driftVariance(defaultProbeDrift, span_days);
    const noise = calibrationPhSigma(before, tankPh) ** 2 + calibrationPhSigma(after, tankPh) ** 2;
    spans += 1;
    squares += Math.max(0, shift * shift - noise) / expected;
    shifts += shift;
    days += span_days;
  });
  if (spans === 0) return defaultProbeDrift;
  const scale = Math.sqrt((defaultCountsAs + squares) / (defaultCountsAs + spans));
  const held = Math.min(Math.max(scale, scaleLimits.minimum), scaleLimits.maximum);
  return {
    walkPhPerRootWeek: held * defaultProbeDrift.walkPhPerRootWeek,
    steadyPhPerWeek: held * defaultProbeDrift.steadyPhPerWeek,
    learntFrom: spans,
    trend_pHPerDay: shifts / days,
  };
}

/** Standard deviation of how far a probe wanders in a span of time, pH; 0 for none. */
export function driftPhSigma(drift: ProbeDrift, span_days: number): number {
  return Math.sqrt(driftVariance(drift, span_days));
}

export interface ProbeMoment {
  readonly calibration: ProbeCalibration;
  readonly drift: ProbeDrift;
  readonly now_epochMs: number;
  /** pH read now; where it lies between or beyond the buffers matters. */
  readonly pH?: number;
  /** Age of the probe itself, in days, where known. */
  readonly probeAge_days?: number;
}

/**
 * Standard uncertainty by which the probe as a whole may stand off now, in pH: the calibration's own and the drift since. The
 * noise of a single reading is not in it.
 */
export function probeOffsetPhSigma(moment: ProbeMoment): number {
  const { calibration, drift, now_epochMs, pH = tankPh, probeAge_days = 0 } = moment;
  const span_days = (now_epochMs - calibration.at_epochMs) / day_ms;
  const ageing = Math.max(1, probeAge_days / ageing_days);
  return Math.sqrt(calibrationPhSigma(calibration, pH) ** 2 + ageing ** 2 * driftVariance(drift, span_days));
}
