import { UnknownNameError } from "../errors.js";
import { assertInRange } from "../quantities/valid-range.js";
import {
  addDays,
  assertInstant,
  assertTimeZone,
  instantsOfWallClock,
  isCivilDate,
  minuteOfDay,
  wallClockAt,
  weekdayOf,
  weekdays,
  type InstantsOfWallClock,
  type Weekday,
} from "./civil-time.js";

/** One span of light. Lights off at or before lights on means the next day; `days` are the days of lights on. */
export interface Photoperiod {
  /** HH:MM on the wall clock */
  readonly lightsOn: string;
  /** HH:MM on the wall clock */
  readonly lightsOff: string;
  readonly days: readonly Weekday[];
  /** Of this span alone; the rule's where it is left out. */
  readonly lead_min?: number;
}

/** A date YYYY-MM-DD, or a span of dates, both ends included. Refers to the date of lights on. */
export type DateOff = string | { readonly from: string; readonly to: string };

/** When one tank may have gas. */
export interface DosingRule {
  readonly photoperiods: readonly Photoperiod[];
  /** Gas opens so many elapsed minutes before lights on, 0 to 240. */
  readonly lead_min: number;
  /** Gas closes so many elapsed minutes before lights off, 0 to 240. */
  readonly earlyClose_min: number;
  readonly datesOff: readonly DateOff[];
}

/** Open at opens <= at < closes. */
export interface DosingWindow {
  readonly opens_epochMs: number;
  readonly closes_epochMs: number;
}

/** One photoperiod on one date, placed on the time line by the cautious reading of gaps and folds. */
export interface PlacedPhotoperiod {
  readonly date: string;
  readonly photoperiod: Photoperiod;
  readonly lightsOn: InstantsOfWallClock;
  readonly lightsOff: InstantsOfWallClock;
  /** Undefined where the clock change, or the early closing, leaves nothing of it. */
  readonly window: DosingWindow | undefined;
}

const minute_ms = 60_000;

/**
 * The dosing windows of one tank inside [from, to), cut at both ends, sorted, merged, without overlap.
 *
 * Where the wall clock is no help the window shrinks: a lights-on time that comes twice counts the second time, a lights-off
 * time that comes twice the first; a time that does not exist counts at the instant of the change, which is the first
 * after the gap. A photoperiod of no elapsed length gives no window, even with a lead.
 * @throws UnknownNameError for an unknown zone, day, date or time of day.
 * @throws OutOfValidRangeError for a lead or early closing outside 0 to 240 min, or an instant outside the years 1900 to 2500.
 * @see [IANAtz] for the rules of the zones
 */
export function dosingWindows(
  rule: DosingRule,
  timeZone: string,
  from_epochMs: number,
  to_epochMs: number,
): readonly DosingWindow[] {
  assertDosingRule(rule);
  assertTimeZone(timeZone);
  assertInstant(from_epochMs);
  assertInstant(to_epochMs);
  if (to_epochMs <= from_epochMs) return [];
  // A window reaches from 4 h before its date to the end of the next one; a zone that skips a whole day adds one.
  const firstDate = addDays(wallClockAt(from_epochMs, timeZone).date, -2);
  const lastDate = addDays(wallClockAt(to_epochMs, timeZone).date, 2);
  const windows: DosingWindow[] = [];
  for (const { window } of placedPhotoperiods(rule, timeZone, { firstDate, lastDate })) {
    if (window === undefined) continue;
    const opens_epochMs = Math.max(window.opens_epochMs, from_epochMs);
    const closes_epochMs = Math.min(window.closes_epochMs, to_epochMs);
    if (opens_epochMs < closes_epochMs) windows.push({ opens_epochMs, closes_epochMs });
  }
  return mergedWindows(windows);
}

/** Every photoperiod whose lights-on date lies in the span and is not off, whether or not a window is left of it. */
export function placedPhotoperiods(
  rule: DosingRule,
  timeZone: string,
  dates: { readonly firstDate: string; readonly lastDate: string },
): readonly PlacedPhotoperiod[] {
  const placed: PlacedPhotoperiod[] = [];
  for (let date = dates.firstDate; date <= dates.lastDate; date = addDays(date, 1)) {
    if (isDateOff(rule.datesOff, date)) continue;
    const weekday = weekdayOf(date);
    for (const photoperiod of rule.photoperiods) {
      if (photoperiod.days.includes(weekday)) placed.push(placedOn(date, photoperiod, rule, timeZone));
    }
  }
  return placed;
}

/** The windows in which every list is open; nothing when there is no list. Each list sorted and merged. */
export function intersectedWindows(lists: readonly (readonly DosingWindow[])[]): readonly DosingWindow[] {
  const [first, ...rest] = lists;
  if (first === undefined) return [];
  return rest.reduce(intersectionOfTwo, first);
}

