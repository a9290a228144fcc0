import type { DosingCalendar } from "../schedule/dosing-calendar.js";
import {
  dosingWindows,
  mergedWindows,
  type DosingRule,
  type DosingWindow,
} from "../schedule/dosing-windows.js";
import { weekdays } from "../schedule/civil-time.js";
import type { DailyWindow } from "./supply-trace.js";

/** The spans in which the valve may be open, on the time line; without a daily window, all of the time. */
export interface OpenSpans {
  /** How much of the day the spans make up, on the average. */
  readonly openPerDay_h: number;
  hasOpenAt(at_epochMs: number): boolean;
  /** Open hours between two instants; 0 when the second is not later. */
  openBetween_h(from_epochMs: number, to_epochMs: number): number;
  /** The instant at which so many open hours have gone by; never later than the horizon. */
  instantAfter(from_epochMs: number, open_h: number): number;
}

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
const block_ms = 32 * day_ms;
/** No forecast looks further ahead. */
export const forecastHorizon_days = 730;

function clockOf(minutes_min: number): string {
  const within = minutes_min % 1440;
  const two = (value: number): string => String(value).padStart(2, "0");
  return `${two(Math.floor(within / 60))}:${two(within % 60)}`;
}

/** The daily windows as a dosing rule; a window that closes at or before it opens closes on the next day. */
export function dailyRule(windows: readonly DailyWindow[]): DosingRule {
  return {
    photoperiods: windows.map(({ opens_min, closes_min }) => ({
      lightsOn: clockOf(opens_min),
      lightsOff: clockOf(closes_min),
      days: weekdays,
    })),
    lead_min: 0,
    earlyClose_min: 0,
    datesOff: [],
  };
}

type WindowsBetween = (from_epochMs: number, to_epochMs: number) => readonly DosingWindow[];

/**
 * The dosing windows of a rule, ready for many questions. Undefined for a rule: the valve may be open at any time.
 * @throws UnknownNameError for a zone, OutOfValidRangeError for an instant outside the years 1900 to 2500
 */
export function createOpenSpans(rule: DosingRule | undefined, timeZone: string): OpenSpans {
  return rule === undefined
    ? openSpansFrom((opens_epochMs, closes_epochMs) => [{ opens_epochMs, closes_epochMs }], 24)
    : openSpansFrom((from, to) => dosingWindows(rule, timeZone, from, to), dailyHours(rule));
}

/** A calendar with fewer hours in its first quarter says little about how a charge is used. */
const leastOpenPerDay_h = 0.5;
const quarter_days = 91;

/**
 * When any valve on a vessel may be open by the site's own calendars, dates off, days of the week and clock changes included.
 * @param from_epochMs the hours of a day are counted over the quarter from here, so that they stay what they are as time goes by
 * @throws OutOfValidRangeError for an instant outside the years 1900 to 2500
 */
export function openSpansOfCalendars(
  calendars: readonly Pick<DosingCalendar, "windowsBetween">[],
  from_epochMs: number,
): OpenSpans {
  const windowsBetween: WindowsBetween = (from, to) =>
    mergedWindows(calendars.flatMap((calendar) => calendar.windowsBetween(from, to)));
  const quarter = windowsBetween(from_epochMs, from_epochMs + quarter_days * day_ms);
  return openSpansFrom(windowsBetween, Math.max(leastOpenPerDay_h, hoursOf(quarter) / quarter_days));
}

/** Windows are worked out a block of 32 days at a time and kept: a memo of a pure function. */
function openSpansFrom(windowsBetween: WindowsBetween, openPerDay_h: number): OpenSpans {
  const blocks = new Map<number, readonly DosingWindow[]>();
  const spansOf = (block: number): readonly DosingWindow[] => {
    const known = blocks.get(block);
    if (known !== undefined) return known;
    const spans = windowsBetween(block * block_ms, (block + 1) * block_ms);
    blocks.set(block, spans);
    return spans;
  };
  const overlap_ms = (span: DosingWindow, from_epochMs: number, to_epochMs: number): number =>
    Math.max(0, Math.min(span.closes_epochMs, to_epochMs) - Math.max(span.opens_epochMs, from_epochMs));

  const openBetween_h = (from_epochMs: number, to_epochMs: number): number => {
    if (!(to_epochMs > from_epochMs)) return 0;
    let open_ms = 0;
    const last = Math.floor(to_epochMs / block_ms);
    for (let block = Math.floor(from_epochMs / block_ms); block <= last; block += 1) {
      for (const span of spansOf(block)) open_ms += overlap_ms(span, from_epochMs, to_epochMs);
    }
    return open_ms / hour_ms;
  };
  return {
    openPerDay_h,
    hasOpenAt: (at_epochMs) =>
      spansOf(Math.floor(at_epochMs / block_ms)).some(
        (span) => span.opens_epochMs <= at_epochMs && at_epochMs < span.closes_epochMs,
      ),
    openBetween_h,
    instantAfter: (from_epochMs, open_h) => {
      const horizon_epochMs = from_epochMs + forecastHorizon_days * day_ms;
      let left_ms = open_h * hour_ms;
      if (!(left_ms > 0)) return from_epochMs;
      for (let block = Math.floor(from_epochMs / block_ms); block * block_ms < horizon_epochMs; block += 1) {
        for (const span of spansOf(block)) {
          const open_ms = overlap_ms(span, from_epochMs, horizon_epochMs);
          if (open_ms >= left_ms) return Math.max(span.opens_epochMs, from_epochMs) + left_ms;
          left_ms -= open_ms;
        }
      }
      return horizon_epochMs;
    },
  };
}

function dailyHours(rule: DosingRule): number {
  const year = { from_epochMs: 1_767_225_600_000, days: 28 };
  const spans = dosingWindows(rule, "Etc/UTC", year.from_epochMs, year.from_epochMs + year.days * day_ms);
  return hoursOf(spans) / year.days;
}

function hoursOf(windows: readonly DosingWindow[]): number {
  return windows.reduce((sum, span) => sum + span.closes_epochMs - span.opens_epochMs, 0) / hour_ms;
}
