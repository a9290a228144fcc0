import { describe, expect, it } from "vitest";
import { dueDigestDay, type DigestTimes } from "../../../../lib/digest/digest-day.js";

const zone = "Europe/Berlin";
const daily: DigestTimes = { at: "07:30", weekday: undefined };
const weekly: DigestTimes = { at: "07:30", weekday: "sun" };
const long = Date.parse("2026-01-01T00:00:00Z");

const due = (times: DigestTimes, now: string, before: { since?: string; lastDay?: string } = {}) =>
  dueDigestDay(
    times,
    {
      watchedSince_epochMs: before.since === undefined ? long : Date.parse(before.since),
      ...(before.lastDay === undefined ? {} : { lastDay: before.lastDay }),
    },
    Date.parse(now),
    zone,
  );

describe("the day whose digest is due", () => {
  // Berlin is at +02:00 in May; Sunday is 2026-05-03 (ISO 8601 calendar).
  const rows: readonly (readonly [
    DigestTimes,
    string,
    { since?: string; lastDay?: string },
    string | undefined,
  ])[] = [
    [daily, "2026-05-04T07:29:59+02:00", { lastDay: "2026-05-03" }, undefined],
    [daily, "2026-05-04T07:30:00+02:00", { lastDay: "2026-05-03" }, "2026-05-04"],
    [daily, "2026-05-04T07:30:01+02:00", { lastDay: "2026-05-04" }, undefined],
    [daily, "2026-05-04T19:29:59+02:00", { lastDay: "2026-05-03" }, "2026-05-04"],
    [daily, "2026-05-04T19:30:00+02:00", { lastDay: "2026-05-03" }, undefined],
    [daily, "2026-05-05T01:00:00+02:00", { lastDay: "2026-05-03" }, undefined],
    [{ ...daily, at: "22:00" }, "2026-05-05T01:00:00+02:00", { lastDay: "2026-05-03" }, "2026-05-04"],
    [weekly, "2026-05-03T08:00:00+02:00", {}, "2026-05-03"],
    [weekly, "2026-05-04T08:00:00+02:00", {}, undefined],
    [{ at: "20:00", weekday: "sun" }, "2026-05-04T06:00:00+02:00", {}, "2026-05-03"],
  ];
  it.each(rows)("%j at %s after %j is %s", (times, now, before, day) => {
    expect(due(times, now, before)).toBe(day);
  });

  it("is none for a time that had come before anything was watched", () => {
    expect(due(daily, "2026-05-04T08:00:00+02:00", { since: "2026-05-04T07:45:00+02:00" })).toBeUndefined();
    expect(due(daily, "2026-05-05T07:30:00+02:00", { since: "2026-05-04T07:45:00+02:00" })).toBe(
      "2026-05-05",
    );
  });

  it("comes once in the night in which the clock shows the time twice, and in the one that leaves it out", () => {
    // Summer time in Germany 2026: 29 March 02:00 to 03:00, and 25 October 03:00 to 02:00 (EU directive 2000/84/EC).
    const night: DigestTimes = { at: "02:30", weekday: undefined };
    expect(due(night, "2026-10-25T02:30:00+02:00", { lastDay: "2026-10-24" })).toBe("2026-10-25");
    expect(due(night, "2026-10-25T02:30:00+01:00", { lastDay: "2026-10-25" })).toBeUndefined();
    expect(due(night, "2026-03-29T01:59:59+01:00", { lastDay: "2026-03-28" })).toBeUndefined();
    expect(due(night, "2026-03-29T03:00:00+02:00", { lastDay: "2026-03-28" })).toBe("2026-03-29");
  });

  it("is sent once for each day of a year looked at every two hours, whatever restarts there are", () => {
    let lastDay: string | undefined;
    const sent: string[] = [];
    const year_ms = 365 * 86_400_000;
    for (let at = long + 7_200_000; at < long + year_ms; at += 7_200_000) {
      const day = dueDigestDay(
        daily,
        { watchedSince_epochMs: long, ...(lastDay === undefined ? {} : { lastDay }) },
        at,
        zone,
      );
      if (day === undefined) continue;
      sent.push(day);
      lastDay = day;
    }
    expect(sent).toHaveLength(365);
    expect(new Set(sent).size).toBe(365);
  });

  it("is not sent again when the clock is put back by a day", () => {
    expect(due(daily, "2026-05-03T08:00:00+02:00", { lastDay: "2026-05-04" })).toBeUndefined();
  });
});
