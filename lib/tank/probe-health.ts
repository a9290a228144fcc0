import type { ProbeCalibration } from "./probe-calibration.js";
import { defaultProbeDrift, learnProbeDrift, probeOffsetPhSigma, type ProbeDrift } from "./probe-drift.js";

const day_ms = 86_400_000;

export type ProbeVerdict = "good" | "usable" | "clean" | "replace" | "not known";

/** Slope in per cent of the Nernst slope: 95-102 good and 85 the limit by a maker's sheet; 92 from memory. */
const slopeLimits_ratio = { good: 0.95, usable: 0.92, replace: 0.85, steep: 1.02 } as const;
/** Offset at pH 7: +-30 mV by a maker's sheet; half of it as good and twice as worn out from memory. */
const offsetLimits_mV = { good: 15, usable: 30, replace: 60 } as const;
/** A probe lasts 12 to 24 months. From memory. */
const oldProbe_days = { aged: 365, old: 730 } as const;

export interface CalibrationRules {
  /** Two buffers once a month. Common practice, no source. */
  readonly interval_days: number;
  /** Due sooner where the probe may be off by this much: 0.15 pH is a factor 1.4 of CO2. Judgement. */
  readonly largestPhSigma: number;
}

export const defaultCalibrationRules: CalibrationRules = { interval_days: 30, largestPhSigma: 0.15 };

/** Of a probe that was never calibrated here: a factor 1.6 of CO2. Judgement. */
export const uncalibratedPhSigma = 0.2;

/** A probe that asks for cleaning, or is worn out, may stand off by so much at least, whatever its last buffers said. Judgement. */
const leastPhSigma: Readonly<Record<ProbeVerdict, number>> = {
  good: 0,
  usable: 0,
  clean: 0.1,
  replace: 0.2,
  "not known": 0,
};

export interface ProbeHistory {
  /** Accepted calibrations of this probe only, oldest first. */
  readonly calibrations: readonly ProbeCalibration[];
  readonly now_epochMs: number;
  /** When the probe was put to use; where not told, the first calibration tells its least age. */
  readonly inUseSince_epochMs?: number;
  readonly rules?: CalibrationRules;
}

export interface ProbeHealth {
  readonly verdict: ProbeVerdict;
  /** Why, and what to do, a sentence each. */
  readonly remarks: readonly string[];
  readonly latest: ProbeCalibration | undefined;
  readonly drift: ProbeDrift;
  /** Age of the probe itself, at least. */
  readonly probeAge_days: number | undefined;
  /** By which the probe may stand off now, pH; for the fusion. */
  readonly offsetPhSigma: number;
  /** Undefined: at once. */
  readonly calibrationDue_epochMs: number | undefined;
  readonly calibrationIsDue: boolean;
}

const percentOf = (ratio: number): string => `${String(Math.round(100 * ratio))} %`;
const worseFirst: readonly ProbeVerdict[] = ["replace", "clean", "usable", "good"];

interface Finding {
  readonly verdict: ProbeVerdict;
  readonly remark?: string;
}

function slopeFinding(calibration: ProbeCalibration): Finding | undefined {
  const slope_ratio = calibration.slope_ratio;
  if (slope_ratio === undefined || calibration.slopeIsCarriedOver) return undefined;
  const slope = `Slope ${percentOf(slope_ratio)} of the ideal one`;
  if (slope_ratio < slopeLimits_ratio.replace) {
    return { verdict: "replace", remark: `${slope}: worn out. Replace the probe.` };
  }
  if (slope_ratio < slopeLimits_ratio.usable) {
    return {
      verdict: "clean",
      remark: `${slope}: clean the probe, rinse it, and calibrate again in fresh buffers.`,
    };
  }
  if (slope_ratio < slopeLimits_ratio.good) {
    return { verdict: "usable", remark: `${slope}: usable, but ageing.` };
  }
  if (slope_ratio > slopeLimits_ratio.steep) {
    return {
      verdict: "usable",
      remark: `${slope}: more than a probe gives. Check the buffers and their temperature.`,
    };
  }
  return { verdict: "good" };
}

function offsetFinding({ offset_mV }: ProbeCalibration): Finding | undefined {
  if (offset_mV === undefined) return undefined;
  const size = Math.abs(offset_mV);
  const offset = `Offset ${offset_mV.toFixed(0)} mV at pH 7`;
  if (size > offsetLimits_mV.replace) {
    return {
      verdict: "replace",
      remark: `${offset}: the reference is poisoned or run dry. Replace the probe.`,
    };
  }
  if (size > offsetLimits_mV.usable) {
    return { verdict: "clean", remark: `${offset}: clean the probe and its junction, and calibrate again.` };
  }
  return size > offsetLimits_mV.good
    ? { verdict: "usable", remark: `${offset}: corrected for, but worth watching.` }
    : { verdict: "good" };
}

