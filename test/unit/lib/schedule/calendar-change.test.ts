import { describe, expect, it } from "vitest";
import { mayChangeCalendar } from "../../../../lib/schedule/calendar-change.js";
import { weekdays } from "../../../../lib/schedule/civil-time.js";
import { createDosingCalendar } from "../../../../lib/schedule/dosing-calendar.js";

/** Lights 10:00 to 19:00 in UTC, gas until 18:30. */
const withLead = (lead_min: number) =>
  createDosingCalendar(
    [
      {
        photoperiods: [{ lightsOn: "10:00", lightsOff: "19:00", days: [...weekdays] }],
        lead_min,
        earlyClose_min: 30,
        datesOff: [],
      },
    ],
    "UTC",
  );

describe("another lead", () => {
  it.each([
    { time: "03:00", from: 60, to: 90, may: true, because: "nothing is due for hours" },
    { time: "18:30", from: 60, to: 90, may: true, because: "the window has just closed" },
    { time: "12:00", from: 60, to: 90, may: false, because: "a window is open" },
    { time: "08:45", from: 60, to: 90, may: false, because: "gas would open at once" },
    { time: "09:15", from: 60, to: 30, may: false, because: "the window that was entered would vanish" },
    { time: "08:10", from: 60, to: 30, may: false, because: "gas is due within the hour by the old one" },
    {
      time: "07:45",
      from: 60,
      to: 90,
      may: false,
      because: "gas would be due within the hour by the new one",
    },
    { time: "07:30", from: 60, to: 90, may: true, because: "there is an hour of notice by both" },
  ])("at $time from $from to $to min: $may, because $because", ({ time, from, to, may }) => {
    const at_epochMs = Date.parse(`2026-05-04T${time}:00Z`);
    expect(mayChangeCalendar(withLead(from), withLead(to), at_epochMs)).toBe(may);
  });
});
