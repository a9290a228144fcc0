import { describe, expect, it } from "vitest";
import { OutOfValidRangeError, UnknownNameError } from "../../../../lib/errors.js";
import { weekdays } from "../../../../lib/schedule/civil-time.js";
import { createDosingCalendar, type DosingState } from "../../../../lib/schedule/dosing-calendar.js";
import type { DosingRule } from "../../../../lib/schedule/dosing-windows.js";

const utc = (text: string): number => Date.parse(`${text}Z`);
const day_ms = 86_400_000;

function ruleOf(lightsOn: string, lightsOff: string, rest: Partial<DosingRule> = {}): DosingRule {
  return {
    photoperiods: [{ lightsOn, lightsOff, days: weekdays }],
    lead_min: 0,
    earlyClose_min: 0,
    datesOff: [],
    ...rest,
  };
}
const long = ruleOf("08:00", "20:00", { lead_min: 60, earlyClose_min: 30 });
const short = ruleOf("12:00", "16:00");

describe("the dosing calendar of a valve", () => {
  it.each([
    ["2026-05-04T06:59:59.999", { kind: "closed", opens_epochMs: utc("2026-05-04T07:00") }, "just before"],
    ["2026-05-04T07:00", { kind: "open", closes_epochMs: utc("2026-05-04T19:30") }, "on the second"],
    ["2026-05-04T19:29:59.999", { kind: "open", closes_epochMs: utc("2026-05-04T19:30") }, "to the last"],
    ["2026-05-04T19:30", { kind: "closed", opens_epochMs: utc("2026-05-05T07:00") }, "closed again"],
  ] as readonly (readonly [string, DosingState, string])[])(
    "says for one tank at %s: %j (%s)",
    (at, expected) => {
      expect(createDosingCalendar([long], "UTC").stateAt(utc(at))).toEqual(expected);
    },
  );

  it("is open only where the windows of all tanks overlap", () => {
    const both = createDosingCalendar([long, short], "UTC");
    expect(both.stateAt(utc("2026-05-04T08:00"))).toEqual({
      kind: "closed",
      opens_epochMs: utc("2026-05-04T12:00"),
    });
    expect(both.stateAt(utc("2026-05-04T12:00"))).toEqual({
      kind: "open",
      closes_epochMs: utc("2026-05-04T16:00"),
    });
    expect(both.windowsBetween(utc("2026-05-04T13:00"), utc("2026-05-05T13:00"))).toEqual([
      { opens_epochMs: utc("2026-05-04T13:00"), closes_epochMs: utc("2026-05-04T16:00") },
      { opens_epochMs: utc("2026-05-05T12:00"), closes_epochMs: utc("2026-05-05T13:00") },
    ]);
  });

  it("never opens without a tank, and never where two tanks never overlap", () => {
    const at_epochMs = utc("2026-05-04T12:30");
    const closed = { kind: "closed", opens_epochMs: undefined };
    expect(createDosingCalendar([], "UTC").stateAt(at_epochMs)).toEqual(closed);
    expect(createDosingCalendar([short, ruleOf("16:00", "18:00")], "UTC").stateAt(at_epochMs)).toEqual(
      closed,
    );
  });

  it("sees an opening up to 60 days ahead and says none beyond", () => {
    const holiday = { ...short, datesOff: [{ from: "2026-01-01", to: "2026-06-30" }] };
    const calendar = createDosingCalendar([holiday], "UTC");
    const opens_epochMs = utc("2026-07-01T12:00");
    expect(calendar.stateAt(opens_epochMs - 60 * day_ms)).toEqual({ kind: "closed", opens_epochMs });
    expect(calendar.stateAt(opens_epochMs - 60 * day_ms - 1)).toEqual({
      kind: "closed",
      opens_epochMs: undefined,
    });
    expect(calendar.stateAt(opens_epochMs - 1)).toEqual({ kind: "closed", opens_epochMs });
  });

  it("shows the horizon as the end of a light that never goes out, and the true end of one that lasts for weeks", () => {
    const at_epochMs = utc("2026-05-04T12:30");
    const endless = ruleOf("09:00", "09:00");
    expect(createDosingCalendar([endless], "Europe/Berlin").stateAt(at_epochMs)).toEqual({
      kind: "open",
      closes_epochMs: at_epochMs + 60 * day_ms,
    });
    // Off from the light of 20 June on: the light of the 19th burns to 09:00 (07:00 UTC) on the 20th.
    const untilJune = { ...endless, datesOff: [{ from: "2026-06-20", to: "2026-12-31" }] };
    expect(createDosingCalendar([untilJune], "Europe/Berlin").stateAt(at_epochMs)).toEqual({
      kind: "open",
      closes_epochMs: utc("2026-06-20T07:00"),
    });
  });

  it("answers a day of calls each second within a second, and a year of valves that never open as quickly", () => {
    const calendar = createDosingCalendar([long, short], "Europe/Berlin");
    const never = createDosingCalendar(
      [ruleOf("08:00", "20:00", { datesOff: [{ from: "2026-01-01", to: "2027-12-31" }] })],
      "Europe/Berlin",
    );
    const from_epochMs = utc("2026-03-28T12:00");
    calendar.stateAt(from_epochMs);
    never.stateAt(from_epochMs);
    const started_ms = performance.now();
    for (let second = 0; second < 86_400; second += 1) {
      calendar.stateAt(from_epochMs + second * 1000);
      never.stateAt(from_epochMs + second * 1000);
    }
    // Without the memo one call takes about a millisecond and this takes minutes.
    expect(performance.now() - started_ms).toBeLessThan(1000);
  });

  it("refuses a broken rule or zone when it is made, not at the first tick", () => {
    expect(() => createDosingCalendar([{ ...long, lead_min: 500 }], "UTC")).toThrow(OutOfValidRangeError);
    expect(() => createDosingCalendar([long], "Nowhere/Land")).toThrow(UnknownNameError);
    expect(() => createDosingCalendar([long], "UTC").stateAt(Number.NaN)).toThrow(OutOfValidRangeError);
  });
});
