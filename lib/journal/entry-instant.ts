import { instantsOfWallClock, isCivilDate, isTimeOfDay, minuteOfDay } from "../schedule/civil-time.js";

/** What a written time means: usually one instant; in a fold two; in a gap none. */
export type WrittenInstant =
  | { readonly kind: "instant"; readonly at_epochMs: number }
  | { readonly kind: "twice"; readonly earlier_epochMs: number; readonly later_epochMs: number }
  | { readonly kind: "never"; readonly change_epochMs: number }
  | { readonly kind: "not understood" };

const form =
  /^(?<date>\d{4}-\d{2}-\d{2})[T ](?<time>\d{2}:\d{2})(:(?<seconds>[0-5]\d)(\.\d{1,3})?)?(?<offset>Z|[+-]\d{2}:\d{2})?$/;

/**
 * The instant of a date and time as RFC 3339 writes it, or of the wall clock in the zone where no distance from UTC stands
 * behind it. Hours, minutes and seconds; fractions of a second are dropped.
 * @throws UnknownNameError for a zone that the IANA database does not have. [IANAtz]
 */
export function instantFromText(text: string, timeZone: string): WrittenInstant {
  const { date, time, seconds = "0", offset } = form.exec(text)?.groups ?? {};
  if (date === undefined || time === undefined || !isCivilDate(date) || !isTimeOfDay(time)) {
    return { kind: "not understood" };
  }
  const second_ms = Number(seconds) * 1000;
  if (offset !== undefined) {
    const distance_min = distanceFromUtc_min(offset);
    if (distance_min === undefined) return { kind: "not understood" };
    const there = instantsOfWallClock(date, minuteOfDay(time), "Etc/UTC");
    // UTC has neither gap nor fold.
    return there.kind === "once"
      ? { kind: "instant", at_epochMs: there.at_epochMs - distance_min * 60_000 + second_ms }
      : { kind: "not understood" };
  }
  const found = instantsOfWallClock(date, minuteOfDay(time), timeZone);
  switch (found.kind) {
    case "once":
      return { kind: "instant", at_epochMs: found.at_epochMs + second_ms };
    case "twice":
      return {
        kind: "twice",
        earlier_epochMs: found.earlier_epochMs + second_ms,
        later_epochMs: found.later_epochMs + second_ms,
      };
    case "never":
      return found;
  }
}

function distanceFromUtc_min(offset: string): number | undefined {
  if (offset === "Z") return 0;
  const time = offset.slice(1);
  if (!isTimeOfDay(time)) return undefined;
  return (offset.startsWith("-") ? -1 : 1) * minuteOfDay(time);
}
