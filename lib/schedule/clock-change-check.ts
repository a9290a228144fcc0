import { addDays, clockChanges, minuteOfDay, wallClockAt, type ClockChange } from "./civil-time.js";
import {
  assertDosingRule,
  placedPhotoperiods,
  type DosingRule,
  type DosingWindow,
  type PlacedPhotoperiod,
} from "./dosing-windows.js";

/** What a clock change does to a window, in words that follow "the window of <date>: ". */
export type ClockChangeEffect =
  | "lights on is at a time that does not exist"
  | "lights on is at a time that comes twice"
  | "lights off is at a time that does not exist"
  | "lights off is at a time that comes twice"
  | "opens at another time of day"
  | "closes at another time of day"
  | "is shorter than usual"
  | "is longer than usual"
  | "does not take place";

/** One window that differs from its usual self because the clock changes. */
export interface ClockChangeTouch {
  readonly change: ClockChange;
  /** Date of lights on. */
  readonly date: string;
  readonly lightsOn: string;
  readonly lightsOff: string;
  /** Undefined when nothing is left of it. */
  readonly window: DosingWindow | undefined;
  readonly usualLength_min: number;
  readonly effects: readonly ClockChangeEffect[];
}

/**
 * The windows of a tank that a clock change inside [from, to) touches, in the order of the changes. A window is touched when
 * its ends show another time of day, or it lasts longer or shorter, than the same window on a day without a change.
 * @throws UnknownNameError, OutOfValidRangeError as `dosingWindows` does. [IANAtz]
 */
export function clockChangesTouching(
  rule: DosingRule,
  timeZone: string,
  from_epochMs: number,
  to_epochMs: number,
): readonly ClockChangeTouch[] {
  assertDosingRule(rule);
  return clockChanges(timeZone, from_epochMs, to_epochMs).flatMap((change) => {
    const firstDate = addDays(change.wallClockBefore.slice(0, 10), -2);
    const lastDate = addDays(change.wallClockAfter.slice(0, 10), 2);
    return placedPhotoperiods(rule, timeZone, { firstDate, lastDate }).flatMap((placed) => {
      const usualLength_min = usualLengthOf_min(placed, rule);
      const effects = effectsOn(placed, rule, timeZone, usualLength_min);
      if (effects.length === 0) return [];
      const { date, photoperiod, window } = placed;
      const { lightsOn, lightsOff } = photoperiod;
      return [{ change, date, lightsOn, lightsOff, window, usualLength_min, effects }];
    });
  });
}

function effectsOn(
  placed: PlacedPhotoperiod,
  rule: DosingRule,
  timeZone: string,
  usualLength_min: number,
): readonly ClockChangeEffect[] {
  const { window } = placed;
  if (window === undefined && usualLength_min <= 0) return [];
  const effects: ClockChangeEffect[] = [];
  if (placed.lightsOn.kind === "never") effects.push("lights on is at a time that does not exist");
  if (placed.lightsOn.kind === "twice") effects.push("lights on is at a time that comes twice");
  if (placed.lightsOff.kind === "never") effects.push("lights off is at a time that does not exist");
  if (placed.lightsOff.kind === "twice") effects.push("lights off is at a time that comes twice");
  if (window === undefined) return [...effects, "does not take place"];

  const { photoperiod } = placed;
  const opens_min = minuteOfDay(photoperiod.lightsOn) - rule.lead_min;
  const closes_min = minuteOfDay(photoperiod.lightsOff) - rule.earlyClose_min;
  if (!showsMinute(window.opens_epochMs, timeZone, opens_min)) effects.push("opens at another time of day");
  if (!showsMinute(window.closes_epochMs, timeZone, closes_min))
    effects.push("closes at another time of day");
  const length_min = (window.closes_epochMs - window.opens_epochMs) / 60_000;
  if (length_min < usualLength_min) effects.push("is shorter than usual");
  if (length_min > usualLength_min) effects.push("is longer than usual");
  return effects;
}

function usualLengthOf_min({ photoperiod }: PlacedPhotoperiod, rule: DosingRule): number {
  const on_min = minuteOfDay(photoperiod.lightsOn);
  const off_min = minuteOfDay(photoperiod.lightsOff);
  const light_min = off_min <= on_min ? off_min + 1440 - on_min : off_min - on_min;
  return light_min + rule.lead_min - rule.earlyClose_min;
}

function showsMinute(at_epochMs: number, timeZone: string, expected_min: number): boolean {
  const shown_min = minuteOfDay(wallClockAt(at_epochMs, timeZone).timeOfDay.slice(0, 5));
  const difference_min = shown_min - expected_min;
  return Math.abs(difference_min - Math.round(difference_min / 1440) * 1440) < 1;
}
