import { describe, expect, it } from "vitest";
import { dosingDays, dosingDaysLeft } from "../../../../lib/refill/dosing-days.js";
import { weekdays, type Weekday } from "../../../../lib/schedule/civil-time.js";
import { createDosingCalendar } from "../../../../lib/schedule/dosing-calendar.js";
import type { DateOff } from "../../../../lib/schedule/dosing-windows.js";

const zone = "Europe/Berlin";
const hour_ms = 3_600_000;

function calendar(
  lightsOn: string,
  lightsOff: string,
  rest: { readonly days?: readonly Weekday[]; readonly datesOff?: readonly DateOff[] } = {},
) {
  const photoperiods = [{ lightsOn, lightsOff, days: rest.days ?? weekdays }];
  return createDosingCalendar(
    [{ photoperiods, lead_min: 0, earlyClose_min: 0, datesOff: rest.datesOff ?? [] }],
    zone,
  );
}

const at = (text: string): number => Date.parse(text);
const span = (from: string, to: string) => ({ from_epochMs: at(from), to_epochMs: at(to) });

describe("the dosing days of a vessel", () => {
  it.each([
    {
      because: "one window a day",
      calendars: [calendar("10:00", "18:00")],
      dates: ["2026-07-01", "2026-07-02", "2026-07-03"],
      first_h: 8,
    },
    {
      because: "dates off are no dosing days",
      calendars: [calendar("10:00", "18:00", { datesOff: ["2026-07-02"] })],
      dates: ["2026-07-01", "2026-07-03"],
      first_h: 8,
    },
    {
      because: "days without light are none either (1 July 2026 is a Wednesday)",
      calendars: [calendar("10:00", "18:00", { days: ["thu"] })],
      dates: ["2026-07-02"],
      first_h: 8,
    },
    {
      because: "two valves ask together for the union of their windows",
      calendars: [calendar("10:00", "18:00"), calendar("16:00", "20:00")],
      dates: ["2026-07-01", "2026-07-02", "2026-07-03"],
      first_h: 10,
    },
    {
      because: "a window over midnight belongs to the day on which it opens",
      calendars: [calendar("20:00", "02:00")],
      dates: ["2026-06-30", "2026-07-01", "2026-07-02", "2026-07-03"],
      first_h: 6,
    },
    {
      because: "windows without a break are parted at midnight",
      calendars: [calendar("00:00", "12:00"), calendar("12:00", "00:00")],
      dates: ["2026-07-01", "2026-07-02", "2026-07-03"],
      first_h: 24,
    },
  ])("are counted by the calendar: $because", ({ calendars, dates, first_h }) => {
    const found = dosingDays(calendars, zone, span("2026-07-01T00:00+02:00", "2026-07-04T00:00+02:00"));
    expect(found.days.map(({ date }) => date)).toEqual(dates);
    expect(found.days[0]?.open_ms).toBe(first_h * hour_ms);
  });

  it.each([
    // Clocks in Berlin go forward on 29 March and back on 25 October 2026 [IANA time zone database].
    { date: "2026-03-29", open_h: 7, from: "2026-03-28T12:00+01:00", to: "2026-03-30T12:00+02:00" },
    { date: "2026-10-25", open_h: 9, from: "2026-10-24T12:00+02:00", to: "2026-10-26T12:00+01:00" },
    { date: "2026-03-30", open_h: 8, from: "2026-03-28T12:00+01:00", to: "2026-03-31T12:00+02:00" },
  ])("last as long as the clock says on $date: $open_h h", ({ date, open_h, from, to }) => {
    const found = dosingDays([calendar("01:00", "09:00")], zone, span(from, to));
    expect(found.days.find((day) => day.date === date)?.open_ms).toBe(open_h * hour_ms);
  });

  it("turns open time into instants and back, over nights and dates off", () => {
    const days = dosingDays(
      [calendar("10:00", "18:00", { datesOff: ["2026-07-02"] })],
      zone,
      span("2026-07-01T12:00+02:00", "2026-07-06T00:00+02:00"),
    );
    expect(days.instantAfter(6 * hour_ms)).toBe(at("2026-07-01T18:00+02:00"));
    expect(days.instantAfter(7 * hour_ms)).toBe(at("2026-07-03T11:00+02:00"));
    expect(days.openUntil_ms(at("2026-07-03T11:00+02:00"))).toBe(7 * hour_ms);
    expect(days.openUntil_ms(at("2026-07-02T15:00+02:00"))).toBe(6 * hour_ms);
    expect(days.instantAfter(1000 * hour_ms)).toBeUndefined();
  });

  it.each([
    { from: "2026-07-01T18:00+02:00", to: "2026-07-02T10:00+02:00", lost: [], because: "only a night" },
    {
      from: "2026-07-01T17:15+02:00",
      to: "2026-07-02T10:00+02:00",
      lost: [],
      because: "0.75 of 8 h is under a tenth",
    },
    {
      from: "2026-07-01T17:00+02:00",
      to: "2026-07-02T10:00+02:00",
      lost: ["2026-07-01"],
      because: "1 of 8 h is over it",
    },
    {
      from: "2026-07-01T17:00+02:00",
      to: "2026-07-03T11:00+02:00",
      lost: ["2026-07-01", "2026-07-02", "2026-07-03"],
      because: "a whole day and parts of two",
    },
  ])("are lost from $from to $to: $because", ({ from, to, lost }) => {
    const days = dosingDays(
      [calendar("10:00", "18:00")],
      zone,
      span("2026-07-01T00:00+02:00", "2026-07-06T00:00+02:00"),
    );
    expect(days.missedBetween(at(from), at(to)).map(({ date }) => date)).toEqual(lost);
  });
});

describe("the dosing days left", () => {
  const days = dosingDays(
    [calendar("10:00", "18:00", { datesOff: [{ from: "2026-07-04", to: "2026-07-10" }] })],
    zone,
    span("2026-07-01T12:00+02:00", "2026-08-01T00:00+02:00"),
  );

  it.each([
    { runOut: "2026-07-01T13:00+02:00", left: 0, short: "2026-07-01", because: "today is cut short" },
    { runOut: "2026-07-01T18:00+02:00", left: 1, short: "2026-07-02", because: "today's rest is served" },
    {
      runOut: "2026-07-03T17:30+02:00",
      left: 3,
      short: "2026-07-11",
      because: "half an hour is no lost day, and then come dates off",
    },
    { runOut: "2026-07-08T00:00+02:00", left: 3, short: "2026-07-11", because: "dates off use nothing" },
    {
      runOut: "2026-07-12T12:00+02:00",
      left: 4,
      short: "2026-07-12",
      because: "counted by days, not by hours",
    },
    { runOut: "2027-01-01T00:00+01:00", left: 24, short: undefined, because: "all that were looked at" },
  ])("are $left until $runOut: $because", ({ runOut, left, short }) => {
    const median_epochMs = at(runOut);
    const found = dosingDaysLeft(days, {
      median_epochMs,
      low80_epochMs: days.from_epochMs,
      high80_epochMs: median_epochMs,
    });
    expect(found).toEqual({ median: left, low80: 0, high80: left, firstShort: short });
  });
});
