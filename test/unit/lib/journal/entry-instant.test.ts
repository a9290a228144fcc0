import { describe, expect, it } from "vitest";
import { instantFromText } from "../../../../lib/journal/entry-instant.js";

// Berlin changes at 01:00 UTC on the last Sundays of March and October: directive 2000/84/EC.
const zone = "Europe/Berlin";

describe("a written time", () => {
  it.each([
    { text: "2026-05-01T18:00", utc: "2026-05-01T16:00:00Z", because: "summer time is two hours ahead" },
    { text: "2026-01-01 18:00", utc: "2026-01-01T17:00:00Z", because: "a space may stand for the T" },
    { text: "2026-05-01T18:00:30", utc: "2026-05-01T16:00:30Z", because: "with seconds" },
    { text: "2026-05-01T18:00:30.250", utc: "2026-05-01T16:00:30Z", because: "fractions are dropped" },
    { text: "2026-05-01T18:00Z", utc: "2026-05-01T18:00:00Z", because: "an offset outranks the zone" },
    { text: "2026-05-01T18:00-03:30", utc: "2026-05-01T21:30:00Z", because: "behind UTC" },
    { text: "2026-05-01T18:00:30+05:45", utc: "2026-05-01T12:15:30Z", because: "ahead of UTC" },
  ])("$text is one instant: $because", ({ text, utc }) => {
    expect(instantFromText(text, zone)).toEqual({ kind: "instant", at_epochMs: Date.parse(utc) });
  });

  it("comes twice in the fold of autumn, unless it says which", () => {
    expect(instantFromText("2026-10-25T02:30:10", zone)).toEqual({
      kind: "twice",
      earlier_epochMs: Date.parse("2026-10-25T00:30:10Z"),
      later_epochMs: Date.parse("2026-10-25T01:30:10Z"),
    });
    expect(instantFromText("2026-10-25T02:30+02:00", zone)).toEqual({
      kind: "instant",
      at_epochMs: Date.parse("2026-10-25T00:30:00Z"),
    });
  });

  it("never comes in the gap of spring", () => {
    expect(instantFromText("2026-03-29T02:30", zone)).toEqual({
      kind: "never",
      change_epochMs: Date.parse("2026-03-29T01:00:00Z"),
    });
  });

  it.each([
    "2026-02-30T10:00",
    "2026-05-01T24:00",
    "2026-05-01T18:60",
    "2026-05-01T18:00+25:00",
    "2026-05-01T18:00+0200",
    "18:00",
    "yesterday",
    "2026-05-01",
    "01.05.2026 18:00",
    "",
  ])("is not understood as %s", (text) => {
    expect(instantFromText(text, zone)).toEqual({ kind: "not understood" });
  });
});
