import { describe, expect, it } from "vitest";
import { OutOfValidRangeError, UnknownNameError } from "../../../../lib/errors.js";
import {
  addDays,
  clockChanges,
  instantsOfWallClock,
  isCivilDate,
  isTimeOfDay,
  isTimeZone,
  minuteOfDay,
  wallClockAt,
  weekdayOf,
} from "../../../../lib/schedule/civil-time.js";

/**
 * Source of every expected instant: IANA time zone database, release 2025b, through `zdump -v` of the tz code.
 * Rules: europe "EU" (last Sunday of March and October, 01:00 UTC), northamerica "US" (second Sunday of March, first of
 * November, 02:00), australasia "LH" (first Sunday of April and October, 30 min), Pacific/Apia (2011-12-29 24:00).
 */
const utc = (text: string): number => Date.parse(`${text}Z`);

describe("civil time", () => {
  it("tells the second of an instant whose minute was asked for before, and no instant outside the years it knows", () => {
    expect(wallClockAt(utc("2026-07-01T10:20:05"), "Europe/Berlin").timeOfDay).toBe("12:20:05");
    expect(wallClockAt(utc("2026-07-01T10:20:59.999"), "Europe/Berlin").timeOfDay).toBe("12:20:59");
    expect(wallClockAt(utc("2026-07-01T10:20:05"), "America/New_York").timeOfDay).toBe("06:20:05");
    // The hour that comes twice: one wall clock, two offsets.
    expect(wallClockAt(utc("2026-10-25T00:30:00"), "Europe/Berlin")).toMatchObject({
      timeOfDay: "02:30:00",
      offset_min: 120,
    });
    expect(wallClockAt(utc("2026-10-25T01:30:00"), "Europe/Berlin")).toMatchObject({
      timeOfDay: "02:30:00",
      offset_min: 60,
    });
    const last_epochMs = 16_725_225_600_000;
    expect(wallClockAt(last_epochMs, "UTC").date).toBe("2500-01-01");
    expect(() => wallClockAt(last_epochMs + 1, "UTC")).toThrow(OutOfValidRangeError);
  });

  it.each([
    {
      timeZone: "Europe/Berlin",
      from: "2026-01-01T00:00",
      to: "2027-01-01T00:00",
      expected: [
        ["2026-03-29T01:00", 60, "2026-03-29 02:00", "2026-03-29 03:00"],
        ["2026-10-25T01:00", -60, "2026-10-25 03:00", "2026-10-25 02:00"],
      ] as const,
      because: "rule EU",
    },
    {
      timeZone: "America/New_York",
      from: "2026-01-01T00:00",
      to: "2027-01-01T00:00",
      expected: [
        ["2026-03-08T07:00", 60, "2026-03-08 02:00", "2026-03-08 03:00"],
        ["2026-11-01T06:00", -60, "2026-11-01 02:00", "2026-11-01 01:00"],
      ] as const,
      because: "rule US",
    },
    {
      timeZone: "Australia/Lord_Howe",
      from: "2026-01-01T00:00",
      to: "2027-01-01T00:00",
      expected: [
        ["2026-04-04T15:00", -30, "2026-04-05 02:00", "2026-04-05 01:30"],
        ["2026-10-03T15:30", 30, "2026-10-04 02:00", "2026-10-04 02:30"],
      ] as const,
      because: "rule LH, half an hour",
    },
    {
      timeZone: "Pacific/Apia",
      from: "2011-12-01T00:00",
      to: "2012-01-15T00:00",
      expected: [["2011-12-30T10:00", 1440, "2011-12-30 00:00", "2011-12-31 00:00"]] as const,
      because: "30 December 2011 was left out",
    },
    {
      timeZone: "Asia/Tokyo",
      from: "2026-01-01T00:00",
      to: "2027-01-01T00:00",
      expected: [],
      because: "no summer time",
    },
  ])("lists the clock changes of $timeZone ($because)", ({ timeZone, from, to, expected }) => {
    expect(clockChanges(timeZone, utc(from), utc(to))).toEqual(
      expected.map(([at, shift_min, wallClockBefore, wallClockAfter]) => ({
        at_epochMs: utc(at),
        shift_min,
        wallClockBefore,
        wallClockAfter,
      })),
    );
  });

  it("counts a change at the start of the span and leaves out one at its end", () => {
    const change_epochMs = utc("2026-03-29T01:00");
    expect(clockChanges("Europe/Berlin", change_epochMs, change_epochMs + 1)).toHaveLength(1);
    expect(clockChanges("Europe/Berlin", change_epochMs - 1000, change_epochMs)).toHaveLength(0);
  });

  it.each([
    ["Europe/Berlin", "2026-03-29T00:59:59", "2026-03-29", "01:59:59", "sun", 60],
    ["Europe/Berlin", "2026-03-29T01:00:00", "2026-03-29", "03:00:00", "sun", 120],
    ["America/New_York", "2026-11-01T05:59:59", "2026-11-01", "01:59:59", "sun", -240],
    ["America/New_York", "2026-11-01T06:00:00", "2026-11-01", "01:00:00", "sun", -300],
    ["Australia/Lord_Howe", "2026-10-03T15:30:00", "2026-10-04", "02:30:00", "sun", 660],
    ["Pacific/Apia", "2011-12-30T09:59:59", "2011-12-29", "23:59:59", "thu", -600],
    ["Pacific/Apia", "2011-12-30T10:00:00", "2011-12-31", "00:00:00", "sat", 840],
  ] as const)(
    "reads the wall clock of %s at %s UTC",
    (timeZone, at, date, timeOfDay, weekday, offset_min) => {
      expect(wallClockAt(utc(at), timeZone)).toEqual({ date, timeOfDay, weekday, offset_min });
    },
  );

  it.each([
    {
      timeZone: "Europe/Berlin",
      date: "2026-07-01",
      time: "10:00",
      expected: { kind: "once", at_epochMs: utc("2026-07-01T08:00") },
      because: "an ordinary day",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-03-29",
      time: "02:30",
      expected: { kind: "never", change_epochMs: utc("2026-03-29T01:00") },
      because: "inside the gap",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-03-29",
      time: "03:00",
      expected: { kind: "once", at_epochMs: utc("2026-03-29T01:00") },
      because: "the first minute after the gap",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-10-25",
      time: "02:00",
      expected: {
        kind: "twice",
        earlier_epochMs: utc("2026-10-25T00:00"),
        later_epochMs: utc("2026-10-25T01:00"),
      },
      because: "the first minute of the fold",
    },
    {
      timeZone: "Europe/Berlin",
      date: "2026-10-25",
      time: "03:00",
      expected: { kind: "once", at_epochMs: utc("2026-10-25T02:00") },
      because: "the first minute after the fold",
    },
    {
      timeZone: "Australia/Lord_Howe",
      date: "2026-04-05",
      time: "01:45",
      expected: {
        kind: "twice",
        earlier_epochMs: utc("2026-04-04T14:45"),
        later_epochMs: utc("2026-04-04T15:15"),
      },
      because: "a fold of half an hour",
    },
    {
      timeZone: "Pacific/Apia",
      date: "2011-12-30",
      time: "10:00",
      expected: { kind: "never", change_epochMs: utc("2011-12-30T10:00") },
      because: "a day that was left out",
    },
  ])(
    "finds when the clock of $timeZone shows $date $time ($because)",
    ({ timeZone, date, time, expected }) => {
      expect(instantsOfWallClock(date, minuteOfDay(time), timeZone)).toEqual(expected);
    },
  );

  it.each(["Europe/Berlin", "UTC", "America/Argentina/Buenos_Aires", "Etc/GMT+5", "Asia/Kolkata"])(
    "knows the zone %s",
    (name) => {
      expect(isTimeZone(name)).toBe(true);
    },
  );

  it.each([
    "",
    "Europe/Berlim",
    "+02:00",
    "2026-01-01T00:00[Europe/Berlin]",
    "Europe/",
    "../etc/passwd",
    " ",
  ])("refuses %j as a zone", (name) => {
    expect(isTimeZone(name)).toBe(false);
    expect(() => wallClockAt(0, name)).toThrow(UnknownNameError);
    expect(() => instantsOfWallClock("2026-01-01", 0, name)).toThrow(UnknownNameError);
  });

  it.each([
    ["2028-02-29", true, "a leap year"],
    ["2026-02-29", false, "no leap year"],
    ["2026-13-01", false, "no such month"],
    ["2026-1-1", false, "digits missing"],
    ["20260101", false, "the basic form"],
    ["2026-01-01T00:00", false, "more than a date"],
  ])("takes %s as a date: %s (%s)", (text, isDate) => {
    expect(isCivilDate(text)).toBe(isDate);
  });

  it.each([
    ["00:00", true],
    ["23:59", true],
    ["24:00", false],
    ["9:30", false],
    ["09:60", false],
    ["09:30:00", false],
    ["", false],
  ])("takes %j as a time of day: %s", (text, isTime) => {
    expect(isTimeOfDay(text)).toBe(isTime);
    if (!isTime) expect(() => minuteOfDay(text)).toThrow(UnknownNameError);
  });

  it("counts dates by the calendar, whatever a zone leaves out", () => {
    expect(addDays("2011-12-29", 1)).toBe("2011-12-30");
    expect(addDays("2026-03-01", -1)).toBe("2026-02-28");
    // ISO 8601-1:2019 writes the same day as 1985-04-12 and as 1985-W15-5, a Friday (from memory).
    expect(weekdayOf("1985-04-12")).toBe("fri");
    expect(() => weekdayOf("2026-02-30")).toThrow(UnknownNameError);
  });

  it.each([Number.NaN, Number.POSITIVE_INFINITY, 1e15, -1e15])("refuses %s as an instant", (at_epochMs) => {
    expect(() => wallClockAt(at_epochMs, "UTC")).toThrow(OutOfValidRangeError);
    expect(() => clockChanges("UTC", 0, at_epochMs)).toThrow(OutOfValidRangeError);
  });
});