function remarksOnAge(age_days: number | undefined): readonly string[] {
  if (age_days === undefined || age_days < oldProbe_days.aged) return [];
  const months = String(Math.round(age_days / 30.44));
  return age_days < oldProbe_days.old
    ? [`In use for ${months} months: probes last 12 to 24.`]
    : [`In use for ${months} months: probes last 12 to 24. Have a new one ready.`];
}

function remarksOnDrift({ learntFrom, trend_pHPerDay, walkPhPerRootWeek }: ProbeDrift): readonly string[] {
  if (learntFrom < 2 || trend_pHPerDay === undefined) return [];
  const perMonth = 30 * trend_pHPerDay;
  const quick = walkPhPerRootWeek > 1.5 * defaultProbeDrift.walkPhPerRootWeek;
  if (!quick && Math.abs(perMonth) < 0.1) return [];
  const direction = perMonth > 0 ? "high" : "low";
  return [
    `Between calibrations this probe has come to read ${direction}, by ${Math.abs(perMonth).toFixed(2)} pH a month: calibrate it more often.`,
  ];
}

/**
 * An old calibration says no less than none: its drift counts up to that of a probe that was never calibrated, or to what this
 * probe is known to wander in one interval.
 */
function offsetSigma(
  latest: ProbeCalibration,
  drift: ProbeDrift,
  rules: CalibrationRules,
  instants: { readonly now_epochMs: number; readonly born_epochMs: number },
): number {
  const sigmaAt = (then_epochMs: number): number =>
    probeOffsetPhSigma({
      calibration: latest,
      drift,
      now_epochMs: then_epochMs,
      probeAge_days: (then_epochMs - instants.born_epochMs) / day_ms,
    });
  const most = Math.max(uncalibratedPhSigma, sigmaAt(latest.at_epochMs + rules.interval_days * day_ms));
  return Math.min(sigmaAt(instants.now_epochMs), most);
}

/** The first day on which the probe may be off by too much, or the interval is over. */
function dueAt(
  latest: ProbeCalibration,
  drift: ProbeDrift,
  rules: CalibrationRules,
  bornAt_epochMs: number,
): number {
  for (let days = 1; days < rules.interval_days; days += 1) {
    const then_epochMs = latest.at_epochMs + days * day_ms;
    const sigma = probeOffsetPhSigma({
      calibration: latest,
      drift,
      now_epochMs: then_epochMs,
      probeAge_days: (then_epochMs - bornAt_epochMs) / day_ms,
    });
    if (sigma > rules.largestPhSigma) return then_epochMs;
  }
  return latest.at_epochMs + rules.interval_days * day_ms;
}

/**
 * What a probe's calibrations say of it: verdict in words of the trade, how far it may stand off now, and when to calibrate next.
 * The verdict is "not known" without a calibration, or on a scale whose gain is not known.
 */
export function probeHealth(history: ProbeHistory): ProbeHealth {
  const { calibrations, now_epochMs, rules = defaultCalibrationRules } = history;
  const latest = calibrations.at(-1);
  const since_epochMs = history.inUseSince_epochMs ?? calibrations[0]?.at_epochMs;
  const probeAge_days = since_epochMs === undefined ? undefined : (now_epochMs - since_epochMs) / day_ms;
  if (latest === undefined || since_epochMs === undefined) {
    return {
      verdict: "not known",
      remarks: [
        "Never calibrated here: calibrate it in two buffers, best 7 and 4.",
        ...remarksOnAge(probeAge_days),
      ],
      latest: undefined,
      drift: defaultProbeDrift,
      probeAge_days,
      offsetPhSigma: uncalibratedPhSigma,
      calibrationDue_epochMs: undefined,
      calibrationIsDue: true,
    };
  }
  const drift = learnProbeDrift(calibrations);
  const sloped = [...calibrations].reverse().find((calibration) => !calibration.slopeIsCarriedOver) ?? latest;
  const findings = [slopeFinding(sloped), offsetFinding(latest)].filter((finding) => finding !== undefined);
  const calibrationDue_epochMs = dueAt(latest, drift, rules, since_epochMs);
  const verdict =
    worseFirst.find((candidate) => findings.some((finding) => finding.verdict === candidate)) ?? "not known";
  const byDrift = offsetSigma(latest, drift, rules, { now_epochMs, born_epochMs: since_epochMs });
  return {
    verdict,
    remarks: [
      ...findings.flatMap(({ remark }) => (remark === undefined ? [] : [remark])),
      ...remarksOnDrift(drift),
      ...remarksOnAge(probeAge_days),
    ],
    latest,
    drift,
    probeAge_days,
    offsetPhSigma: Math.max(byDrift, leastPhSigma[verdict]),
    calibrationDue_epochMs,
    calibrationIsDue: now_epochMs >= calibrationDue_epochMs,
  };
}
