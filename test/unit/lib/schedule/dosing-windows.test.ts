import { describe, expect, it } from "vitest";
import { OutOfValidRangeError, UnknownNameError } from "../../../../lib/errors.js";
import { weekdays, type Weekday } from "../../../../lib/schedule/civil-time.js";
import {
  dosingWindows,
  intersectedWindows,
  type DosingRule,
  type DosingWindow,
} from "../../../../lib/schedule/dosing-windows.js";

const utc = (text: string): number => Date.parse(`${text}Z`);
const window = (opens: string, closes: string): DosingWindow => ({
  opens_epochMs: utc(opens),
  closes_epochMs: utc(closes),
});

interface Light {
  readonly on: string;
  readonly off: string;
  readonly days?: readonly Weekday[];
}

function ruleOf(lights: readonly Light[], rest: Partial<DosingRule> = {}): DosingRule {
  return {
    photoperiods: lights.map(({ on, off, days }) => ({
      lightsOn: on,
      lightsOff: off,
      days: days ?? weekdays,
    })),
    lead_min: 0,
    earlyClose_min: 0,
    datesOff: [],
    ...rest,
  };
}

describe("dosing windows on ordinary days", () => {
  it.each([
    {
      rule: ruleOf([{ on: "10:00", off: "19:00" }], { lead_min: 90, earlyClose_min: 45 }),
      expected: [window("2026-01-14T08:30", "2026-01-14T18:15")],
      because: "lead before lights on, early closing before lights off",
    },
    {
      rule: ruleOf([
        { on: "06:00", off: "10:00" },
        { on: "15:00", off: "20:00" },
      ]),
      expected: [
        window("2026-01-14T06:00", "2026-01-14T10:00"),
        window("2026-01-14T15:00", "2026-01-14T20:00"),
      ],
      because: "two photoperiods a day",
    },
    {
      rule: ruleOf(
        [
          { on: "15:00", off: "20:00" },
          { on: "06:00", off: "14:00" },
        ],
        { lead_min: 60 },
      ),
      expected: [window("2026-01-14T05:00", "2026-01-14T20:00")],
      because: "windows that touch are one, whatever the order in the config",
    },
    {
      rule: ruleOf([{ on: "22:00", off: "04:00", days: ["tue"] }]),
      expected: [window("2026-01-14T00:00", "2026-01-14T04:00")],
      because: "the night belongs to the day of lights on",
    },
    {
      rule: ruleOf([{ on: "22:00", off: "04:00", days: ["wed"] }]),
      expected: [window("2026-01-14T22:00", "2026-01-15T00:00")],
      because: "and not to the day of lights off",
    },
    {
      rule: ruleOf([{ on: "00:30", off: "06:00", days: ["thu"] }], { lead_min: 60 }),
      expected: [window("2026-01-14T23:30", "2026-01-15T00:00")],
      because: "a lead may begin on the day before",
    },
    {
      rule: ruleOf([{ on: "08:00", off: "08:00" }]),
      expected: [window("2026-01-14T00:00", "2026-01-15T00:00")],
      because: "lights off at the time of lights on is a day later, so this light never goes out",
    },
    {
      rule: ruleOf([{ on: "10:00", off: "10:30" }], { earlyClose_min: 30 }),
      expected: [],
      because: "nothing is left",
    },
    {
      rule: ruleOf([{ on: "10:00", off: "10:20" }], { lead_min: 30, earlyClose_min: 40 }),
      expected: [window("2026-01-14T09:30", "2026-01-14T09:40")],
      because: "what is left lies before lights on",
    },
    {
      rule: ruleOf([{ on: "10:00", off: "19:00" }], { datesOff: ["2026-01-14"] }),
      expected: [],
      because: "a date off",
    },
    {
      rule: ruleOf([{ on: "22:00", off: "04:00" }], {
        datesOff: [{ from: "2026-01-10", to: "2026-01-13" }],
      }),
      expected: [window("2026-01-14T22:00", "2026-01-15T00:00")],
      because: "a span off, both ends included, by the date of lights on",
    },
    {
      rule: ruleOf([{ on: "10:00", off: "19:00", days: [] }]),
      expected: [],
      because: "no day of the week",
    },
    { rule: ruleOf([]), expected: [], because: "no photoperiod" },
  ])("gives the windows of Wednesday 2026-01-14 in UTC: $because", ({ rule, expected }) => {
    expect(dosingWindows(rule, "UTC", utc("2026-01-14T00:00"), utc("2026-01-15T00:00"))).toEqual(expected);
  });

  it("cuts a window at both ends of the span that was asked for", () => {
    const rule = ruleOf([{ on: "10:00", off: "19:00" }]);
    expect(dosingWindows(rule, "UTC", utc("2026-01-14T12:00"), utc("2026-01-14T13:00"))).toEqual([
      window("2026-01-14T12:00", "2026-01-14T13:00"),
    ]);
    expect(dosingWindows(rule, "UTC", utc("2026-01-14T13:00"), utc("2026-01-14T12:00"))).toEqual([]);
  });
});

