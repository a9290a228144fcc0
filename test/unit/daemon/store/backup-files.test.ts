import { describe, expect, it } from "vitest";
import { newestCopy, nightlyCopy, surplusCopies } from "../../../../daemon/store/backup-files.js";

describe("which copy a night makes", () => {
  it.each([
    ["2026-12-01", [], "monthly", "whole-2026-12-01.db", "there is no whole one yet"],
    ["2026-12-02", ["whole-2026-12-01.db"], "monthly", "night-2026-12-02.db", "the month has its whole one"],
    ["2027-01-01", ["whole-2026-12-01.db"], "monthly", "whole-2027-01-01.db", "a new month begins"],
    [
      "2026-12-09",
      ["whole-2026-11-30.db"],
      "monthly",
      "whole-2026-12-09.db",
      "the month's first night was missed",
    ],
    ["2026-12-02", ["whole-2026-12-01.db"], "nightly", "whole-2026-12-02.db", "each is to be whole"],
  ] as const)("on %s with %j, %s: %s, because %s", (date, names, whole, expected, because) => {
    expect(nightlyCopy(date, names, whole).name, because).toBe(expected);
  });
});

describe("which copies go", () => {
  const nights = Array.from({ length: 9 }, (_, n) => `night-2026-12-0${n + 1}.db`);

  it("are the oldest beyond what is kept, by date and not by their order in the folder", () => {
    expect(surplusCopies([...nights].reverse(), { nights: 7, whole: "monthly" })).toEqual([
      "night-2026-12-01.db",
      "night-2026-12-02.db",
    ]);
    const whole = ["whole-2026-10-01.db", "whole-2026-12-01.db", "whole-2026-11-01.db"];
    expect(surplusCopies(whole, { nights: 7, whole: "monthly" })).toEqual(["whole-2026-10-01.db"]);
    expect(surplusCopies(whole, { nights: 7, whole: "nightly" })).toEqual([]);
  });

  it("are never files of another name", () => {
    const others = ["fizzward.db", "night.db", "whole-of-it.txt", "night-2026-12-01.db.part"];
    expect(surplusCopies([...others, "night-2026-12-01.db"], { nights: 1, whole: "monthly" })).toEqual([]);
  });
});

it("the newest copy is known by its date, of whichever kind", () => {
  const names = ["night-2026-12-04.db", "whole-2026-12-05.db", "night-2036-01-01.db", "notes.txt"];
  expect(newestCopy(names, "2026-12-05")?.date).toBe("2026-12-05");
  expect(newestCopy(["notes.txt"], "2026-12-05")).toBeUndefined();
});
