import { wallClockAt } from "../../lib/schedule/civil-time.js";

const isoWithOffset =
  /^(\d{4})-(\d{2})-(\d{2})T([01]\d|2[0-3]):([0-5]\d)(?::([0-5]\d)(?:\.\d{1,9})?)?(Z|[+-](?:0\d|1[0-4]):[0-5]\d)$/;
const daysInMonth = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31] as const;

/** An instant of ISO 8601 with its offset from UTC, as milliseconds since 1970; undefined for any other text. */
export function instantFromText(text: string): number | undefined {
  const found = isoWithOffset.exec(text);
  if (found === null) return undefined;
  const year = Number(found[1]);
  const month = Number(found[2]);
  const day = Number(found[3]);
  const isLeapYear = year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0);
  const lastDay = month === 2 && isLeapYear ? 29 : (daysInMonth[month - 1] ?? 0);
  if (day < 1 || day > lastDay) return undefined;
  const at_epochMs = Date.parse(text);
  return Number.isNaN(at_epochMs) ? undefined : at_epochMs;
}

/** An instant as ISO 8601 in a zone's civil time with its offset, to the second. @throws UnknownNameError for a zone */
export function instantInZone(at_epochMs: number, timeZone: string): string {
  const wall = wallClockAt(at_epochMs, timeZone);
  const minutes = Math.round(Math.abs(wall.offset_min));
  const two = (value: number): string => String(value).padStart(2, "0");
  const offset = `${wall.offset_min < 0 ? "-" : "+"}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
  return `${wall.date}T${wall.timeOfDay}${offset}`;
}
