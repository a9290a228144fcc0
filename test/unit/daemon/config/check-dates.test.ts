import { describe, expect, it } from "vitest";
import { checkConfig } from "../../../../daemon/config/check-dates.js";
import { formatFault } from "../../../../daemon/config/config-faults.js";
import { edited, exampleText, unmarked } from "../../../support/marked-config.js";

const shrimpLights = '- { lightsOn: "10:30", lightsOff: "19:30" }';
const spring2026_epochMs = Date.UTC(2026, 2, 10);

function warningsAt(text: string, now_epochMs: number): readonly string[] {
  return checkConfig(text, "f", now_epochMs).warnings.map((fault) => formatFault("f", fault));
}

describe("a dosing window at a clock change", () => {
  it("is named with its dates when the lights change in the night of the change", () => {
    const { text, line, column } = unmarked(
      edited(exampleText, [[shrimpLights, '- ‸{ lightsOn: "02:30", lightsOff: "12:00" }']]),
    );
    const [warning, ...others] = warningsAt(text, spring2026_epochMs);
    expect(others).toEqual([]);
    expect(warning).toMatch(new RegExp(`^f:${line}:${column}: tanks\\.shrimp\\.photoperiods\\[0\\] `));
    // tz database, rule EU: the last Sundays of March and October at 01:00 UTC, 02:00 in Berlin's winter time.
    expect(warning).toContain("the window of 2026-03-29 lights on");
    expect(warning).toContain("the window of 2026-10-25 lights on");
    expect(warning).toContain("the window of 2027-03-28");
    expect(warning).toMatch(/2026-03-29 [^;]*does not exist.*2026-10-25 [^;]*comes twice/);
    expect(warning).toContain("clock goes forward 60 min at 2026-03-29 02:00");
  });

  it("is named on the dates of another country in its time zone", () => {
    const text = edited(exampleText, [
      [shrimpLights, '- { lightsOn: "01:30", lightsOff: "12:00" }'],
      ["Europe/Berlin", "America/New_York"],
    ]);
    // tz database, rule US: first Sunday of November, 02:00 daylight time goes back to 01:00.
    expect(warningsAt(text, spring2026_epochMs).join("\n")).toContain("2026-11-01");
    expect(warningsAt(text, spring2026_epochMs).join("\n")).not.toContain("2026-10-25");
  });

  it("is not named by day, nor in a zone without changes", () => {
    expect(warningsAt(exampleText, spring2026_epochMs)).toEqual([]);
    const inTokyo = edited(exampleText, [
      [shrimpLights, '- { lightsOn: "02:30", lightsOff: "12:00" }'],
      ["Europe/Berlin", "Asia/Tokyo"],
    ]);
    expect(warningsAt(inTokyo, spring2026_epochMs)).toEqual([]);
  });
});

describe("a filling", () => {
  it("from the future is pointed out", () => {
    const { text, line, column } = unmarked(edited(exampleText, [["closedAt: ", "‸closedAt: "]]));
    const before_epochMs = Date.UTC(2026, 1, 28);
    expect(warningsAt(text, before_epochMs)).toEqual([
      expect.stringMatching(
        new RegExp(`^f:${line}:${column}: vessels\\.cellar\\.charge\\.closedAt .*still to come`),
      ),
    ]);
  });
});

describe("an invalid configuration", () => {
  it("keeps its faults", () => {
    expect(checkConfig("", "f", spring2026_epochMs).kind).toBe("invalid");
  });
});
