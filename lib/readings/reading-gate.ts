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
import { secondSender, withValueHeard, type HeardValues } from "./second-sender.js";
import type { SensorRules } from "./sensor-rules.js";
import { toCanonical, unitLabels } from "./sensor-unit.js";
import { isStuck, withRawSeen, type UnchangedSpan } from "./stuck-value.js";
import { beyondWater_K, type BelievedValue } from "./water-jump.js";

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
  readonly heard: HeardValues | undefined;
  readonly believed: BelievedValue | undefined;
  /** How many values have come since the last believed one that cannot be: outside the span, or faster than water. */
  readonly impossibleInARow: number;
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

/** One value that cannot be is a glitch; so many in a row are a sensor that measures something else. A judgement. */
const impossibleBeforeDoubt = 3;

/**
 * Whether a sensor speaks and says what cannot be: what it said before is then not true any more either, however young it is.
 */
export function isContradicted({ impossibleInARow }: ReadingGateState): boolean {
  return impossibleInARow >= impossibleBeforeDoubt;
}

export function createReadingGateState(): ReadingGateState {
  return {
    window: undefined,
    unchanged: undefined,
    heard: undefined,
    believed: undefined,
    impossibleInARow: 0,
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
 * Judges one number: retained, no number, age by its own time stamp, then unit and calibration, plausible span, stuck, two
 * senders, spike, and what the water of a tank cannot do. The first reason found refuses it. Only plausible values enter the median window.
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
  const longestSilence_ms = rules.maximumAge_s * 1000;
  const heard = withValueHeard(state.heard, value, raw.at_monotonicMs, longestSilence_ms);
  const impossible = (window = state.window): ReadingGateState => ({
    ...state,
    unchanged,
    heard,
    window,
    impossibleInARow: state.impossibleInARow + 1,
  });
  if (!isPlausible(value, rules.plausible)) {
    const { minimum, maximum } = rules.plausible;
    return refuse(
      "implausible",
      `${shown(value)} ${label} (received ${shown(raw.value)}); plausible is ${shown(minimum)} to ${shown(maximum)}`,
      impossible(),
    );
  }

  const window = withValueSeen(state.window, value, raw.at_monotonicMs, longestSilence_ms);
  const seen = (): ReadingGateState => ({ ...state, unchanged, heard, window });
  if (isStuck(unchanged, raw.at_monotonicMs, rules.stuckAfter_min)) {
    const since_ms = raw.at_monotonicMs - unchanged.since_monotonicMs;
    return refuse(
      "stuck",
      `${shown(value)} ${label} without any change for ${shown(Math.floor(since_ms / 60_000))} min; allowed are ${shown(rules.stuckAfter_min ?? 0)} min`,
      seen(),
    );
  }
  if (rules.spikeGate !== undefined && leapsToAndFro(window, rules.spikeGate)) {
    return refuse(
      "spike",
      `${shown(value)} ${label}: the last ${shown(medianWindowLength)} values leap to and fro by more than ${shown(rules.spikeGate)}; do two senders use the topic?`,
      seen(),
    );
  }
  const other = rules.spikeGate === undefined ? undefined : secondSender(heard, rules.spikeGate);
  if (other !== undefined) {
    return refuse(
      "spike",
      `${shown(value)} ${label}: ${shown(other)} comes between, again and again; do two senders use the topic?`,
      seen(),
    );
  }
  const distance = rules.spikeGate === undefined ? 0 : distanceFromMedian(window);
  if (rules.spikeGate !== undefined && distance > rules.spikeGate) {
    return refuse(
      "spike",
      `${shown(value)} ${label} is ${shown(distance)} from the median of the last ${shown(medianWindowLength)}; allowed is ${shown(rules.spikeGate)}`,
      seen(),
    );
  }

  const measured = { value, at_monotonicMs: raw.at_monotonicMs - Math.max(0, measuredAgo_ms) };
  const beyond_K =
    rules.fastest_KPerMin === undefined
      ? undefined
      : beyondWater_K(state.believed, measured, {
          gate: rules.spikeGate ?? 0,
          fastest_KPerMin: rules.fastest_KPerMin,
        });
  if (beyond_K !== undefined) {
    return refuse(
      "implausible",
      `${shown(value)} ${label} after ${shown(state.believed?.value ?? value)}: the water of a tank does not change so fast; is it in the water, and its unit the same?`,
      impossible(window),
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
    state: {
      window,
      unchanged,
      heard,
      believed: measured,
      impossibleInARow: 0,
      acceptedCount: state.acceptedCount + 1,
      rejectedCounts: state.rejectedCounts,
    },
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