function placedOn(
  date: string,
  photoperiod: Photoperiod,
  rule: DosingRule,
  timeZone: string,
): PlacedPhotoperiod {
  const on_min = minuteOfDay(photoperiod.lightsOn);
  const off_min = minuteOfDay(photoperiod.lightsOff);
  const lightsOn = instantsOfWallClock(date, on_min, timeZone);
  const lightsOff = instantsOfWallClock(off_min <= on_min ? addDays(date, 1) : date, off_min, timeZone);
  const lightsOn_epochMs = latestOf(lightsOn);
  const lightsOff_epochMs = earliestOf(lightsOff);
  const opens_epochMs = lightsOn_epochMs - (photoperiod.lead_min ?? rule.lead_min) * minute_ms;
  const closes_epochMs = lightsOff_epochMs - rule.earlyClose_min * minute_ms;
  const isLeft = lightsOn_epochMs < lightsOff_epochMs && opens_epochMs < closes_epochMs;
  return {
    date,
    photoperiod,
    lightsOn,
    lightsOff,
    window: isLeft ? { opens_epochMs, closes_epochMs } : undefined,
  };
}

function latestOf(instants: InstantsOfWallClock): number {
  switch (instants.kind) {
    case "once":
      return instants.at_epochMs;
    case "twice":
      return instants.later_epochMs;
    case "never":
      return instants.change_epochMs;
  }
}

function earliestOf(instants: InstantsOfWallClock): number {
  return instants.kind === "twice" ? instants.earlier_epochMs : latestOf(instants);
}

/** The union of windows: sorted, without overlap. */
export function mergedWindows(windows: readonly DosingWindow[]): readonly DosingWindow[] {
  const sorted = [...windows].sort((a, b) => a.opens_epochMs - b.opens_epochMs);
  const merged: DosingWindow[] = [];
  for (const window of sorted) {
    const last = merged.at(-1);
    if (last !== undefined && window.opens_epochMs <= last.closes_epochMs) {
      const closes_epochMs = Math.max(last.closes_epochMs, window.closes_epochMs);
      merged[merged.length - 1] = { opens_epochMs: last.opens_epochMs, closes_epochMs };
    } else {
      merged.push(window);
    }
  }
  return merged;
}

function intersectionOfTwo(
  left: readonly DosingWindow[],
  right: readonly DosingWindow[],
): readonly DosingWindow[] {
  const both: DosingWindow[] = [];
  let i = 0;
  let j = 0;
  for (;;) {
    const a = left[i];
    const b = right[j];
    if (a === undefined || b === undefined) return both;
    const opens_epochMs = Math.max(a.opens_epochMs, b.opens_epochMs);
    const closes_epochMs = Math.min(a.closes_epochMs, b.closes_epochMs);
    if (opens_epochMs < closes_epochMs) both.push({ opens_epochMs, closes_epochMs });
    if (a.closes_epochMs < b.closes_epochMs) i += 1;
    else j += 1;
  }
}

function isDateOff(datesOff: readonly DateOff[], date: string): boolean {
  return datesOff.some((off) =>
    typeof off === "string" ? off === date : off.from <= date && date <= off.to,
  );
}

/**
 * @throws UnknownNameError for a malformed time, date, span of dates or day.
 * @throws OutOfValidRangeError for a lead or an early closing outside 0 to 240 min.
 */
export function assertDosingRule(rule: DosingRule): void {
  const leadRange = { quantity: "lead", unit: "min", minimum: 0, maximum: 240 };
  assertInRange(rule.lead_min, leadRange);
  assertInRange(rule.earlyClose_min, { quantity: "early closing", unit: "min", minimum: 0, maximum: 240 });
  for (const photoperiod of rule.photoperiods) {
    minuteOfDay(photoperiod.lightsOn);
    minuteOfDay(photoperiod.lightsOff);
    if (photoperiod.lead_min !== undefined) assertInRange(photoperiod.lead_min, leadRange);
    for (const day of photoperiod.days) {
      if (!weekdays.includes(day)) throw new UnknownNameError("day of the week", day, weekdays);
    }
  }
  for (const off of rule.datesOff) {
    const { from, to } = typeof off === "string" ? { from: off, to: off } : off;
    for (const date of [from, to]) {
      if (!isCivilDate(date)) throw new UnknownNameError("date", date, ["YYYY-MM-DD, a day that exists"]);
    }
    if (to < from) throw new UnknownNameError("span of dates", `${from} to ${to}`, ["from on or before to"]);
  }
}
