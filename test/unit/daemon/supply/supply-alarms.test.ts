import type { RefillAdvice } from "../../../../daemon/supply/refill-advice.js";
import type { RefillOption } from "../../../../lib/refill/refill-option.js";
import { describe, expect, it } from "vitest";
import { supplyConditions } from "../../../../daemon/supply/supply-alarms.js";
import { steppedLimits } from "../../../../daemon/supply/supply-limits.js";
import type { ToldSupply } from "../../../../daemon/supply/vessel-supply.js";
import type { SupplyEstimate, SupplyPhase } from "../../../../lib/estimation/supply-estimate.js";
import { modelOf } from "../../../support/control-bench.js";
import { supplyYaml } from "../../../support/supply-bench.js";
import { suppliedCharge } from "../../../support/supply-trace-rows.js";

const now_epochMs = Date.parse("2026-03-02T12:00:00+01:00");
const day_ms = 86_400_000;
const ahead = { toldAhead_days: 3, urgentAhead_days: 1 };
const amount = { value_g: 20, low80_g: 18, high80_g: 22, low95_g: 17, high95_g: 23 };
const estimateOf = (
  dosingLeft_days: number,
  phase: SupplyPhase = "dosing",
  warnings: SupplyEstimate["warnings"] = [],
): SupplyEstimate => ({
  at_epochMs: now_epochMs,
  charge_g: 60,
  remaining: amount,
  deliverable: amount,
  leak_gPerDay: { value: 0, deviation: 0.1 },
  flow_gPerH: { value: 0.3, deviation: 0.02 },
  contents_degC: { value: 20, deviation: 0.5 },
  runOut: {
    median_epochMs: now_epochMs + dosingLeft_days * day_ms,
    low80_epochMs: now_epochMs + 0.8 * dosingLeft_days * day_ms,
    high80_epochMs: now_epochMs + 1.3 * dosingLeft_days * day_ms,
  },
  dosingLeft_days,
  phase,
  warnings,
});
const toldOf = (estimate: SupplyEstimate): ToldSupply => ({
  estimate,
  source: "sensor",
  removed_g: { value: 10, deviation: 1 },
  pressureRead_epochMs: now_epochMs,
  use: { total_gPerDay: 2.4, byTank: [] },
  limits: steppedLimits({ isLow: false, isVeryLow: false }, estimate, ahead),
  refill: undefined,
  surge: undefined,
  pressurising: undefined,
});
const conditionsOf = (told: ToldSupply | undefined, failure?: string) =>
  supplyConditions(
    [
      {
        vesselId: "cellar",
        charge: { from: "config", closedAt_epochMs: 0, supplied: suppliedCharge() },
        told,
        failure,
      },
    ],
    modelOf(supplyYaml()),
    now_epochMs,
  );

describe("limits of days left", () => {
  it("are left only with their deadband, so that an estimate that wavers does not flap", () => {
    let limits = { isLow: false, isVeryLow: false };
    const seen = [4, 3.1, 2.9, 3.2, 3.5, 3.7, 2.9, 1.1, 0.9, 1.15, 1.3, 3.7].map((left) => {
      limits = steppedLimits(limits, estimateOf(left), ahead);
      return limits.isVeryLow ? "very low" : limits.isLow ? "low" : "no";
    });
    expect(seen).toEqual([
      "no",
      "no",
      "low",
      "low",
      "low",
      "no",
      "low",
      "low",
      "very low",
      "very low",
      "low",
      "no",
    ]);
  });

  it("say nothing while the charge reacts", () => {
    expect(steppedLimits({ isLow: true, isVeryLow: true }, estimateOf(0.2, "settling"), ahead)).toEqual({
      isLow: false,
      isVeryLow: false,
    });
  });
});

