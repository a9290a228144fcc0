import { describe, expect, it } from "vitest";
import { dosingDays, missedShare_ratio, type DosingDays } from "../../../../lib/refill/dosing-days.js";
import { readyDrawsOf_ms, runOutDrawsOf } from "../../../../lib/refill/outlook-draws.js";
import type { FreshCharge, RefillRequest } from "../../../../lib/refill/refill-option.js";
import { refillOutlook } from "../../../../lib/refill/refill-outlook.js";
import { refillOpportunities } from "../../../../lib/refill/refill-times.js";
import { weekdays } from "../../../../lib/schedule/civil-time.js";
import { createDosingCalendar } from "../../../../lib/schedule/dosing-calendar.js";

const day_ms = 86_400_000;
const minute_ms = 60_000;
const zone = "Europe/Berlin";
const now_epochMs = Date.parse("2026-03-02T09:00:00Z");
const water: FreshCharge = { closedWith: "water", ready: { value_h: 5, low_h: 2.5, high_h: 10 } };
const ice: FreshCharge = { closedWith: "ice", ready: { value_h: 20, low_h: 10, high_h: 40 } };

/** Two spans of gas a day, one over midnight on Fridays; a day off; clocks go forward on 29 March. */
function requestOf(runsOut_days: number, change: Partial<RefillRequest> = {}): RefillRequest {
  const photoperiods = [
    { lightsOn: "09:00", lightsOff: "13:00", days: weekdays },
    { lightsOn: "16:00", lightsOff: "20:00", days: weekdays },
    { lightsOn: "22:00", lightsOff: "01:00", days: ["fri" as const] },
  ];
  return {
    now_epochMs,
    timeZone: zone,
    calendars: [
      createDosingCalendar(
        [{ photoperiods, lead_min: 0, earlyClose_min: 0, datesOff: ["2026-04-03"] }],
        zone,
      ),
    ],
    runOut: {
      low80_epochMs: now_epochMs + 0.8 * runsOut_days * day_ms,
      median_epochMs: now_epochMs + runsOut_days * day_ms,
      high80_epochMs: now_epochMs + 1.25 * runsOut_days * day_ms,
    },
    deliverable: { value_g: 40, low80_g: 34, high80_g: 46 },
    habits: { days: weekdays, from: "08:00", until: "22:00", handling_min: 45 },
    away: [{ from: "2026-04-10", to: "2026-04-24" }],
    fresh: [water, ice],
    acceptedLoss_ratio: 0.1,
    hasSpareVessel: false,
    ...change,
  };
}

/** Day by day, window by window: the plain meaning of a lost day. */
function lostDays(days: DosingDays, from_epochMs: number, to_epochMs: number): number {
  return days.days.filter(({ windows, open_ms }) => {
    const gap_ms = windows.reduce(
      (sum, { opens_epochMs, closes_epochMs }) =>
        sum + Math.max(0, Math.min(closes_epochMs, to_epochMs) - Math.max(opens_epochMs, from_epochMs)),
      0,
    );
    return gap_ms > missedShare_ratio * open_ms;
  }).length;
}

/** The least chance and loss of each opportunity, every draw against every ready time at every half hour, nothing left out. */
function byEveryStep(request: RefillRequest, fresh: FreshCharge, until_epochMs: number) {
  const span = { from_epochMs: now_epochMs, to_epochMs: until_epochMs + 60 * day_ms };
  const days = dosingDays(request.calendars, zone, span);
  const draws = runOutDrawsOf(request.runOut, request.deliverable, days);
  const ready_ms = readyDrawsOf_ms(fresh.ready);
  return refillOpportunities(request.habits, request.away, zone, {
    from_epochMs: now_epochMs,
    to_epochMs: until_epochMs,
  }).map(({ date, first_epochMs, last_epochMs }) => {
    const begins = [last_epochMs, ...days.closingsBetween(first_epochMs, last_epochMs)];
    for (let at = first_epochMs; at < last_epochMs; at += 30 * minute_ms) begins.push(at);
    const losses = begins.map((begins_epochMs) => {
      let chance_ratio = 0;
      let expected_days = 0;
      for (const { open_ms } of draws) {
        const end_epochMs = Math.min(days.instantAfter(open_ms) ?? Infinity, begins_epochMs);
        for (const after_ms of ready_ms) {
          const lost = lostDays(days, end_epochMs, begins_epochMs + 45 * minute_ms + after_ms);
          const weight = 1 / (draws.length * ready_ms.length);
          if (lost > 0) chance_ratio += weight;
          expected_days += weight * lost;
        }
      }
      return { chance_ratio, expected_days };
    });
    const best = losses.reduce((one, other) =>
      other.chance_ratio < one.chance_ratio - 1e-9 ||
      (Math.abs(other.chance_ratio - one.chance_ratio) < 1e-9 && other.expected_days < one.expected_days)
        ? other
        : one,
    );
    return { date, ...best };
  });
}

describe("the outlook far ahead", () => {
  it("finds what a walk through every step finds, to a millionth of a day", () => {
    const request = requestOf(9);
    const fine = byEveryStep(request, water, now_epochMs + 15 * day_ms);
    const [withWater] = refillOutlook(request).fillings;
    const sensible = fine.filter(({ chance_ratio }) => chance_ratio <= 0.1 + 1e-9).at(-1)!;
    const possible = fine.filter(({ chance_ratio }) => chance_ratio <= 0.5 + 1e-9).at(-1)!;
    expect(withWater.lastSensible?.date).toBe(sensible.date);
    expect(withWater.latestPossible?.date).toBe(possible.date);
    expect(possible.date > sensible.date).toBe(true);
    for (const [found, walked] of [
      [withWater.lastSensible!, sensible],
      [withWater.latestPossible!, possible],
    ] as const) {
      expect(found.lossChance_ratio).toBeCloseTo(walked.chance_ratio, 6);
      expect(found.expectedLost_days).toBeCloseTo(walked.expected_days, 6);
    }
  });

  it.each([
    { runsOut_days: 90, hasSpareVessel: false },
    { runsOut_days: 90, hasSpareVessel: true },
    { runsOut_days: 150, hasSpareVessel: true },
  ])(
    "takes less than 2 s of a processor: $runsOut_days days, spare vessel: $hasSpareVessel",
    ({ runsOut_days, hasSpareVessel }) => {
      const begun = process.cpuUsage();
      refillOutlook(requestOf(runsOut_days, { hasSpareVessel }));
      const { user, system } = process.cpuUsage(begun);
      expect((user + system) / 1e6).toBeLessThan(2);
    },
  );
});
