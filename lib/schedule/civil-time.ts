import { Temporal } from "temporal-polyfill";
import { UnknownNameError } from "../errors.js";
import { assertInRange } from "../quantities/valid-range.js";

/** Memos of pure functions: they never change an answer, only its cost. The tanks of a home share most of their times. */
const knownZones = new Set<string>();
const knownInstants = new Map<string, InstantsOfWallClock>();
const knownDates = new Map<string, Temporal.PlainDate>();
const mostKnownDates = 1000;
const knownMinutes = new Map<string, WallClock>();
/** Documents tell the same instants each second. */
const mostKnownMinutes = 2000;
/** Some days of some hundred tanks, each with times of its own. */
const mostKnownInstants = 20_000;

/** The days of the week as the config writes them, in the order of ISO 8601 (Monday is 1). */
export const weekdays = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"] as const;
export type Weekday = (typeof weekdays)[number];

/** What a correct clock on the wall shows at an instant. */
export interface WallClock {
  /** YYYY-MM-DD */
  readonly date: string;
  /** HH:MM:SS, 24 hours */
  readonly timeOfDay: string;
  readonly weekday: Weekday;
  /** Wall clock less UTC. */
  readonly offset_min: number;
}

/** When a wall clock shows a given time: usually once; in a fold twice; in a gap never. */
export type InstantsOfWallClock =
  | { readonly kind: "once"; readonly at_epochMs: number }
  | { readonly kind: "twice"; readonly earlier_epochMs: number; readonly later_epochMs: number }
  | { readonly kind: "never"; readonly change_epochMs: number };

/** A change of the wall clock against UTC: summer time, or a decree. */
export interface ClockChange {
  readonly at_epochMs: number;
  /** Positive: the clock goes forward and a span of wall-clock time does not exist. Negative: a span comes twice. */
  readonly shift_min: number;
  /** What the clock would show without the change: "YYYY-MM-DD HH:MM". */
  readonly wallClockBefore: string;
  /** What it shows instead. */
  readonly wallClockAfter: string;
}

/** Years 1900 to 2500: outside it an instant is a mistake of units, not a time. */
const instantRange = {
  quantity: "instant",
  unit: "ms since 1970",
  minimum: -2_208_988_800_000,
  maximum: 16_725_225_600_000,
};

/**
 * @throws OutOfValidRangeError when the instant is no number or outside the years 1900 to 2500.
 */
export function assertInstant(at_epochMs: number): void {
  assertInRange(at_epochMs, instantRange);
}

/** Whether the name stands in the IANA time zone database (a zone or a link). A bare offset is not a zone. [IANAtz] */
export function isTimeZone(name: string): boolean {
  if (!/^[A-Za-z][A-Za-z0-9_+-]*(\/[A-Za-z0-9_+-]+)*$/.test(name)) return false;
  try {
    Temporal.Instant.fromEpochMilliseconds(0).toZonedDateTimeISO(name);
    return true;
  } catch (error) {
    if (error instanceof RangeError) return false;
    throw error;
  }
}

/**
 * @throws UnknownNameError when the name is not in the IANA time zone database. [IANAtz]
 */
export function assertTimeZone(name: string): void {
  if (knownZones.has(name)) return;
  if (!isTimeZone(name)) {
    throw new UnknownNameError("time zone", name, ["the IANA names, such as Europe/Berlin"]);
  }
  knownZones.add(name);
}

/** Whether the text is a calendar date that exists, as YYYY-MM-DD. */
export function isCivilDate(text: string): boolean {
  return parseDate(text) !== undefined;
}

/** Whether the text is a time of day from 00:00 to 23:59. */
export function isTimeOfDay(text: string): boolean {
  return /^([01]\d|2[0-3]):[0-5]\d$/.test(text);
}

/** The day of the week of a date YYYY-MM-DD. @throws UnknownNameError for anything else. */
export function weekdayOf(date: string): Weekday {
  return weekdayAt(plainDate(date).dayOfWeek);
}

/** The date that lies `count` days later (earlier when negative). @throws UnknownNameError for no date. */
export function addDays(date: string, count: number): string {
  return plainDate(date).add({ days: count }).toString();
}

/** Minutes since 00:00 on the wall clock, 0 to 1439. @throws UnknownNameError for anything but HH:MM. */
export function minuteOfDay(timeOfDay: string): number {
  if (!isTimeOfDay(timeOfDay)) throw new UnknownNameError("time of day", timeOfDay, ["00:00 to 23:59"]);
  return Number(timeOfDay.slice(0, 2)) * 60 + Number(timeOfDay.slice(3));
}

/**
 * The wall clock at an instant.
 * @throws UnknownNameError for an unknown zone, OutOfValidRangeError outside the years 1900 to 2500. [IANAtz]
 */
