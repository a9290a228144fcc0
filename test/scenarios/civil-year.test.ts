import { describe, expect, it } from "vitest";
import { weekdays } from "../../lib/schedule/civil-time.js";
import { createDosingCalendar } from "../../lib/schedule/dosing-calendar.js";
import type { DosingRule } from "../../lib/schedule/dosing-windows.js";
import { IntlWindowOracle, openMinutes } from "../support/intl-window-oracle.js";

/**
 * A civil year, minute by minute and second by second near every edge, against the wall clock that Intl.DateTimeFormat shows
 * (ECMA-402 over the IANA time zone database in ICU). lib/schedule computes with Temporal; the two share no arithmetic.
 */
const workdays = ["mon", "tue", "wed", "thu", "fri"] as const;

const loaches: DosingRule = {
  photoperiods: [
    { lightsOn: "06:30", lightsOff: "11:30", days: workdays },
    { lightsOn: "15:00", lightsOff: "21:00", days: weekdays },
  ],
  lead_min: 90,
  earlyClose_min: 45,
  datesOff: ["2026-12-24", { from: "2026-02-01", to: "2026-02-07" }],
};
/** Burns over both clock changes and ends inside the hour that is left out or comes twice. */
const shrimps: DosingRule = {
  photoperiods: [{ lightsOn: "18:15", lightsOff: "02:30", days: weekdays }],
  lead_min: 45,
  earlyClose_min: 0,
  datesOff: [{ from: "2026-08-10", to: "2026-08-24" }],
};
/** Begins, and on Saturdays ends, inside that hour. */
const nightBloomers: DosingRule = {
  photoperiods: [
    { lightsOn: "01:40", lightsOff: "07:10", days: ["sun", "wed"] },
    { lightsOn: "22:00", lightsOff: "01:20", days: ["sat"] },
    { lightsOn: "02:05", lightsOff: "02:55", days: ["sun", "mon"] },
  ],
  lead_min: 0,
  earlyClose_min: 10,
  datesOff: [],
};

const valves = [
  { name: "one tank, two photoperiods, dates off", rules: [loaches] },
  { name: "one tank, over midnight", rules: [shrimps] },
  { name: "one tank, inside the hour of the change", rules: [nightBloomers] },
  { name: "two tanks on one valve", rules: [loaches, shrimps] },
];

describe.each(["Europe/Berlin", "America/New_York", "Australia/Lord_Howe"])(
  "the year 2026 in %s",
  (timeZone) => {
    const from_epochMs = Date.parse("2026-01-01T00:00Z");
    const to_epochMs = Date.parse("2027-01-01T00:00Z");
    // Two months more, so that the next opening is known up to the last minute.
    const end_epochMs = to_epochMs + 61 * 86_400_000;
    const oracle = new IntlWindowOracle(timeZone, from_epochMs, end_epochMs);

    it.each(valves)("opens and closes to the second: $name", ({ rules }) => {
      const open = openMinutes(
        rules.map((rule) => oracle.rawWindows(rule)),
        from_epochMs,
        end_epochMs,
      );
      const isOpenAt = (at_epochMs: number): boolean =>
        open[Math.floor((at_epochMs - from_epochMs) / 60_000)] === 1;
      const nextChange_min = nextChanges(open);
      const calendar = createDosingCalendar(rules, timeZone);
      const faults: string[] = [];
      let edges = 0;
      let minutesOpen = 0;

      const minutes = (to_epochMs - from_epochMs) / 60_000;
      for (let minute = 0; minute < minutes; minute += 1) {
        const at_epochMs = from_epochMs + minute * 60_000;
        const state = calendar.stateAt(at_epochMs);
        const expected = isOpenAt(at_epochMs);
        minutesOpen += expected ? 1 : 0;
        const change_epochMs = state.kind === "open" ? state.closes_epochMs : state.opens_epochMs;
        const expectedChange_epochMs = from_epochMs + nextChange_min[minute]! * 60_000;
        if ((state.kind === "open") !== expected || change_epochMs !== expectedChange_epochMs) {
          faults.push(`${new Date(at_epochMs).toISOString()} ${JSON.stringify(state)}`);
        }
        if (minute > 0 && open[minute] !== open[minute - 1]) {
          edges += 1;
          for (let second = -90; second <= 90; second += 1) {
            const near_epochMs = at_epochMs + second * 1000;
            if ((calendar.stateAt(near_epochMs).kind === "open") !== isOpenAt(near_epochMs)) {
              faults.push(`${new Date(near_epochMs).toISOString()} near an edge`);
            }
          }
          if (calendar.stateAt(at_epochMs - 1).kind === calendar.stateAt(at_epochMs).kind) {
            faults.push(`${new Date(at_epochMs).toISOString()} is not the edge itself`);
          }
        }
      }

      expect(faults.slice(0, 5)).toEqual([]);
      // The scenario must have something to find: at least one opening and one closing a week.
      expect(edges).toBeGreaterThan(100);
      expect(minutesOpen).toBeGreaterThan(1000);
    });
  },
);

/** For each minute, the next one with the other flag. */
function nextChanges(open: Uint8Array): Int32Array {
  const next = new Int32Array(open.length);
  let change = open.length;
  for (let minute = open.length - 1; minute >= 0; minute -= 1) {
    if (minute < open.length - 1 && open[minute] !== open[minute + 1]) change = minute + 1;
    next[minute] = change;
  }
  return next;
}
