import { calibrated } from "./calibration.js";
import {
  distanceFromMedian,
  leapsToAndFro,
  medianWindowLength,
  withValueSeen,
  type MedianWindow,
} from "./median-gate.js";
import { isPlausible } from "./plausible-span.js";
import type { Reading, RejectedReading, RejectionReason } from "./reading.js";
import type { SensorRules } from "./sensor-rules.js";
import { toCanonical, unitLabels } from "./sensor-unit.js";
import { isStuck, withRawSeen, type UnchangedSpan } from "./stuck-value.js";

/** One decoded number as it came in, in the sensor's own unit. */
export interface RawReading {
  readonly value: number;
  /** The broker held it back: it is history. */
  readonly retained: boolean;
  /** When the sensor says it measured; without it the instant of arrival counts. */
  readonly measuredAt_epochMs?: number | undefined;
  readonly at_epochMs: number;
  readonly at_monotonicMs: number;
}

/** What the gate remembers of one sensor. */
export interface ReadingGateState {
  readonly window: MedianWindow | undefined;
  readonly unchanged: UnchangedSpan | undefined;
  readonly acceptedCount: number;
  /** How often each reason refused a reading since the start. */
  readonly rejectedCounts: Readonly<Record<RejectionReason, number>>;
}

export interface JudgedReading {
  readonly result: Reading | RejectedReading;
  readonly state: ReadingGateState;
}

/** So far may a sensor's own clock run ahead of ours before its readings are refused. */
export const futureTolerance_s = 30;

const longestDetail = 200;

export function createReadingGateState(): ReadingGateState {
  return {
    window: undefined,
    unchanged: undefined,
    acceptedCount: 0,
    rejectedCounts: {
      retained: 0,
      undecodable: 0,
      "not a number": 0,
      implausible: 0,
      spike: 0,
      stuck: 0,
      "too old": 0,
      "from the future": 0,
    },
  };
}

/**
 * Judges one number: retained, no number, age by its own time stamp, then unit and calibration, plausible span, stuck, spike.
 * The first reason found refuses it. Only plausible values enter the median window.
 */
export function judgeReading(rules: SensorRules, state: ReadingGateState, raw: RawReading): JudgedReading {
  const refuse = (reason: RejectionReason, detail: string, next: ReadingGateState = state) =>
    rejected(rules, next, { reason, detail, at_epochMs: raw.at_epochMs });

  if (raw.retained) return refuse("retained", "the broker held this value back; only live ones count");
  if (!Number.isFinite(raw.value)) return refuse("not a number", `${String(raw.value)} is no finite number`);

  const measuredAgo_ms = raw.measuredAt_epochMs === undefined ? 0 : raw.at_epochMs - raw.measuredAt_epochMs;
  if (!Number.isFinite(measuredAgo_ms)) return refuse("not a number", "the time stamp is no finite number");
  if (measuredAgo_ms > rules.maximumAge_s * 1000) {
    return refuse(
      "too old",
      `measured ${seconds(measuredAgo_ms)} s before it came; allowed are ${shown(rules.maximumAge_s)} s`,
    );
  }
  if (-measuredAgo_ms > futureTolerance_s * 1000) {
    return refuse(
      "from the future",
      `time stamp ${seconds(-measuredAgo_ms)} s ahead of our clock; allowed are ${shown(futureTolerance_s)} s`,
    );
  }

  const value = calibrated(toCanonical(raw.value, rules.unit), rules.calibration);
  const unchanged = withRawSeen(state.unchanged, raw.value, raw.at_monotonicMs);
  const label = unitLabels[rules.quantity];
  if (!isPlausible(value, rules.plausible)) {
    const { minimum, maximum } = rules.plausible;
    return refuse(
      "implausible",
      `${shown(value)} ${label} (received ${shown(raw.value)}); plausible is ${shown(minimum)} to ${shown(maximum)}`,
      { ...state, unchanged },
    );
  }

  const longestSilence_ms = rules.maximumAge_s * 1000;
  const window = withValueSeen(state.window, value, raw.at_monotonicMs, longestSilence_ms);
  const seen: ReadingGateState = { ...state, unchanged, window };
  if (isStuck(unchanged, raw.at_monotonicMs, rules.stuckAfter_min)) {
    const since_ms = raw.at_monotonicMs - unchanged.since_monotonicMs;
    return refuse(
      "stuck",
      `${shown(value)} ${label} without any change for ${shown(Math.floor(since_ms / 60_000))} min; allowed are ${shown(rules.stuckAfter_min ?? 0)} min`,
      seen,
    );
  }
  if (rules.spikeGate !== undefined && leapsToAndFro(window, rules.spikeGate)) {
    return refuse(
      "spike",
      `${shown(value)} ${label}: the last ${shown(medianWindowLength)} values leap to and fro by more than ${shown(rules.spikeGate)}; do two senders use the topic?`,
      seen,
    );
  }
  const distance = distanceFromMedian(window);
  if (rules.spikeGate !== undefined && distance > rules.spikeGate) {
    return refuse(
      "spike",
      `${shown(value)} ${label} is ${shown(distance)} from the median of the last ${shown(medianWindowLength)}; allowed is ${shown(rules.spikeGate)}`,
      seen,
    );
  }

  // A time stamp a little ahead of our clock makes a reading no younger than its arrival.
  const age_ms = Math.max(0, measuredAgo_ms);
  return {
    result: {
      kind: "accepted",
      sensorId: rules.sensorId,
      quantity: rules.quantity,
      value,
      at_epochMs: raw.at_epochMs - Math.round(age_ms),
      at_monotonicMs: raw.at_monotonicMs - Math.round(age_ms),
    },
    state: { ...seen, acceptedCount: seen.acceptedCount + 1 },
  };
}

/** Counts a payload in which no number was found; `detail` says why and is cut to 200 characters. */
export function rejectUndecodable(
  rules: SensorRules,
  state: ReadingGateState,
  refused: { readonly detail: string; readonly at_epochMs: number },
): JudgedReading {
  return rejected(rules, state, { reason: "undecodable", ...refused });
}

function rejected(
  rules: SensorRules,
  state: ReadingGateState,
  refused: { readonly reason: RejectionReason; readonly detail: string; readonly at_epochMs: number },
): JudgedReading {
  const { reason, at_epochMs } = refused;
  return {
    result: {
      kind: "rejected",
      sensorId: rules.sensorId,
      reason,
      detail: refused.detail.slice(0, longestDetail),
      at_epochMs,
    },
    state: {
      ...state,
      rejectedCounts: { ...state.rejectedCounts, [reason]: state.rejectedCounts[reason] + 1 },
    },
  };
}

function shown(value: number): string {
  return String(Number(value.toPrecision(5)));
}

function seconds(duration_ms: number): string {
  return shown(Math.round(duration_ms / 100) / 10);
}
