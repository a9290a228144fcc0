import { describe, expect, it } from "vitest";
import { openSpansOfCalendars } from "../../../../lib/estimation/open-spans.js";
import { supplyEstimate } from "../../../../lib/estimation/supply-estimate.js";
import { firstSupplyState } from "../../../../lib/estimation/supply-filter.js";
import { createSupplyModel } from "../../../../lib/estimation/supply-model.js";
import { weekdays } from "../../../../lib/schedule/civil-time.js";
import { createDosingCalendar } from "../../../../lib/schedule/dosing-calendar.js";
import type { DosingRule } from "../../../../lib/schedule/dosing-windows.js";
import { suppliedCharge } from "../../../support/supply-trace-rows.js";

const day_ms = 86_400_000;
const berlin = "Europe/Berlin";
const from_epochMs = Date.parse("2026-03-20T00:00:00+01:00");
const rule = (given: Partial<DosingRule> = {}): DosingRule => ({
  photoperiods: [{ lightsOn: "10:00", lightsOff: "18:00", days: weekdays }],
  lead_min: 60,
  earlyClose_min: 30,
  datesOff: [],
  ...given,
});
const spansOf = (...rules: readonly DosingRule[]) =>
  openSpansOfCalendars(
    rules.map((one) => createDosingCalendar([one], berlin)),
    from_epochMs,
  );

describe("open spans of a site's calendars", () => {
  it.each([
    { rules: [rule()], days: 7, open_h: 7 * 8.5, because: "lead and early closing count" },
    {
      rules: [rule({ datesOff: [{ from: "2026-03-22", to: "2026-03-23" }] })],
      days: 7,
      open_h: 5 * 8.5,
      because: "nothing is dosed on dates off",
    },
    {
      rules: [rule({ photoperiods: [{ lightsOn: "10:00", lightsOff: "18:00", days: ["sat"] }] })],
      days: 14,
      open_h: 2 * 8.5,
      because: "only on its days",
    },
    {
      rules: [rule(), rule({ photoperiods: [{ lightsOn: "16:00", lightsOff: "20:00", days: weekdays }] })],
      days: 7,
      open_h: 7 * 10.5,
      because: "two valves: open where either is, an hour of both counts once",
    },
    {
      rules: [
        rule({ photoperiods: [{ lightsOn: "01:00", lightsOff: "05:00", days: ["sun"] }], lead_min: 0 }),
      ],
      days: 10,
      // 22 and 29 March; on the latter 02:00 to 03:00 does not exist in Berlin. [IANAtz]
      open_h: 3.5 + 2.5,
      because: "the clock goes forward inside a window",
    },
  ])("count $open_h hours in $days days: $because", ({ rules, days, open_h }) => {
    const spans = spansOf(...rules);
    expect(spans.openBetween_h(from_epochMs, from_epochMs + days * day_ms)).toBeCloseTo(open_h, 9);
  });

  it("find the instant behind a holiday, and none before the horizon where nothing ever opens", () => {
    const spans = spansOf(rule({ datesOff: [{ from: "2026-03-21", to: "2026-04-10" }] }));
    expect(spans.instantAfter(from_epochMs, 8.5 + 1)).toBe(Date.parse("2026-04-11T10:00:00+02:00"));
    const never = openSpansOfCalendars([], from_epochMs);
    expect(never.hasOpenAt(from_epochMs)).toBe(false);
    expect(never.instantAfter(from_epochMs, 1)).toBe(from_epochMs + 730 * day_ms);
  });
});

describe("a run-out walked through a site's calendar", () => {
  const charge = suppliedCharge({ closedAt_epochMs: from_epochMs, timeZone: berlin, windows: [] });
  const runOutBy = (datesOff: DosingRule["datesOff"]) => {
    const model = createSupplyModel(charge, { spans: spansOf(rule({ datesOff })) });
    const first = { at_epochMs: from_epochMs + day_ms, pressureGauge_bar: 14, valveOpen: false };
    return supplyEstimate(model, firstSupplyState(model, first), first.at_epochMs).runOut;
  };

  it("comes later by the days off that lie before it, on the wall clock", () => {
    const plain = runOutBy([]);
    const off = runOutBy([{ from: "2026-03-25", to: "2026-03-31" }]);
    const later_days = (off.median_epochMs - plain.median_epochMs) / day_ms;
    // Usual flow is set so that a charge lasts a month of its calendar, so fewer hours in the quarter flow faster.
    expect(later_days).toBeGreaterThan(4);
    expect(later_days).toBeLessThan(7.5);
  });
});
