import { weekdays } from "../../lib/schedule/civil-time.js";

/** Minutes of a week of wall-clock time, from Monday 00:00; a span over Sunday night goes on at the beginning. */
export const week_min = 7 * 1440;

export interface WeeklySpan {
  readonly start_min: number;
  readonly length_min: number;
}

/** The spans of one photoperiod, once for each of its days. Lights off before lights on means the next day. */
export function weeklySpans(photoperiod: {
  readonly lightsOn: string;
  readonly lightsOff: string;
  readonly days: readonly string[];
}): readonly WeeklySpan[] {
  const on_min = minuteOf(photoperiod.lightsOn);
  const off_min = minuteOf(photoperiod.lightsOff);
  const length_min = (off_min - on_min + 1440) % 1440;
  return weekdays.flatMap((day, index) =>
    photoperiod.days.includes(day) ? [{ start_min: index * 1440 + on_min, length_min }] : [],
  );
}

/** The same span with both ends moved earlier, as a dosing window is from the light. */
export function movedEarlier(
  span: WeeklySpan,
  by: { readonly start_min: number; readonly end_min: number },
): WeeklySpan {
  return {
    start_min: span.start_min - by.start_min,
    length_min: span.length_min + by.start_min - by.end_min,
  };
}

export function markSpan(minutes: Uint8Array, span: WeeklySpan): void {
  for (let offset_min = 0; offset_min < Math.min(span.length_min, week_min); offset_min += 1) {
    minutes[minuteOfWeek(span.start_min + offset_min)] = 1;
  }
}

/** The first minute of the span that is marked already. */
export function firstMarkedMinute(minutes: Uint8Array, span: WeeklySpan): number | undefined {
  for (let offset_min = 0; offset_min < Math.min(span.length_min, week_min); offset_min += 1) {
    const minute = minuteOfWeek(span.start_min + offset_min);
    if (minutes[minute] === 1) return minute;
  }
  return undefined;
}

/** The longest unbroken run of marked minutes, going round the end of the week. */
export function longestRun_min(minutes: Uint8Array): number {
  let longest_min = 0;
  let run_min = 0;
  for (let minute = 0; minute < 2 * week_min; minute += 1) {
    run_min = minutes[minute % week_min] === 1 ? run_min + 1 : 0;
    longest_min = Math.max(longest_min, run_min);
  }
  return Math.min(longest_min, week_min);
}

/** "wed 17:30" */
export function describeMinuteOfWeek(minute: number): string {
  const day = weekdays[Math.floor(minute / 1440)] ?? "mon";
  const ofDay_min = minute % 1440;
  const twoDigits = (value: number): string => String(value).padStart(2, "0");
  return `${day} ${twoDigits(Math.floor(ofDay_min / 60))}:${twoDigits(ofDay_min % 60)}`;
}

function minuteOfWeek(minute: number): number {
  return ((minute % week_min) + week_min) % week_min;
}

function minuteOf(timeOfDay: string): number {
  const [hours = "0", minutes = "0"] = timeOfDay.split(":");
  return Number(hours) * 60 + Number(minutes);
}