/** Clock changes: IANA time zone database, release 2025b (see civil-time.test.ts for the rules). */
describe("dosing windows over a clock change", () => {
  it.each([
    {
      timeZone: "Europe/Berlin",
      date: "2026-03-29",
      midnight: "2026-03-28T23:00",
      rule: ruleOf([{ on: "01:00", off: "05:00" }]),
      expected: [window("2026-03-29T00:00", "2026-03-29T03:00")],
      because: "across the gap: an hour less",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-03-29",
      midnight: "2026-03-28T23:00",
      rule: ruleOf([{ on: "02:30", off: "05:00" }]),
      expected: [window("2026-03-29T01:00", "2026-03-29T03:00")],
      because: "lights on inside the gap: from the first instant after it",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-03-29",
      midnight: "2026-03-28T23:00",
      rule: ruleOf([{ on: "00:30", off: "02:30" }]),
      expected: [window("2026-03-28T23:30", "2026-03-29T01:00")],
      because: "lights off inside the gap: at the change, not an hour later",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-03-29",
      midnight: "2026-03-28T23:00",
      rule: ruleOf([{ on: "02:10", off: "02:50" }], { lead_min: 60, earlyClose_min: 10 }),
      expected: [],
      because: "light that never burns needs no gas, lead or not",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-03-29",
      midnight: "2026-03-28T23:00",
      rule: ruleOf([{ on: "03:30", off: "09:00" }], { lead_min: 60 }),
      expected: [window("2026-03-29T00:30", "2026-03-29T07:00")],
      because: "the lead is elapsed time: 60 min before 03:30 it was 01:30",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-10-25",
      midnight: "2026-10-24T22:00",
      rule: ruleOf([{ on: "01:00", off: "05:00" }]),
      expected: [window("2026-10-24T23:00", "2026-10-25T04:00")],
      because: "across the fold: an hour more, as the lights burn",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-10-25",
      midnight: "2026-10-24T22:00",
      rule: ruleOf([{ on: "02:10", off: "02:50" }]),
      expected: [],
      because: "inside the fold: on at the second 02:10 is after off at the first 02:50",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-10-25",
      midnight: "2026-10-24T22:00",
      rule: ruleOf([{ on: "02:10", off: "02:50" }], { lead_min: 120 }),
      expected: [],
      because: "inside the fold no lead makes a window of it",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-10-25",
      midnight: "2026-10-24T22:00",
      rule: ruleOf([{ on: "02:30", off: "06:00" }]),
      expected: [window("2026-10-25T01:30", "2026-10-25T05:00")],
      because: "lights on inside the fold: the second time",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-10-25",
      midnight: "2026-10-24T22:00",
      rule: ruleOf([{ on: "00:00", off: "02:30" }]),
      expected: [window("2026-10-24T22:00", "2026-10-25T00:30")],
      because: "lights off inside the fold: the first time",
    },
    {
      timeZone: "America/New_York",
      date: "2026-11-01",
      midnight: "2026-11-01T04:00",
      rule: ruleOf([{ on: "20:00", off: "01:30", days: ["sat"] }]),
      expected: [window("2026-11-01T04:00", "2026-11-01T05:30")],
      because: "a night that ends inside the fold, seen from midnight on",
    },
    {
      timeZone: "America/New_York",
      date: "2026-03-08",
      midnight: "2026-03-08T05:00",
      rule: ruleOf([{ on: "20:00", off: "02:30", days: ["sat"] }], { earlyClose_min: 30 }),
      expected: [window("2026-03-08T05:00", "2026-03-08T06:30")],
      because: "a night that ends inside the gap closes half an hour before the change",
    },
    {
      timeZone: "Australia/Lord_Howe",
      date: "2026-04-05",
      midnight: "2026-04-04T13:00",
      rule: ruleOf([{ on: "01:00", off: "01:45" }]),
      expected: [window("2026-04-04T14:00", "2026-04-04T14:45")],
      because: "a fold of half an hour: lights off the first time",
    },
    {
      timeZone: "Australia/Lord_Howe",
      date: "2026-10-04",
      midnight: "2026-10-03T13:30",
      rule: ruleOf([{ on: "02:15", off: "03:00" }]),
      expected: [window("2026-10-03T15:30", "2026-10-03T16:00")],
      because: "a gap of half an hour",
    },
  ])("$timeZone $date: $because", ({ timeZone, midnight, rule, expected }) => {
    // Only the light of the day in question, so that the neighbours do not show.
    const thatDay: DosingRule = {
      ...rule,
      photoperiods: rule.photoperiods.map((light) =>
        light.days.length === 7 ? { ...light, days: ["sun"] } : light,
      ),
    };
    const from_epochMs = utc(midnight);
    expect(dosingWindows(thatDay, timeZone, from_epochMs, from_epochMs + 20 * 3_600_000)).toEqual(expected);
  });

  const apia = (rule: DosingRule): readonly DosingWindow[] =>
    dosingWindows(rule, "Pacific/Apia", utc("2011-12-29T10:00"), utc("2012-01-01T10:00"));

  it("gives no window to a day that the zone left out", () => {
    expect(apia(ruleOf([{ on: "10:00", off: "19:00" }], { lead_min: 60, earlyClose_min: 30 }))).toEqual([
      window("2011-12-29T19:00", "2011-12-30T04:30"),
      window("2011-12-30T19:00", "2011-12-31T04:30"),
      window("2011-12-31T19:00", "2012-01-01T04:30"),
    ]);
    expect(apia(ruleOf([{ on: "10:00", off: "19:00", days: ["fri"] }], { lead_min: 60 }))).toEqual([]);
  });

  it("lets a light that burns over midnight run on over the day that was left out", () => {
    expect(apia(ruleOf([{ on: "22:00", off: "06:00", days: ["thu", "fri"] }]))).toEqual([
      window("2011-12-30T08:00", "2011-12-30T16:00"),
    ]);
  });
});

