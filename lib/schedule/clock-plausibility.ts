import { assertInstant } from "./civil-time.js";

/**
 * Whether the civil clock may be believed. A machine without a battery clock starts with an old time; windows computed from it
 * would put gas on at night.
 */

/** What the operating system says about the synchronisation of its clock. */
export type Synchronisation = "synchronised" | "not synchronised" | "unknown";

/** The civil and the monotonic clock, read together. */
export interface BothClocks {
  readonly now_epochMs: number;
  readonly monotonic_ms: number;
}

/** What is known about the clocks at one tick. */
export interface ClockTick extends BothClocks {
  /** No true time lies before it: the date of the build, or the latest instant that was found in the store at start. */
  readonly notBefore_epochMs: number;
  readonly synchronisation: Synchronisation;
}

export type ClockVerdict =
  | { readonly kind: "plausible" }
  | {
      readonly kind: "implausible";
      readonly reason: "before the latest known instant" | "beyond the year 2099" | "unsettled";
    };

export interface ClockPlausibilityState {
  /** Civil less monotonic time as followed at the speed of slewing; undefined before the first tick. */
  readonly offset_ms: number | undefined;
  readonly lastTickMonotonic_ms: number;
  /** Since when the clock runs without a jump, while that is not yet long enough. */
  readonly unsettledSinceMonotonic_ms: number | undefined;
  /** A person said that the clock is right here; it stands in for notBefore while that lies ahead. */
  readonly accepted_epochMs: number | undefined;
}

/** So far may the clock lie before the latest known instant: an ordinary correction after a start. */
export const toleranceBefore_ms = 10 * 60_000;
/** A larger change against the monotonic clock is a jump. */
export const jump_ms = 2 * 60_000;
/** So long must the clock run without a jump before it is believed again. */
export const settling_ms = 10 * 60_000;
/** 2100-01-01T00:00:00Z */
export const tooLate_epochMs = 4_102_444_800_000;
/** Slewing up to this speed is no jump; time daemons stay below a tenth (common practice, no source). */
const fastestSlew_ratio = 0.1;

/**
 * The state before the first tick.
 * @param accepted_epochMs  the acceptance of an earlier run, as `state.accepted_epochMs` held it; it saves asking the person again.
 */
export function createClockPlausibilityState(accepted_epochMs?: number): ClockPlausibilityState {
  return {
    offset_ms: undefined,
    lastTickMonotonic_ms: 0,
    unsettledSinceMonotonic_ms: undefined,
    accepted_epochMs,
  };
}

/**
 * Judges the civil clock at one tick. At the first tick a clock that the system calls not synchronised counts as one that has
 * just jumped: the true time of the stop before it is not known. Steps smaller than a jump add up unless slewing could
 * have made them. Synchronisation ends the settling at once, but never excuses a time before the latest known instant.
 */
export function judgeClock(
  state: ClockPlausibilityState,
  tick: ClockTick,
): { readonly verdict: ClockVerdict; readonly state: ClockPlausibilityState } {
  const followed = followClock(state, tick);
  const { now_epochMs, notBefore_epochMs } = tick;
  if (!(now_epochMs < tooLate_epochMs)) return implausible(followed, "beyond the year 2099");

  const floor_epochMs = followed.accepted_epochMs ?? notBefore_epochMs;
  if (now_epochMs < Math.min(floor_epochMs, notBefore_epochMs) - toleranceBefore_ms) {
    return implausible(followed, "before the latest known instant");
  }
  if (followed.unsettledSinceMonotonic_ms !== undefined) return implausible(followed, "unsettled");
  // An acceptance moves on with the time that it vouches for, and ends once the plain rule does.
  const accepted_epochMs =
    followed.accepted_epochMs === undefined || now_epochMs >= notBefore_epochMs
      ? undefined
      : Math.max(followed.accepted_epochMs, now_epochMs);
  return { verdict: { kind: "plausible" }, state: { ...followed, accepted_epochMs } };
}

/**
 * A person has compared the clock with a true one: from here on it is believed, until it jumps.
 * @throws OutOfValidRangeError when the instant is no number or outside the years 1900 to 2500.
 */
export function acceptClock(state: ClockPlausibilityState, now: BothClocks): ClockPlausibilityState {
  assertInstant(now.now_epochMs);
  return {
    ...state,
    offset_ms: offsetOf_ms(now),
    lastTickMonotonic_ms: now.monotonic_ms,
    unsettledSinceMonotonic_ms: undefined,
    accepted_epochMs: now.now_epochMs,
  };
}

function followClock(state: ClockPlausibilityState, tick: ClockTick): ClockPlausibilityState {
  const { monotonic_ms, synchronisation } = tick;
  const seenOffset_ms = offsetOf_ms(tick);
  const isSynchronised = synchronisation === "synchronised";

  if (state.offset_ms === undefined) {
    return {
      ...state,
      offset_ms: seenOffset_ms,
      lastTickMonotonic_ms: monotonic_ms,
      unsettledSinceMonotonic_ms: synchronisation === "not synchronised" ? monotonic_ms : undefined,
    };
  }

  const change_ms = seenOffset_ms - state.offset_ms;
  // Written so that a clock that is no number counts as a jump.
  const hasJumped = !(Math.abs(change_ms) <= jump_ms);
  if (hasJumped) {
    return {
      ...state,
      offset_ms: seenOffset_ms,
      lastTickMonotonic_ms: monotonic_ms,
      unsettledSinceMonotonic_ms: isSynchronised ? undefined : monotonic_ms,
    };
  }
  const elapsed_ms = Math.max(0, monotonic_ms - state.lastTickMonotonic_ms);
  const step_ms = isSynchronised ? Infinity : elapsed_ms * fastestSlew_ratio;
  const sinceMonotonic_ms = state.unsettledSinceMonotonic_ms;
  const isSettled =
    isSynchronised || sinceMonotonic_ms === undefined || monotonic_ms - sinceMonotonic_ms >= settling_ms;
  return {
    ...state,
    offset_ms: state.offset_ms + Math.max(-step_ms, Math.min(step_ms, change_ms)),
    lastTickMonotonic_ms: monotonic_ms,
    unsettledSinceMonotonic_ms: isSettled ? undefined : sinceMonotonic_ms,
  };
}

/** Civil less monotonic time: constant while the civil clock is not set and not slewed. */
function offsetOf_ms(clocks: BothClocks): number {
  const sinceStart = clocks.monotonic_ms;
  return clocks.now_epochMs - sinceStart;
}

function implausible(
  state: ClockPlausibilityState,
  reason: (ClockVerdict & { readonly kind: "implausible" })["reason"],
): { readonly verdict: ClockVerdict; readonly state: ClockPlausibilityState } {
  return { verdict: { kind: "implausible", reason }, state };
}
