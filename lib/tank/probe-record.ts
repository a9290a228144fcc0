import type { FactOf, JournalEntry } from "../journal/journal-entry.js";
import type { LinearCalibration } from "../readings/calibration.js";
import {
  calibrateProbe,
  calibrationSlopeSigma_ratio,
  probeCorrection,
  type ProbeCalibration,
} from "./probe-calibration.js";
import { driftPhSigma } from "./probe-drift.js";
import { probeHealth, uncalibratedPhSigma, type ProbeHealth } from "./probe-health.js";

/** What corrects the probe, and so what its uncertainty rests on. */
export type ProbeBasis =
  "calibration in the journal" | "accuracy in the config" | "calibration in the config" | "never calibrated";

export interface ProbeRecord {
  readonly calibrations: readonly ProbeCalibration[];
  /** Calibrations of the journal that cannot be used, with the reason. */
  readonly refused: readonly { readonly at_epochMs: number; readonly explanation: string }[];
}

export interface ProbeNow {
  readonly basis: ProbeBasis;
  readonly health: ProbeHealth;
  readonly refused: ProbeRecord["refused"];
  /** Standard uncertainty by which the probe as a whole may stand off, pH. */
  readonly offsetPhSigma: number;
  readonly slopeSigma_ratio: number;
}

/** A correction in the config has no date: as far off as a probe four weeks after its buffers. Judgement. */
const undatedPhSigma = 0.13;
/** Two buffers and no more known of them. */
const unknownSlopeSigma_ratio = 0.02;
const uncalibratedSlopeSigma_ratio = 0.05;
/** Beyond this a pH says nothing, and no formula takes it. */
const largestPhSigma = 1;
const day_ms = 86_400_000;

/**
 * The calibrations that a journal holds of one probe, each built on the ones before, as one buffer takes the slope of the last
 * two. What cannot be right is set aside with its reason, and the one before goes on counting.
 * @param entries  of this sensor, oldest first; what its topic showed, before any correction
 */
export function probeRecord(entries: readonly JournalEntry<FactOf<"calibration">>[]): ProbeRecord {
  const calibrations: ProbeCalibration[] = [];
  const refused: { readonly at_epochMs: number; readonly explanation: string }[] = [];
  for (const { at_epochMs, fact } of entries) {
    const result = calibrateProbe({ at_epochMs, buffers: fact.buffers }, calibrations.at(-1));
    if (result.kind === "calibrated") calibrations.push(result);
    else refused.push({ at_epochMs, explanation: result.explanation });
  }
  return { calibrations, refused };
}

/** A working meter that speaks in pH is corrected by less; beyond these its topic carries mV or volts. */
const phScaleGain = { minimum: 0.4, maximum: 1.6 } as const;

/**
 * The correction by the journal's last calibration, for what the topic shows; undefined where there is none. Of a topic that
 * carries pH it takes the place of the config's, never comes on top of it: the buffers were read without any correction. Where
 * the config makes a pH of mV or volts, a person can only have read that pH, and the calibration corrects it further.
 */
export function journalCorrection(
  { calibrations }: ProbeRecord,
  config: LinearCalibration,
): LinearCalibration | undefined {
  const latest = calibrations.at(-1);
  if (latest === undefined) return undefined;
  const { gain, offset } = probeCorrection(latest, latest.temperature_degC);
  const carriesPh = config.gain >= phScaleGain.minimum && config.gain <= phScaleGain.maximum;
  return carriesPh ? { gain, offset } : { gain: gain * config.gain, offset: gain * config.offset + offset };
}

/** The same for the person who stands at the buffers: what is shown there is a pH, and by the config's pH where it makes one. */
export function shownCorrection({ calibrations }: ProbeRecord, config: LinearCalibration): LinearCalibration {
  const latest = calibrations.at(-1);
  if (latest !== undefined) return probeCorrection(latest, latest.temperature_degC);
  const carriesPh = config.gain >= phScaleGain.minimum && config.gain <= phScaleGain.maximum;
  return carriesPh ? config : { gain: 1, offset: 0 };
}

/**
 * How far a probe may stand off now: by the drift since its last calibration in the journal, else by a correction without a date,
 * else as a probe that was never calibrated. An accuracy that the config states comes on top: no maker's figure stops the drift.
 */
export function probeNow(
  record: ProbeRecord,
  config: { readonly accuracyPh: number | undefined; readonly isCorrected: boolean },
  now_epochMs: number,
): ProbeNow {
  const health = probeHealth({ calibrations: record.calibrations, now_epochMs });
  const common = { health, refused: record.refused };
  if (health.latest !== undefined) {
    return {
      ...common,
      basis: "calibration in the journal",
      offsetPhSigma: health.offsetPhSigma,
      slopeSigma_ratio: calibrationSlopeSigma_ratio(health.latest),
    };
  }
  const corrected = config.isCorrected
    ? ({
        basis: "calibration in the config",
        offsetPhSigma: undatedPhSigma,
        slopeSigma_ratio: unknownSlopeSigma_ratio,
      } as const)
    : ({
        basis: "never calibrated",
        offsetPhSigma: uncalibratedPhSigma,
        slopeSigma_ratio: uncalibratedSlopeSigma_ratio,
      } as const);
  if (config.accuracyPh === undefined) return { ...common, ...corrected };
  return {
    ...common,
    ...corrected,
    basis: config.accuracyPh > corrected.offsetPhSigma ? "accuracy in the config" : corrected.basis,
    offsetPhSigma: Math.min(Math.hypot(config.accuracyPh, corrected.offsetPhSigma), largestPhSigma),
  };
}

/** What of the probe's drift fell between an earlier reading and now, pH: the offset they share cancels in a drop, this does not. */
export function probeDriftSince(
  probe: ProbeNow,
  since_epochMs: number | undefined,
  now_epochMs: number,
): number {
  const undated_days = 56;
  const span_days = since_epochMs === undefined ? undated_days : (now_epochMs - since_epochMs) / day_ms;
  return driftPhSigma(probe.health.drift, span_days);
}
