import { createDosingCalendar } from "../../lib/schedule/dosing-calendar.js";
import { weekdays } from "../../lib/schedule/civil-time.js";
import type { Figure } from "./figure.js";
import { loadSite } from "./load-site.js";

const minute_ms = 60_000;
const watched_min = 17 * 24 * 60;
const begin_epochMs = Date.UTC(2026, 4, 4);

/**
 * Computing time of the worst minute in which the calendars of all valves and tanks are asked, after the first: a calendar is
 * worked out for some days at a time, and of a home most have the same hours.
 */
export function newBlockOfCalendars(): Figure {
  const photoperiods = [
    { lightsOn: "08:00", lightsOff: "13:00", days: weekdays },
    { lightsOn: "15:00", lightsOff: "20:00", days: weekdays },
  ];
  const rule = { photoperiods, lead_min: 30, earlyClose_min: 30, datesOff: [] };
  const count = loadSite.vessels * (1 + loadSite.tanksPerVessel);
  const calendars = Array.from({ length: count }, () => createDosingCalendar([rule], "Europe/Berlin"));
  let worst_ms = 0;
  for (let minute = 0; minute < watched_min; minute += 1) {
    const before_us = process.cpuUsage().user;
    for (const calendar of calendars) calendar.stateAt(begin_epochMs + minute * minute_ms);
    const took_ms = (process.cpuUsage().user - before_us) / 1000;
    if (minute > 0) worst_ms = Math.max(worst_ms, took_ms);
  }
  return {
    name: "calendars of all valves and tanks, worst minute",
    value: worst_ms,
    unit: "ms",
    limit: 200,
    bound: "most",
  };
}
