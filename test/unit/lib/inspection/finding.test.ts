import { describe, expect, it } from "vitest";
import { exitCodeOf, findingLines, type Finding } from "../../../../lib/inspection/finding.js";

const good: Finding = { subject: "disk", verdict: "good", told: "1 GB free" };
const mend: Finding = { subject: "broker", verdict: "mend this first", told: "no connection" };

describe("what an inspection comes to", () => {
  it("stands in columns, with the counts below", () => {
    expect(findingLines([mend, good])).toEqual([
      "mend this first  broker  no connection",
      "good             disk    1 GB free",
      "1 to mend first, 0 to look at, 0 not known, 1 good",
    ]);
    expect(findingLines([good]).at(-1)).toBe("nothing to mend first, 0 to look at, 0 not known, 1 good");
  });

  it.each<{ because: string; findings: readonly Finding[]; exitCode: 0 | 1 }>([
    { because: "one thing has to be mended", findings: [good, mend], exitCode: 1 },
    { because: "all is good", findings: [good], exitCode: 0 },
    { because: "a look may wait", findings: [{ ...good, verdict: "look at this" }], exitCode: 0 },
    { because: "what is not known is no fault", findings: [{ ...good, verdict: "not known" }], exitCode: 0 },
  ])("ends with $exitCode where $because", ({ findings, exitCode }) => {
    expect(exitCodeOf(findings)).toBe(exitCode);
  });
});