describe("a broken dosing rule", () => {
  const good = ruleOf([{ on: "10:00", off: "19:00" }]);
  it.each([
    [{ ...good, lead_min: -1 }, OutOfValidRangeError, "a negative lead"],
    [{ ...good, lead_min: 241 }, OutOfValidRangeError, "a lead beyond 4 h"],
    [{ ...good, earlyClose_min: Number.NaN }, OutOfValidRangeError, "an early closing that is no number"],
    [ruleOf([{ on: "10:00", off: "24:00" }]), UnknownNameError, "24:00"],
    [ruleOf([{ on: "10am", off: "19:00" }]), UnknownNameError, "no time of day"],
    [ruleOf([{ on: "10:00", off: "19:00", days: ["monday" as Weekday] }]), UnknownNameError, "no short day"],
    [{ ...good, datesOff: ["2026-02-30"] }, UnknownNameError, "a day that does not exist"],
    [{ ...good, datesOff: [{ from: "2026-02-07", to: "2026-02-01" }] }, UnknownNameError, "a span backwards"],
  ] as const)("is refused: %#", (rule, error, because) => {
    expect(() => dosingWindows(rule, "UTC", 0, 1), because).toThrow(error);
  });

  it("is refused for an unknown zone and for an instant that is no number", () => {
    expect(() => dosingWindows(good, "Mars/Olympus", 0, 1)).toThrow(UnknownNameError);
    expect(() => dosingWindows(good, "UTC", Number.NaN, 1)).toThrow(OutOfValidRangeError);
  });
});

describe("the intersection of windows", () => {
  const span = (opens_epochMs: number, closes_epochMs: number): DosingWindow => ({
    opens_epochMs,
    closes_epochMs,
  });
  it.each([
    { lists: [], expected: [], because: "no tank, no gas" },
    { lists: [[span(1, 5)]], expected: [span(1, 5)], because: "one tank alone" },
    { lists: [[span(1, 5)], [span(5, 9)]], expected: [], because: "touching is not overlapping" },
    {
      lists: [[span(1, 10)], [span(2, 4), span(6, 12)]],
      expected: [span(2, 4), span(6, 10)],
      because: "one long window over two",
    },
    {
      lists: [[span(1, 10)], [span(2, 8)], [span(0, 3), span(7, 9)]],
      expected: [span(2, 3), span(7, 8)],
      because: "three tanks",
    },
    { lists: [[span(1, 5)], []], expected: [], because: "a tank without a window closes the valve" },
  ])("is open only where all are: $because", ({ lists, expected }) => {
    expect(intersectedWindows(lists)).toEqual(expected);
  });
});
