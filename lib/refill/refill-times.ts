import { UnknownNameError } from "../errors.js";
import { assertInRange } from "../quantities/valid-range.js";
import {
  addDays,
  instantsOfWallClock,
  isCivilDate,
  minuteOfDay,
  wallClockAt,
  weekdayOf,
  weekdays,
  type InstantsOfWallClock,
  type Weekday,
} from "../schedule/civil-time.js";
import type { DateOff } from "../schedule/dosing-windows.js";

/** When a person likes to refill. */
export interface RefillHabits {
  readonly days: readonly Weekday[];
  /** HH:MM on the wall clock: not begun earlier. */
  readonly from: string;
  /** HH:MM, later than `from`: the vessel is closed by then. */
  readonly until: string;
  /** From the closed outlet valve to the closed fresh vessel, 5 to 480. */
  readonly handling_min: number;
}

/** A span in which a refill can begin, so that it is done in time. */
export interface RefillOpportunity {
  /** YYYY-MM-DD */
  readonly date: string;
  readonly first_epochMs: number;
  readonly last_epochMs: number;
}

export const handlingRange = { quantity: "handling time", unit: "min", minimum: 5, maximum: 480 } as const;

const minute_ms = 60_000;

/**
 * The opportunities to refill in [from, to], one a day at most, less the dates on which nobody is home (both ends
 * included). Where the wall clock is no help the span shrinks, as dosing windows do.
 * @throws UnknownNameError for a malformed day, time, date or zone, or an `until` that is not after `from`
 * @throws OutOfValidRangeError for a handling time outside 5 to 480 min [IANAtz]
 */
export function refillOpportunities(
  habits: RefillHabits,
  away: readonly DateOff[],
  timeZone: string,
  span: { readonly from_epochMs: number; readonly to_epochMs: number },
): readonly RefillOpportunity[] {
  const { from_epochMs, to_epochMs } = span;
  const { first_min, last_min } = checkedHabits(habits);
  for (const date of away.flatMap((days) => (typeof days === "string" ? [days] : [days.from, days.to]))) {
    if (!isCivilDate(date)) throw new UnknownNameError("date", date, ["YYYY-MM-DD, a day that exists"]);
  }
  const opportunities: RefillOpportunity[] = [];
  const end = wallClockAt(to_epochMs, timeZone).date;
  for (let { date } = wallClockAt(from_epochMs, timeZone); date <= end; date = addDays(date, 1)) {
    if (!habits.days.includes(weekdayOf(date)) || isAway(away, date)) continue;
    const opens_epochMs = latestOf(instantsOfWallClock(date, first_min, timeZone));
    const done_epochMs = earliestOf(instantsOfWallClock(date, last_min, timeZone));
    const first_epochMs = Math.max(opens_epochMs, from_epochMs);
    const last_epochMs = Math.min(done_epochMs - habits.handling_min * minute_ms, to_epochMs);
    if (first_epochMs <= last_epochMs) opportunities.push({ date, first_epochMs, last_epochMs });
  }
  return opportunities;
}

/** Whether nobody is home on a date YYYY-MM-DD. */
export function isAway(away: readonly DateOff[], date: string): boolean {
  return away.some((days) =>
    typeof days === "string" ? days === date : days.from <= date && date <= days.to,
  );
}

function checkedHabits(habits: RefillHabits): { readonly first_min: number; readonly last_min: number } {
  assertInRange(habits.handling_min, handlingRange);
  for (const day of habits.days) {
    if (!weekdays.includes(day)) throw new UnknownNameError("day of the week", day, weekdays);
  }
  const first_min = minuteOfDay(habits.from);
  const last_min = minuteOfDay(habits.until);
  if (last_min <= first_min) {
    throw new UnknownNameError("end of the time for a refill", habits.until, [`later than ${habits.from}`]);
  }
  return { first_min, last_min };
}

function latestOf(instants: InstantsOfWallClock): number {
  if (instants.kind === "once") return instants.at_epochMs;
  return instants.kind === "twice" ? instants.later_epochMs : instants.change_epochMs;
}

function earliestOf(instants: InstantsOfWallClock): number {
  return instants.kind === "twice" ? instants.earlier_epochMs : latestOf(instants);
}
