import { minuteOfDay, weekdays, type Weekday } from "./civil-time.js";
import type { DosingRule, Photoperiod } from "./dosing-windows.js";

const day_min = 1440;
const week_min = 7 * day_min;
/** As long as this share of the longest pause of the day before: it is a night. */
const nearlyLongest_ratio = 0.8;

/** One span of light on one day of the week, and how long the tank has been without gas when its lights go on. */
export interface PauseBefore {
  readonly photoperiod: Photoperiod;
  readonly day: Weekday;
  /** From the gas's end to the lights, on the wall clock; 0 where gas still flows. At most a week. */
  readonly pause_min: number;
  /** No pause of the day before was longer by more than a little. */
  readonly isAfterTheNight: boolean;
}

/**
 * The pause before each window of a tank's ordinary week; dates off and clock changes only make a pause longer or move it by
 * an hour.
 */
export function pausesBefore(
  rule: Pick<DosingRule, "photoperiods" | "earlyClose_min">,
): readonly PauseBefore[] {
  const spans = rule.photoperiods.flatMap((photoperiod) =>
    photoperiod.days.map((day) => {
      const on_min = minuteOfDay(photoperiod.lightsOn);
      const off_min = minuteOfDay(photoperiod.lightsOff);
      const lit_min = off_min <= on_min ? off_min + day_min - on_min : off_min - on_min;
      const gasFromLights_min = Math.max(0, lit_min - rule.earlyClose_min);
      return { photoperiod, day, on_min: weekdays.indexOf(day) * day_min + on_min, gasFromLights_min };
    }),
  );
  const paused = spans.map(({ photoperiod, day, on_min }, index) => ({
    photoperiod,
    day,
    on_min,
    pause_min: Math.min(
      ...spans.map((other, place) => {
        const sinceOn_min = place === index ? week_min : modulo(on_min - other.on_min);
        return Math.max(0, sinceOn_min - other.gasFromLights_min);
      }),
    ),
  }));
  return paused.map(({ photoperiod, day, on_min, pause_min }) => ({
    photoperiod,
    day,
    pause_min,
    isAfterTheNight: paused.every(
      (other) =>
        modulo(on_min - other.on_min) >= day_min || pause_min >= nearlyLongest_ratio * other.pause_min,
    ),
  }));
}

const modulo = (minutes: number): number => ((minutes % week_min) + week_min) % week_min;
