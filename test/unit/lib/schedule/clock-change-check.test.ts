import { describe, expect, it } from "vitest";
import { clockChangesTouching } from "../../../../lib/schedule/clock-change-check.js";
import { weekdays } from "../../../../lib/schedule/civil-time.js";
import type { DosingRule } from "../../../../lib/schedule/dosing-windows.js";

const year2026 = [Date.parse("2026-01-01T00:00Z"), Date.parse("2027-01-01T00:00Z")] as const;

function ruleOf(lightsOn: string, lightsOff: string, rest: Partial<DosingRule> = {}): DosingRule {
  return {
    photoperiods: [{ lightsOn, lightsOff, days: weekdays }],
    lead_min: 0,
    earlyClose_min: 0,
    datesOff: [],
    ...rest,
  };
}

/** Changes of 2026: IANA time zone database, release 2025b. Berlin 29 March and 25 October, 01:00 UTC; New York 8 March 07:00, 1 November 06:00. */
describe("windows that a clock change touches", () => {
  it.each([
    { rule: ruleOf("10:00", "19:00", { lead_min: 90 }), expected: [], because: "daylight is far from it" },
    {
      rule: ruleOf("22:00", "06:00"),
      expected: [
        ["2026-03-28", 420, ["is shorter than usual"]],
        ["2026-10-24", 540, ["is longer than usual"]],
      ],
      because: "a night over the change",
    },
    {
      rule: ruleOf("02:30", "09:00"),
      expected: [
        [
          "2026-03-29",
          360,
          [
            "lights on is at a time that does not exist",
            "opens at another time of day",
            "is shorter than usual",
          ],
        ],
        ["2026-10-25", 390, ["lights on is at a time that comes twice"]],
      ],
      because: "lights on at half past two",
    },
    {
      rule: ruleOf("03:30", "09:00", { lead_min: 60 }),
      expected: [["2026-03-29", 390, ["opens at another time of day"]]],
      because: "the lead reaches over the gap; over the fold it ends in the second of the two hours",
    },
    {
      rule: ruleOf("02:10", "02:50", { lead_min: 60 }),
      expected: [
        [
          "2026-03-29",
          undefined,
          [
            "lights on is at a time that does not exist",
            "lights off is at a time that does not exist",
            "does not take place",
          ],
        ],
        [
          "2026-10-25",
          undefined,
          [
            "lights on is at a time that comes twice",
            "lights off is at a time that comes twice",
            "does not take place",
          ],
        ],
      ],
      because: "a light of forty minutes inside the hour",
    },
    {
      rule: ruleOf("02:10", "02:50", { earlyClose_min: 60 }),
      expected: [],
      because: "it never was a window",
    },
    {
      rule: ruleOf("02:30", "09:00", { datesOff: ["2026-03-29", { from: "2026-10-20", to: "2026-10-30" }] }),
      expected: [],
      because: "those dates are off",
    },
  ])("are named in Europe/Berlin: $because", ({ rule, expected }) => {
    const touched = clockChangesTouching(rule, "Europe/Berlin", ...year2026);
    expect(
      touched.map(({ date, window, effects }) => [
        date,
        window === undefined ? undefined : (window.closes_epochMs - window.opens_epochMs) / 60_000,
        effects,
      ]),
    ).toEqual(expected);
  });

  it("come with the change, the lights and the usual length", () => {
    expect(
      clockChangesTouching(ruleOf("20:00", "02:30", { earlyClose_min: 30 }), "America/New_York", ...year2026),
    ).toEqual([
      {
        change: {
          at_epochMs: Date.parse("2026-03-08T07:00Z"),
          shift_min: 60,
          wallClockBefore: "2026-03-08 02:00",
          wallClockAfter: "2026-03-08 03:00",
        },
        date: "2026-03-07",
        lightsOn: "20:00",
        lightsOff: "02:30",
        window: {
          opens_epochMs: Date.parse("2026-03-08T01:00Z"),
          closes_epochMs: Date.parse("2026-03-08T06:30Z"),
        },
        usualLength_min: 360,
        effects: [
          "lights off is at a time that does not exist",
          "closes at another time of day",
          "is shorter than usual",
        ],
      },
      // Lights off at 02:30 comes once on 1 November, an hour of elapsed time later than usual.
      expect.objectContaining({ date: "2026-10-31", effects: ["is longer than usual"] }),
    ]);
  });

  it("are none in a zone without summer time", () => {
    expect(clockChangesTouching(ruleOf("22:00", "06:00"), "Asia/Tokyo", ...year2026)).toEqual([]);
  });
});