export function wallClockAt(at_epochMs: number, timeZone: string): WallClock {
  assertTimeZone(timeZone);
  assertInstant(at_epochMs);
  const minute = Math.floor(at_epochMs / 60_000);
  const key = `${timeZone} ${minute}`;
  const known = knownMinutes.get(key);
  if (known !== undefined) {
    const second = Math.floor(at_epochMs / 1000) - 60 * minute;
    return { ...known, timeOfDay: known.timeOfDay.slice(0, -2) + String(second).padStart(2, "0") };
  }
  const there = zoned(at_epochMs, timeZone);
  const wallClock = {
    date: there.toPlainDate().toString(),
    timeOfDay: there.toPlainTime().toString({ smallestUnit: "second" }),
    weekday: weekdayAt(there.dayOfWeek),
    offset_min: offsetOf_min(there),
  };
  // Before standard time offsets had odd seconds; since then clocks have changed at whole minutes only.
  if (there.offsetNanoseconds % 60e9 === 0 && at_epochMs >= 0) {
    if (knownMinutes.size >= mostKnownMinutes) knownMinutes.clear();
    knownMinutes.set(key, wallClock);
  }
  return wallClock;
}

/**
 * The instants at which the wall clock shows a date and a minute of that day. In a gap, the instant of the change.
 * @throws UnknownNameError for an unknown zone or a malformed date, OutOfValidRangeError for a minute outside 0 to 1439. [IANAtz]
 */
export function instantsOfWallClock(
  date: string,
  minuteOfTheDay: number,
  timeZone: string,
): InstantsOfWallClock {
  const key = `${timeZone} ${date} ${minuteOfTheDay}`;
  const known = knownInstants.get(key);
  if (known !== undefined) return known;
  const found = instantsFound(date, minuteOfTheDay, timeZone);
  if (knownInstants.size >= mostKnownInstants) knownInstants.clear();
  knownInstants.set(key, found);
  return found;
}

function instantsFound(date: string, minuteOfTheDay: number, timeZone: string): InstantsOfWallClock {
  assertTimeZone(timeZone);
  assertInRange(minuteOfTheDay, { quantity: "minute of the day", unit: "", minimum: 0, maximum: 1439 });
  const wall = plainDate(date).toPlainDateTime({
    hour: Math.floor(minuteOfTheDay / 60),
    minute: minuteOfTheDay % 60,
  });
  const earlier = wall.toZonedDateTime(timeZone, { disambiguation: "earlier" });
  const later = wall.toZonedDateTime(timeZone, { disambiguation: "later" });
  if (earlier.epochMilliseconds === later.epochMilliseconds) {
    return { kind: "once", at_epochMs: earlier.epochMilliseconds };
  }
  if (earlier.toPlainDateTime().equals(wall)) {
    return {
      kind: "twice",
      earlier_epochMs: earlier.epochMilliseconds,
      later_epochMs: later.epochMilliseconds,
    };
  }
  // Around a gap the two readings lie on either side of the change; "later" is never before it.
  const change = earlier.getTimeZoneTransition("next") ?? later;
  return { kind: "never", change_epochMs: change.epochMilliseconds };
}

/**
 * The clock changes of a zone with from <= at < to, in order.
 * @throws UnknownNameError for an unknown zone, OutOfValidRangeError outside the years 1900 to 2500. [IANAtz]
 */
export function clockChanges(
  timeZone: string,
  from_epochMs: number,
  to_epochMs: number,
): readonly ClockChange[] {
  assertTimeZone(timeZone);
  assertInstant(from_epochMs);
  assertInstant(to_epochMs);
  const changes: ClockChange[] = [];
  let change = zoned(from_epochMs - 1, timeZone).getTimeZoneTransition("next");
  while (change !== null && change.epochMilliseconds < to_epochMs) {
    const shift_min = offsetOf_min(change) - offsetOf_min(change.subtract({ milliseconds: 1 }));
    const after = change.toPlainDateTime();
    changes.push({
      at_epochMs: change.epochMilliseconds,
      shift_min,
      wallClockBefore: minuteText(after.subtract({ seconds: Math.round(shift_min * 60) })),
      wallClockAfter: minuteText(after),
    });
    change = change.getTimeZoneTransition("next");
  }
  return changes;
}

function zoned(at_epochMs: number, timeZone: string): Temporal.ZonedDateTime {
  assertInstant(at_epochMs);
  return Temporal.Instant.fromEpochMilliseconds(Math.floor(at_epochMs)).toZonedDateTimeISO(timeZone);
}

function offsetOf_min(there: Temporal.ZonedDateTime): number {
  return there.offsetNanoseconds / 60e9;
}

function minuteText(wall: Temporal.PlainDateTime): string {
  return wall.toString({ smallestUnit: "minute" }).replace("T", " ");
}

function weekdayAt(dayOfWeek: number): Weekday {
  return weekdays[dayOfWeek - 1] ?? "mon";
}

function parseDate(text: string): Temporal.PlainDate | undefined {
  const known = knownDates.get(text);
  if (known !== undefined) return known;
  if (!/^\d{4}-\d{2}-\d{2}$/.test(text)) return undefined;
  try {
    const date = Temporal.PlainDate.from(text);
    if (knownDates.size >= mostKnownDates) knownDates.clear();
    knownDates.set(text, date);
    return date;
  } catch (error) {
    if (error instanceof RangeError) return undefined;
    throw error;
  }
}

function plainDate(text: string): Temporal.PlainDate {
  const date = parseDate(text);
  if (date === undefined) throw new UnknownNameError("date", text, ["YYYY-MM-DD, a day that exists"]);
  return date;
}
