import { assertInstant, assertTimeZone } from "./civil-time.js";
import {
  assertDosingRule,
  dosingWindows,
  intersectedWindows,
  type DosingRule,
  type DosingWindow,
} from "./dosing-windows.js";

/** Whether gas may flow by the clock, and until when that holds. */
export type DosingState =
  | {
      readonly kind: "open";
      /** Never more than 60 days ahead: a window without an end shows that horizon. */
      readonly closes_epochMs: number;
    }
  | {
      readonly kind: "closed";
      /** Undefined when no window opens within 60 days. */
      readonly opens_epochMs: number | undefined;
    };

export interface DosingCalendar {
  /** The state at an instant. Cheap for calls in time order; right in any order. */
  stateAt(at_epochMs: number): DosingState;
  /** The windows inside [from, to), cut at both ends, sorted, without overlap. */
  windowsBetween(from_epochMs: number, to_epochMs: number): readonly DosingWindow[];
}

const day_ms = 86_400_000;
const horizon_days = 60;
const block_ms = 8 * day_ms;
/** Blocks kept: the horizon needs nine; the rest is for a clock that was set. */
const keptBlocks = 12;

interface Answer {
  readonly from_epochMs: number;
  readonly to_epochMs: number;
  readonly state: DosingState;
}

/**
 * The dosing calendar of a valve: open only where the windows of all its tanks overlap. Without a tank it is never open.
 * @throws UnknownNameError, OutOfValidRangeError for a malformed rule or zone, at once; for an instant outside the years
 * 1900 to 2500, when asked.
 */
export function createDosingCalendar(rules: readonly DosingRule[], timeZone: string): DosingCalendar {
  assertTimeZone(timeZone);
  rules.forEach(assertDosingRule);

  const phase_ms = phaseOf_ms(rules);
  const blockAt = (at_epochMs: number): number => Math.floor((at_epochMs + phase_ms) / block_ms);
  const beginOf_epochMs = (index: number): number => index * block_ms - phase_ms;
  // A memo of a pure function: it never changes an answer, only its cost.
  const blocks = new Map<number, readonly DosingWindow[]>();
  let last: Answer | undefined;

  function windowsBetween(from_epochMs: number, to_epochMs: number): readonly DosingWindow[] {
    return intersectedWindows(rules.map((rule) => dosingWindows(rule, timeZone, from_epochMs, to_epochMs)));
  }

  function windowsOfBlock(index: number): readonly DosingWindow[] {
    const known = blocks.get(index);
    if (known !== undefined) return known;
    const windows = windowsBetween(beginOf_epochMs(index), beginOf_epochMs(index + 1));
    if (blocks.size >= keptBlocks) {
      for (const oldest of blocks.keys()) {
        blocks.delete(oldest);
        break;
      }
    }
    blocks.set(index, windows);
    return windows;
  }

  /** The first window that closes after the instant, with its true end where that lies within the horizon. */
  function windowAtOrAfter(at_epochMs: number): DosingWindow | undefined {
    const limit_epochMs = at_epochMs + horizon_days * day_ms;
    let opens_epochMs: number | undefined;
    let closes_epochMs = at_epochMs;
    for (
      let index = blockAt(at_epochMs);
      beginOf_epochMs(index) <= limit_epochMs &&
      (opens_epochMs === undefined || closes_epochMs === beginOf_epochMs(index));
      index += 1
    ) {
      for (const window of windowsOfBlock(index)) {
        if (window.closes_epochMs <= at_epochMs) continue;
        if (opens_epochMs === undefined) {
          ({ opens_epochMs, closes_epochMs } = window);
        } else if (window.opens_epochMs === closes_epochMs) {
          ({ closes_epochMs } = window);
        } else {
          break;
        }
      }
    }
    return opens_epochMs === undefined ? undefined : { opens_epochMs, closes_epochMs };
  }

  function answerAt(at_epochMs: number): Answer {
    const limit_epochMs = at_epochMs + horizon_days * day_ms;
    const window = windowAtOrAfter(at_epochMs);
    if (window === undefined || window.opens_epochMs > limit_epochMs) {
      return {
        from_epochMs: at_epochMs,
        to_epochMs: at_epochMs,
        state: { kind: "closed", opens_epochMs: undefined },
      };
    }
    const { opens_epochMs, closes_epochMs } = window;
    if (opens_epochMs > at_epochMs) {
      return {
        from_epochMs: at_epochMs,
        to_epochMs: opens_epochMs,
        state: { kind: "closed", opens_epochMs },
      };
    }
    // An end beyond the horizon moves with the instant, so that answer is not kept.
    return closes_epochMs > limit_epochMs
      ? {
          from_epochMs: at_epochMs,
          to_epochMs: at_epochMs,
          state: { kind: "open", closes_epochMs: limit_epochMs },
        }
      : { from_epochMs: at_epochMs, to_epochMs: closes_epochMs, state: { kind: "open", closes_epochMs } };
  }

  return {
    stateAt(at_epochMs) {
      if (last !== undefined && last.from_epochMs <= at_epochMs && at_epochMs < last.to_epochMs) {
        return last.state;
      }
      assertInstant(at_epochMs);
      last = answerAt(at_epochMs);
      return last.state;
    },
    windowsBetween,
  };
}

/** Where its blocks begin: calendars that began them together would all be worked out in one and the same control pass. */
function phaseOf_ms(rules: readonly DosingRule[]): number {
  const text = JSON.stringify(rules);
  let sum = 0;
  for (let index = 0; index < text.length; index += 1) sum = (31 * sum + text.charCodeAt(index)) % block_ms;
  return sum;
}
