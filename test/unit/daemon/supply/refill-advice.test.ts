import { describe, expect, it } from "vitest";
import { supplyConditions } from "../../../../daemon/supply/supply-alarms.js";
import { supplyFields } from "../../../../daemon/supply/supply-document.js";
import { supplyLines } from "../../../../daemon/supply/supply-text.js";
import { SupplyBench, supplyYaml } from "../../../support/supply-bench.js";

describe("advice on the refill", () => {
  it("names the last sensible Saturday by document, status and alarm, before days run low", () => {
    const yaml = supplyYaml().replace("charge:", "refill: { days: [sat] }, charge:");
    // Friday 13 March 2026, some days of gas left: the next Saturday but one would be too late.
    const bench = new SupplyBench({
      startAt: "2026-03-12T20:00:00+01:00",
      yaml,
      removed_g: 30,
      advises: true,
    });
    bench.hours(36);
    const [supply] = bench.tracker.views();
    const civil = { now_epochMs: bench.now_epochMs, timeZone: "Europe/Berlin" };
    const { estimate, limits, refill } = supply!.told!;
    expect(limits).toEqual({ isLow: false, isVeryLow: false });
    expect(estimate.runOut.median_epochMs).toBeLessThan(Date.parse("2026-03-21T08:00:00+01:00"));
    expect(refill?.usual.verdict).toBe("refill-next");
    expect(supplyFields(supply, civil)).toMatchObject({
      refill: {
        closedWith: "water",
        verdict: "refill-next",
        lastSensibleAt: expect.stringMatching(/^2026-03-14T/) as string,
      },
      dosingDaysLeft: { median: expect.any(Number) as number },
    });
    expect(supplyLines(supply, civil).join("\n")).toMatch(/last sensible refill is Saturday 2026-03-14/);
    const due = supplyConditions([supply!], bench.site, bench.now_epochMs);
    expect(due.map(({ alarmId, priority }) => [alarmId, priority])).toContainEqual([
      "refill-due/cellar",
      "low",
    ]);
  });
});
