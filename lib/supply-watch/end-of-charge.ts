import { bar, said, type Said } from "../told/said.js";

/**
 * The end of a charge, at which its valve is held closed: below it the regulator no longer holds its outlet, and what flows is
 * not what was set. Only a pressure that was read, and believed, begins or ends a hold: one that is silent changes nothing.
 */

/** One pressure that was read and believed, with what it is held against. */
export interface EndLook {
  readonly at_epochMs: number;
  /** As it would be at the temperature of usual dosing, so that a room that warms up is no new gas. */
  readonly gauge_bar: number;
  /** Working pressure, margin and the gauge's own doubt. */
  readonly closeBelowGauge_bar: number;
  /**
   * "by eye": entered within a day of its reading. An older one is only told. One that came from afar may begin a hold and ends
   * none: whoever sent it need not have seen the vessel.
   */
  readonly from: "sensor" | "by eye" | "by eye, from afar" | "by eye, long ago";
}

export interface EndHold {
  readonly since_epochMs: number;
  readonly gauge_bar: number;
  readonly closeBelowGauge_bar: number;
  readonly from: "sensor" | "by eye";
}

/** Plain data that a store can keep as JSON. */
export interface EndOfChargeState {
  readonly version: 1;
  readonly last: EndLook | undefined;
  /** Since when each pressure read has been below, or well above; undefined: the last one was not. */
  readonly lowSince_epochMs: number | undefined;
  readonly highSince_epochMs: number | undefined;
  readonly held: EndHold | undefined;
}

/** How long a pressure must stay where it is before it counts. */
export interface EndPatience {
  readonly low_ms: number;
  readonly high_ms: number;
}

const minute_ms = 60_000;

/** For means of ten minutes: two in a row close, three in a row open again. A judgement. */
export const patienceWithMeans: EndPatience = { low_ms: 10 * minute_ms, high_ms: 20 * minute_ms };
/** For readings as they come. A judgement. */
export const patienceWithReadings: EndPatience = { low_ms: minute_ms, high_ms: 20 * minute_ms };

/**
 * So far above the limit a pressure must come to be that of a new charge. A judgement: what warm gas of a nearly empty vessel
 * gains over a hot day, a quarter of a bar for 20 K at 3.5 bar absolute, is far less, and a refill brings several bar.
 */
export const releaseAbove_bar = 1;

/** A gauge that was read so long before it was entered says what was, not what is. A judgement. */
export const recentByEye_ms = 24 * 60 * minute_ms;

export const firstEndOfChargeState: EndOfChargeState = {
  version: 1,
  last: undefined,
  lowSince_epochMs: undefined,
  highSince_epochMs: undefined,
  held: undefined,
};

/** The state after one more look. A look that is not later than the last one changes nothing. */
export function stepEndOfCharge(
  state: EndOfChargeState,
  look: EndLook,
  patience: EndPatience,
): EndOfChargeState {
  const { at_epochMs, gauge_bar, closeBelowGauge_bar, from } = look;
  if (state.last !== undefined && at_epochMs <= state.last.at_epochMs) return state;
  const isLow = gauge_bar < closeBelowGauge_bar;
  const isHigh = gauge_bar > closeBelowGauge_bar + releaseAbove_bar;
  const lowSince_epochMs = isLow ? (state.lowSince_epochMs ?? at_epochMs) : undefined;
  const highSince_epochMs = isHigh ? (state.highSince_epochMs ?? at_epochMs) : undefined;
  const next = { ...state, last: look, lowSince_epochMs, highSince_epochMs };
  if (from === "by eye, long ago") return next;
  const isByEye = from === "by eye" || from === "by eye, from afar";
  // A person does not read a gauge wrong for a second, and reads it again days later.
  const stays = (since_epochMs: number | undefined, least_ms: number): boolean =>
    since_epochMs !== undefined && (isByEye || at_epochMs - since_epochMs >= least_ms);
  if (state.held !== undefined) {
    return from !== "by eye, from afar" && stays(highSince_epochMs, patience.high_ms)
      ? { ...next, held: undefined }
      : next;
  }
  return stays(lowSince_epochMs, patience.low_ms)
    ? {
        ...next,
        held: {
          since_epochMs: at_epochMs,
          gauge_bar,
          closeBelowGauge_bar,
          from: isByEye ? "by eye" : "sensor",
        },
      }
    : next;
}

/** Whether the last pressure read is below the limit though nothing is held: it was read too long ago to act upon. */
export function isToldOnly({ held, last }: EndOfChargeState): boolean {
  return held === undefined && last?.from === "by eye, long ago" && last.gauge_bar < last.closeBelowGauge_bar;
}

/** What stands behind "end of charge: ". */
export function endReason(vesselId: string, { gauge_bar, closeBelowGauge_bar, from }: EndHold): Said {
  return said`below ${bar(closeBelowGauge_bar, 1)}: vessel ${vesselId} ${from === "sensor" ? "is" : "was read"} at ${bar(gauge_bar, 1)}; refill it`;
}
