import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { describe, expect, it } from "vitest";
import { brokerPage, type BrokerFindings } from "../cluster/broker-page.js";
import { allTraits } from "../cluster/broker-traits.js";
import { moveLimits } from "../cluster/failover-drive.js";
import { faultLinesOf as linesOf, secondsIn } from "../faults/fault-page.js";

const page = readFileSync(fileURLToPath(new URL("../../deploy/docs/brokers.md", import.meta.url)), "utf8");
const lines = linesOf(page);
const lineOf = (what: string): readonly string[] => lines.find(([first]) => first === what) ?? [];

describe("the page of the brokers", () => {
  it("says of each trait of the suite what it is needed for, and of two brokers whether they have it (npm run cluster)", () => {
    for (const { what, neededFor } of allTraits) {
      const [, needed, ...verdicts] = lineOf(what);
      expect({ what, needed }).toEqual({ what, needed: neededFor });
      expect(verdicts).toHaveLength(2);
      for (const verdict of verdicts) expect(verdict, what).toMatch(/^(?:yes|\*\*no\*\*) \(.+\)$/);
    }
  });

  it("shows moves within their limits", () => {
    for (const { what, limit_s } of moveLimits) {
      const [, limit, ...times] = lineOf(what);
      expect({ what, limit }).toEqual({ what, limit: `${limit_s} s` });
      expect(times).toHaveLength(2);
      for (const time of times) expect(secondsIn(time), `${what}: ${time}`).toBeLessThanOrEqual(limit_s);
    }
  });

  it("is what the suite writes of its findings, a time that never came included", () => {
    const findings: BrokerFindings = {
      name: "a broker",
      traits: allTraits.map((_trait, index) => ({ holds: index > 0, figure: "as tried" })),
      move: { connected_ms: 640, off_ms: Number.NaN, documents_ms: 1800, documents: 41 },
    };
    const written = linesOf(brokerPage([findings]));
    const cells = (what: string): readonly string[] => written.find(([first]) => first === what) ?? [];
    expect(cells(allTraits[0]!.what)[2]).toBe("**no** (as tried)");
    expect(cells(allTraits[1]!.what)[2]).toBe("yes (as tried)");
    expect(moveLimits.map(({ what }) => cells(what)[2])).toEqual(["0.6 s", "never", "1.8 s"]);
  });
});
