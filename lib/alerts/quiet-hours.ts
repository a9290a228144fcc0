import { minuteOfDay, wallClockAt } from "../schedule/civil-time.js";

/** From one wall-clock time to another, over midnight where the second is the earlier one. */
export interface QuietHours {
  /** HH:MM */
  readonly from: string;
  readonly to: string;
}

/**
 * Whether the wall clock stands within the quiet hours; their end is outside. By the clock on the wall: a night that loses or
 * gains an hour has shorter or longer quiet hours.
 * @throws UnknownNameError for an unknown zone or a time that is not HH:MM.
 */
export function isQuiet({ from, to }: QuietHours, at_epochMs: number, timeZone: string): boolean {
  const minute = minuteOfDay(wallClockAt(at_epochMs, timeZone).timeOfDay.slice(0, 5));
  const begins = minuteOfDay(from);
  const ends = minuteOfDay(to);
  return begins <= ends ? minute >= begins && minute < ends : minute >= begins || minute < ends;
}
