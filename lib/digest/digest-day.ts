import {
  addDays,
  instantsOfWallClock,
  minuteOfDay,
  wallClockAt,
  weekdayOf,
  type Weekday,
} from "../schedule/civil-time.js";

/** When a digest is sent, by the clock on the wall. */
export interface DigestTimes {
  /** HH:MM */
  readonly at: string;
  /** Undefined: every day. */
  readonly weekday: Weekday | undefined;
}

/** A digest that could not be sent by then is left out; the next one covers its time. */
const lateBy_h = 12;

/**
 * The day (YYYY-MM-DD) whose digest is to be sent now, or undefined. It follows from the time alone, so that a restart neither
 * forgets nor repeats one: due is the latest day whose time has come within the last 12 h, which lies after both the beginning of
 * what is watched and the last day that was sent. Where the wall clock shows the time twice the first one counts, where it
 * leaves it out the change. A clock that is put back sends nothing again.
 * @throws UnknownNameError for an unknown zone or a time that is not HH:MM.
 */
export function dueDigestDay(
  { at, weekday }: DigestTimes,
  { watchedSince_epochMs, lastDay }: { readonly watchedSince_epochMs: number; readonly lastDay?: string },
  now_epochMs: number,
  timeZone: string,
): string | undefined {
  const minute = minuteOfDay(at);
  const today = wallClockAt(now_epochMs, timeZone);
  return [today.date, addDays(today.date, -1)].find((day) => {
    if (lastDay !== undefined && day <= lastDay) return false;
    const due_epochMs = firstInstant_epochMs(day, minute, timeZone);
    if (weekday !== undefined && weekdayOf(day) !== weekday) return false;
    const late_ms = now_epochMs - due_epochMs;
    return late_ms >= 0 && late_ms < lateBy_h * 3_600_000 && due_epochMs > watchedSince_epochMs;
  });
}

function firstInstant_epochMs(day: string, minute: number, timeZone: string): number {
  const instants = instantsOfWallClock(day, minute, timeZone);
  switch (instants.kind) {
    case "once":
      return instants.at_epochMs;
    case "twice":
      return instants.earlier_epochMs;
    case "never":
      return instants.change_epochMs;
  }
}
