import { describe, expect, it } from "vitest";
import { leakTestSentences } from "../../../../lib/supply-watch/leak-test-text.js";

describe("a leak test's verdict in words", () => {
  it("gives the loss with its interval, what to do, the temperature, and what it cannot tell", () => {
    const text = leakTestSentences(
      { kind: "leaks", leak_gPerDay: 2.94, low95_gPerDay: 2.41, high95_gPerDay: 3.52, closed_h: 9.54 },
      { change_K: -1.52, onGauge_bar: -0.263 },
    ).join(" ");
    expect(text).toContain("It leaks: 2.9 g a day (95 of 100 cases: 2.4 to 3.5), by 9.5 h closed.");
    expect(text).toContain("cooled by 1.5 degrees meanwhile; that alone lowers the gauge by 0.26 bar");
    expect(text).toContain("through the seat of the closed valve looks the same");
    expect(text).toContain("The line behind the closed valve had no pressure, so it was not tested");
    expect(text).toContain("loosen and tighten nothing under pressure");
  });

  it("never calls a vessel tight without the loss below which that holds", () => {
    const [first] = leakTestSentences({ kind: "tight", below_gPerDay: 0.62, closed_h: 14 }, undefined);
    expect(first).toBe("Tight: it loses less than 0.62 g a day (95 of 100 cases), by 14 h closed.");
  });

  it.each([
    { why: "too-short", needed_h: 12, text: "it has not been closed for long enough; about 12 h closed" },
    { why: "gauge-too-coarse", needed_h: undefined, text: "no hold of up to ten days would tell it" },
    { why: "temperature-not-settled", needed_h: 30, text: "the temperature of the contents hides it" },
    { why: "no-readings", needed_h: undefined, text: "too few pressures have been read since it began." },
  ] as const)("says why it cannot be told: $why", ({ why, needed_h, text }) => {
    const said = leakTestSentences({ kind: "cannot-be-told", why, needed_h, closed_h: 1.2 }, undefined);
    expect(said).toHaveLength(1);
    expect(said[0]).toContain(text);
  });
});
