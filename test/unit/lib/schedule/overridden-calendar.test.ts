import { describe, expect, it } from "vitest";
import { weekdays } from "../../../../lib/schedule/civil-time.js";
import { createDosingCalendar } from "../../../../lib/schedule/dosing-calendar.js";
import { overriddenCalendar, type OverriddenSpan } from "../../../../lib/schedule/overridden-calendar.js";

const at = (text: string): number => Date.parse(`2026-03-${text}:00+01:00`);
const calendar = createDosingCalendar(
  [
    {
      photoperiods: [{ lightsOn: "10:00", lightsOff: "18:00", days: weekdays }],
      lead_min: 0,
      earlyClose_min: 0,
      datesOff: [],
    },
  ],
  "Europe/Berlin",
);
const span = (
  action: OverriddenSpan["action"],
  from: string,
  until: string,
  source: OverriddenSpan["source"] = "local",
): OverriddenSpan => ({ action, source, from_epochMs: at(from), until_epochMs: at(until) });
const hours = (...overrides: OverriddenSpan[]): number =>
  overriddenCalendar(calendar, overrides)
    .windowsBetween(at("02T00:00"), at("05T00:00"))
    .reduce(
      (sum, { opens_epochMs, closes_epochMs }) => sum + (closes_epochMs - opens_epochMs) / 3_600_000,
      0,
    );

describe("a calendar that people have overridden", () => {
  it.each([
    { overrides: [], open_h: 24, because: "three days of eight hours" },
    { overrides: [span("closed", "02T12:00", "03T12:00")], open_h: 16, because: "a day of it is cut out" },
    {
      overrides: [span("closed", "02T19:00", "03T09:00")],
      open_h: 24,
      because: "the night had no gas anyway",
    },
    {
      overrides: [span("open", "02T17:00", "02T19:30")],
      open_h: 25.5,
      because: "an hour and a half outlast it",
    },
    {
      overrides: [span("open", "02T17:00", "02T19:30", "remote")],
      open_h: 24,
      because: "a hub opens nothing outside of a window",
    },
    { overrides: [span("closed", "02T12:00", "02T14:00", "remote")], open_h: 22, because: "a hub may close" },
    {
      overrides: [span("closed", "02T12:00", "02T14:00"), span("open", "03T20:00", "03T21:00")],
      open_h: 23,
      because: "both count",
    },
  ])("is open for $open_h h: $because", ({ overrides, open_h }) => {
    expect(hours(...overrides)).toBeCloseTo(open_h, 9);
  });
});
