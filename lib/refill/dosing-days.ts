import { addDays, assertInstant, instantsOfWallClock, wallClockAt } from "../schedule/civil-time.js";
import type { DosingCalendar } from "../schedule/dosing-calendar.js";
import type { DosingWindow } from "../schedule/dosing-windows.js";

/** A civil day on which a vessel is asked for gas. A window over midnight belongs to the day on which it opens. */
export interface DosingDay {
  /** YYYY-MM-DD */
  readonly date: string;
  /** What is still to come of its windows; sorted, without overlap. */
  readonly windows: readonly DosingWindow[];
  /** All of its windows, those that have passed too. */
  readonly open_ms: number;
}

/** The coming dosing days of a vessel, and the open time that they make up. */
export interface DosingDays {
  readonly from_epochMs: number;
  readonly to_epochMs: number;
  readonly days: readonly DosingDay[];
  /** Open time from the beginning until an instant. */
  openUntil_ms(at_epochMs: number): number;
  /** The instant at which so much open time has gone by; undefined beyond the end. */
  instantAfter(open_ms: number): number | undefined;
  /** The instants inside the span at which a window ends. */
  closingsBetween(from_epochMs: number, to_epochMs: number): readonly number[];
  /**
   * The same days as a run of places in `days`, `end` left out: those between the first and the last are missed whole, so only
   * the ends are looked at, however long the span.
   */
  missedRun(from_epochMs: number, to_epochMs: number): { readonly first: number; readonly end: number };
  /** The days of which more than `missedShare_ratio` of the open time lies in the span, oldest first. */
  missedBetween(from_epochMs: number, to_epochMs: number): readonly DosingDay[];
}

/** A day that misses more of its gas than this counts as lost. A judgement, no source. */
export const missedShare_ratio = 0.1;

const day_ms = 86_400_000;

/**
 * The dosing days of all valves on a vessel with opening in [from, to): open where any of them is. Windows that run into one
 * another for more than a day are parted at midnight.
 * @throws UnknownNameError for an unknown zone, OutOfValidRangeError outside the years 1900 to 2500 [IANAtz]
 */
export function dosingDays(
  calendars: readonly DosingCalendar[],
  timeZone: string,
  span: { readonly from_epochMs: number; readonly to_epochMs: number },
): DosingDays {
  const { from_epochMs, to_epochMs } = span;
  assertInstant(from_epochMs);
  assertInstant(to_epochMs);
  const all = united(
    calendars.flatMap((calendar) =>
      calendar.windowsBetween(from_epochMs - 2 * day_ms, to_epochMs + 2 * day_ms),
    ),
  ).flatMap((window) => partedAtMidnight(window, timeZone));
  const byDate = new Map<string, DosingWindow[]>();
  for (const window of all) {
    const { date } = wallClockAt(window.opens_epochMs, timeZone);
    byDate.set(date, [...(byDate.get(date) ?? []), window]);
  }
  const days = [...byDate].flatMap(([date, ofDay]): readonly DosingDay[] => {
    const windows = ofDay
      .filter(
        ({ opens_epochMs, closes_epochMs }) => closes_epochMs > from_epochMs && opens_epochMs < to_epochMs,
      )
      .map(({ opens_epochMs, closes_epochMs }) => ({
        opens_epochMs: Math.max(opens_epochMs, from_epochMs),
        closes_epochMs,
      }));
    const open_ms = ofDay.reduce((sum, window) => sum + lengthOf_ms(window), 0);
    return windows.length === 0 ? [] : [{ date, open_ms, windows }];
  });
  const windows = days.flatMap((day) => day.windows);
  const ends_ms: number[] = [];
  for (const window of windows) ends_ms.push((ends_ms.at(-1) ?? 0) + lengthOf_ms(window));

  /** The instants that are searched for, in arrays of their own. */
  const starts_epochMs = days.map((day) => day.windows[0]?.opens_epochMs ?? Infinity);
  const dayEnds_epochMs = days.map(endOf);
  const isMissed = (index: number, gapFrom_epochMs: number, gapTo_epochMs: number): boolean => {
    const day = days[index];
    if (day === undefined) return false;
    let gap_ms = 0;
    for (const { opens_epochMs, closes_epochMs } of day.windows) {
      gap_ms += Math.max(
        0,
        Math.min(closes_epochMs, gapTo_epochMs) - Math.max(opens_epochMs, gapFrom_epochMs),
      );
    }
    return gap_ms > missedShare_ratio * day.open_ms;
  };
  const missedRun = (
    gapFrom_epochMs: number,
    gapTo_epochMs: number,
  ): { readonly first: number; readonly end: number } => {
    let first = firstIndex(days.length, (k) => (dayEnds_epochMs[k] ?? Infinity) > gapFrom_epochMs);
    // A span that ends before it begins misses nothing.
    let end = Math.max(
      first,
      firstIndex(days.length, (k) => (starts_epochMs[k] ?? Infinity) >= gapTo_epochMs),
    );
    // Of today little may be left, and of the days at the ends little may be missed; all between are missed whole.
    while (first < end && !isMissed(first, gapFrom_epochMs, gapTo_epochMs)) first += 1;
    while (end > first && !isMissed(end - 1, gapFrom_epochMs, gapTo_epochMs)) end -= 1;
    return { first, end };
  };

  return {
    from_epochMs,
    to_epochMs,
    days,
    openUntil_ms(at_epochMs) {
      const index = firstIndex(windows.length, (k) => (windows[k]?.closes_epochMs ?? Infinity) > at_epochMs);
      const window = windows[index];
      const before_ms = index === 0 ? 0 : (ends_ms[index - 1] ?? 0);
      return window === undefined ? before_ms : before_ms + Math.max(0, at_epochMs - window.opens_epochMs);
    },
    instantAfter(open_ms) {
      if (!(open_ms > 0)) return from_epochMs;
      const index = firstIndex(windows.length, (k) => (ends_ms[k] ?? Infinity) >= open_ms);
      const window = windows[index];
      if (window === undefined) return undefined;
      return window.closes_epochMs - ((ends_ms[index] ?? 0) - open_ms);
    },
    closingsBetween(gapFrom_epochMs, gapTo_epochMs) {
      const first = firstIndex(
        windows.length,
        (k) => (windows[k]?.closes_epochMs ?? Infinity) > gapFrom_epochMs,
      );
      const end = firstIndex(
        windows.length,
        (k) => (windows[k]?.closes_epochMs ?? Infinity) >= gapTo_epochMs,
      );
      return windows.slice(first, end).map((window) => window.closes_epochMs);
    },
    missedRun,
    missedBetween(gapFrom_epochMs, gapTo_epochMs) {
      const { first, end } = missedRun(gapFrom_epochMs, gapTo_epochMs);
      return days.slice(first, end);
    },
  };
}