describe("alarms of what is left", () => {
  it.each([
    { told: estimateOf(10), alarms: [], because: "gas for ten days" },
    { told: estimateOf(2), alarms: ["low charge-runs-out/cellar"], because: "two days" },
    { told: estimateOf(0.5), alarms: ["high charge-runs-out/cellar"], because: "half a day" },
    { told: estimateOf(0, "spent"), alarms: ["high charge-spent/cellar"], because: "nothing" },
    {
      told: estimateOf(10, "dosing", [{ id: "pressure-of-open-air", text: "It is that of open air." }]),
      alarms: ["low pressure-not-believed/cellar"],
      because: "a pressure that is not believed",
    },
    {
      told: estimateOf(10, "dosing", [{ id: "leak-while-closed", text: "It loses gas." }]),
      alarms: ["low leak-while-closed/cellar"],
      because: "a leak",
    },
    {
      told: estimateOf(10, "settling", [{ id: "pressurising-too-strong", text: "It is stronger." }]),
      alarms: ["high pressurising-too-strong/cellar"],
      because: "a charge that comes near the rating",
    },
    {
      told: estimateOf(10, "dosing", [{ id: "pressure-not-read", text: "No pressure was read." }]),
      alarms: [],
      because: "a keeper who has not read the gauge for a while, which the document says",
    },
  ])("are $alarms for $because", ({ told, alarms }) => {
    const conditions = conditionsOf(toldOf(told));
    expect(conditions.map(({ priority, alarmId }) => `${priority} ${alarmId}`)).toEqual(alarms);
    for (const condition of conditions) {
      expect(condition.subjects).toContainEqual({ kind: "vessel", id: "cellar" });
      expect(condition.subjects).toContainEqual({ kind: "tank", id: "loach" });
      // An estimate is made each ten minutes: one alone raises nothing.
      expect(condition.onDelay_s).toBeGreaterThan(600);
    }
  });

  it("name the day, its interval and the time to respond", () => {
    const [runsOut] = conditionsOf(toldOf(estimateOf(2)));
    expect(runsOut?.cause).toContain("runs out about 2026-03-04, in 2 days");
    expect(runsOut?.cause).toContain("80 %: 2026-03-04 to 2026-03-05");
    expect(runsOut?.allowableResponse_min).toBe(2880);
    // Told two days ago or now: it is the day on which it runs out that counts.
    expect(runsOut?.actBy_epochMs).toBe(now_epochMs + 2 * day_ms);
    expect(runsOut?.suppressedBy).toEqual(["charge-spent/cellar", "end-of-charge/cellar"]);
  });

  it("are low where the estimate fails: dosing goes on", () => {
    const [failed, ...others] = conditionsOf(undefined, "its thread ended with code 1");
    expect(failed).toMatchObject({ alarmId: "supply-not-known/cellar", priority: "low" });
    expect(others).toEqual([]);
  });
});

describe("a refill that costs a day whenever it is made", () => {
  const option = (date: string): RefillOption => ({
    date,
    begins_epochMs: Date.parse(`${date}T18:00:00Z`),
    lossChance_ratio: 1,
    expectedLost_days: 1,
    lostDays: [],
    ready: { median_epochMs: 0, late_epochMs: 0 },
    unused: amount,
    freshRunOut_epochMs: undefined,
  });
  const conditionsAt = (leastLossOn: string, left_days: number, next = "2026-03-07") => {
    const refill: RefillAdvice = {
      at_epochMs: now_epochMs,
      daysLeft: { median: 20, low80: 18, high80: 22, firstShort: undefined },
      usual: {
        closedWith: "ice",
        verdict: "costs-days",
        next: option(next),
        lastSensible: undefined,
        latestPossible: undefined,
        leastLoss: option(leastLossOn),
        waitingSaves_g: 0,
        isWorthWaiting: false,
        isBeyondOutlook: false,
      },
      sentences: ["Gas is left for 20 dosing days.", "It costs a day."],
      said: [],
    };
    return conditionsOf({ ...toldOf(estimateOf(left_days)), refill });
  };
  const idsAt = (leastLossOn: string): readonly string[] =>
    conditionsAt(leastLossOn, 20).map(({ alarmId }) => alarmId);

  it("is not called for weeks before, though nobody is home and there is no earlier one", () => {
    expect(conditionsAt("2026-04-02", 20, "2026-04-02")).toEqual([]);
  });

  it("calls on its evening though days before it was told that the charge runs out", () => {
    const low = conditionsAt("2026-03-07", 2);
    const due = low.find(({ alarmId }) => alarmId === "refill-due/cellar");
    expect(due?.suppressedBy).toEqual(["charge-spent/cellar", "end-of-charge/cellar"]);
  });

  it.each([
    { leastLossOn: "2026-04-02", ids: [], because: "it is waited for the one that costs least" },
    { leastLossOn: "2026-03-07", ids: ["refill-due/cellar"], because: "that is the next one" },
  ])("is due or not: $because", ({ leastLossOn, ids }) => {
    expect(idsAt(leastLossOn)).toEqual(ids);
  });
});
