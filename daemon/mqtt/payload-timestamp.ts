import type { JSONValue } from "json-p3";

const iso8601 =
  /^(\d{4})-(\d\d)-(\d\d)[Tt](\d\d):(\d\d)(?::(\d\d)(?:[.,](\d{1,9}))?)?(?:([Zz])|([+-])(\d\d):?(\d\d))$/;

/** Unix numbers at or above this are milliseconds: as seconds they would lie beyond the year 5000. */
const leastMilliseconds = 1e11;
/** 2001-09-09 to 2100-01-01: outside it a device has lost its clock. */
const earliest_epochMs = 1e12;
const latest_epochMs = 4_102_444_800_000;

function inRange(at_epochMs: number): number | undefined {
  return at_epochMs >= earliest_epochMs && at_epochMs < latest_epochMs ? at_epochMs : undefined;
}

function fromIso8601(text: string): number | undefined {
  const match = iso8601.exec(text);
  if (match === null) return undefined;
  const part = (index: number): number => Number(match[index] ?? 0);
  const [year, month, day, hour, minute, second] = [part(1), part(2), part(3), part(4), part(5), part(6)];
  const offsetHour = part(10);
  const offsetMinute = part(11);
  // A leap second is read as the second that follows it.
  if (hour > 23 || minute > 59 || second > 60 || offsetHour > 23 || offsetMinute > 59) return undefined;
  const date = new Date(Date.UTC(year, month - 1, day));
  if (date.getUTCMonth() !== month - 1 || date.getUTCDate() !== day) return undefined;
  const fraction_ms = Math.floor(Number(`0.${match[7] ?? "0"}`) * 1000);
  const local_ms = Date.UTC(year, month - 1, day, hour, minute, second) + fraction_ms;
  const offset_ms = (offsetHour * 60 + offsetMinute) * 60_000 * (match[9] === "-" ? -1 : 1);
  return inRange(local_ms - offset_ms);
}

/**
 * Reads a timestamp that a device sends: ISO 8601 with its offset from UTC, or Unix seconds or milliseconds as a
 * number or as digits in a string. A time without an offset is refused, since nobody knows the device's zone.
 */
export function decodeTimestamp(value: JSONValue): number | undefined {
  if (typeof value === "string" && !/^\d{1,16}(\.\d{1,9})?$/.test(value.trim()))
    return fromIso8601(value.trim());
  const unix = typeof value === "number" || typeof value === "string" ? Number(value) : NaN;
  return inRange(Math.round(unix >= leastMilliseconds ? unix : unix * 1000));
}