/** Whole dosing days until three instants of a run-out. */
export interface DosingDaysLeft {
  readonly median: number;
  readonly low80: number;
  readonly high80: number;
  /** The first day that the median run-out leaves short; undefined beyond the days that were looked at. */
  readonly firstShort: string | undefined;
}

/**
 * How many dosing days are still served, today's rest among them where any of it is to come: counted by the calendar, so that
 * dates off and days without light do not count.
 */
export function dosingDaysLeft(
  days: DosingDays,
  runOut: {
    readonly median_epochMs: number;
    readonly low80_epochMs: number;
    readonly high80_epochMs: number;
  },
): DosingDaysLeft {
  const served = (until_epochMs: number): number => {
    const short = days.missedBetween(until_epochMs, Infinity)[0];
    return short === undefined ? days.days.length : days.days.indexOf(short);
  };
  return {
    median: served(runOut.median_epochMs),
    low80: served(runOut.low80_epochMs),
    high80: served(runOut.high80_epochMs),
    firstShort: days.missedBetween(runOut.median_epochMs, Infinity)[0]?.date,
  };
}

function lengthOf_ms(window: DosingWindow): number {
  return window.closes_epochMs - window.opens_epochMs;
}

function endOf(day: DosingDay | undefined): number {
  return day?.windows.at(-1)?.closes_epochMs ?? Infinity;
}

function firstIndex(count: number, holds: (index: number) => boolean): number {
  let low = 0;
  let high = count;
  while (low < high) {
    const middle = Math.floor((low + high) / 2);
    if (holds(middle)) high = middle;
    else low = middle + 1;
  }
  return low;
}

function united(windows: readonly DosingWindow[]): readonly DosingWindow[] {
  const merged: DosingWindow[] = [];
  for (const window of [...windows].sort((one, other) => one.opens_epochMs - other.opens_epochMs)) {
    const last = merged.at(-1);
    if (last !== undefined && window.opens_epochMs <= last.closes_epochMs) {
      const closes_epochMs = Math.max(last.closes_epochMs, window.closes_epochMs);
      merged[merged.length - 1] = { opens_epochMs: last.opens_epochMs, closes_epochMs };
    } else merged.push(window);
  }
  return merged;
}

function partedAtMidnight(window: DosingWindow, timeZone: string): readonly DosingWindow[] {
  if (lengthOf_ms(window) < day_ms) return [window];
  const parts: DosingWindow[] = [];
  let { opens_epochMs } = window;
  while (opens_epochMs < window.closes_epochMs) {
    const midnight_epochMs = startOfDate(addDays(wallClockAt(opens_epochMs, timeZone).date, 1), timeZone);
    const closes_epochMs = Math.min(midnight_epochMs, window.closes_epochMs);
    parts.push({ opens_epochMs, closes_epochMs });
    opens_epochMs = closes_epochMs;
  }
  return parts;
}

/** The first instant of a civil date: where midnight does not exist, that of the clock change; where it comes twice, the first. */
export function startOfDate(date: string, timeZone: string): number {
  const midnight = instantsOfWallClock(date, 0, timeZone);
  switch (midnight.kind) {
    case "once":
      return midnight.at_epochMs;
    case "twice":
      return midnight.earlier_epochMs;
    case "never":
      return midnight.change_epochMs;
  }
}
