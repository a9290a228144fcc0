import { describe, expect, it } from "vitest";
import { supplyBelief } from "../../../../lib/estimation/supply-belief.js";
import { firstSupplyState } from "../../../../lib/estimation/supply-filter.js";
import { createSupplyModel } from "../../../../lib/estimation/supply-model.js";
import { component } from "../../../../lib/estimation/supply-state.js";
import { surgeOutlook, type SurgeOutlook } from "../../../../lib/supply-watch/surge-outlook.js";
import {
  bubbleSign,
  doseSign,
  outletSign,
  surgeVerdict,
  surgeWarningsOf,
  type SurgeSign,
} from "../../../../lib/supply-watch/surge-verdict.js";
import { untilSurge_days } from "../../../../lib/supply-watch/until-surge.js";
import { suppliedCharge } from "../../../support/supply-trace-rows.js";

const hour_ms = 3_600_000;
const now_epochMs = 1000 * hour_ms;
const factor = (value: number) => ({ value, low80: 0.9 * value, high80: 1.1 * value });
const outlook = (now: number): SurgeOutlook => ({
  inletGauge_bar: 5,
  now: factor(now),
  atEnd: factor(1.4),
  verdict: "surges",
  early: true,
  closeBelowGauge_bar: 4,
});
const counted = (...counts: number[]) =>
  bubbleSign(counts.map((value, k) => ({ at_epochMs: now_epochMs - (counts.length - k) * hour_ms, value })));
const outletAt = (gauge_bar: number, hoursAgo = 0) =>
  outletSign({
    at_epochMs: now_epochMs - hoursAgo * hour_ms,
    gauge_bar,
    setGauge_bar: 1.5,
    accuracy_bar: 0.1,
  });
const dosesOf = (...doses: number[]) =>
  doseSign(
    doses.map((dose_mgPerLPerH, k) => ({
      tankId: "loach",
      at_epochMs: now_epochMs - (doses.length - k) * 24 * hour_ms,
      dose_mgPerLPerH,
      doseLow80_mgPerLPerH: 0.93 * dose_mgPerLPerH,
      doseHigh80_mgPerLPerH: 1.07 * dose_mgPerLPerH,
    })),
  );

describe("a sign of a surge", () => {
  it("is the latest count over the first", () => {
    expect(counted(60)).toBeUndefined();
    expect(counted(60, 0)).toBeUndefined();
    expect(counted(60, 66, 90)?.flow_ratio.value).toBeCloseTo(1.5, 9);
  });

  it("is the absolute pressure behind the regulator over what it was set to [Shapiro1953, choked nozzle]", () => {
    const { value, low80, high80 } = outletAt(2.4).flow_ratio;
    expect(value).toBeCloseTo((2.4 + 1.01325) / (1.5 + 1.01325), 6);
    expect(low80).toBeLessThan(value);
    expect(high80).toBeGreaterThan(value);
  });

  it("is the last morning's dose over that of the first ones", () => {
    expect(dosesOf(4, 6)).toBeUndefined();
    expect(dosesOf(4, 4, 6)?.flow_ratio.value).toBeCloseTo(1.5, 9);
  });
});

describe("a surge", () => {
  it.each<{
    signs: (SurgeSign | undefined)[];
    now?: number;
    left?: number;
    verdict: string;
    because: string;
  }>([
    { signs: [], left: 20, verdict: "none", because: "it is weeks off" },
    { signs: [], verdict: "none", because: "this charge never comes to it" },
    { signs: [], left: 3, verdict: "expected", because: "it is due in three days" },
    {
      signs: [counted(60, 90)],
      left: 3,
      verdict: "confirmed",
      because: "half as many bubbles again were counted",
    },
    {
      signs: [counted(60, 68)],
      left: 3,
      verdict: "expected",
      because: "two counts differ by as much by chance",
    },
    { signs: [outletAt(2.4)], verdict: "confirmed", because: "the outlet has risen" },
    { signs: [outletAt(1.6)], verdict: "none", because: "the outlet is where it was set" },
    { signs: [outletAt(2.4, 3)], verdict: "none", because: "that was hours ago" },
    { signs: [dosesOf(4, 4, 4, 6)], verdict: "confirmed", because: "the tank takes half as much again" },
    { signs: [dosesOf(4, 4, 4, 4.2)], verdict: "none", because: "mornings differ by as much" },
    {
      signs: [counted(60, 90), outletAt(1.5)],
      verdict: "none",
      because: "the outlet has not: a needle was turned",
    },
    {
      signs: [counted(60, 90)],
      now: 1.01,
      verdict: "none",
      because: "the vessel is full: a needle was turned",
    },
  ])("is $verdict: $because", ({ signs, now = 1.15, left, verdict }) => {
    const seen = signs.filter((sign) => sign !== undefined);
    expect(surgeVerdict(outlook(now), seen, { now_epochMs, untilSurge_days: left }).kind).toBe(verdict);
  });

  it("says how long there is, by what it was seen, and what to do", () => {
    expect(surgeWarningsOf(outlook(1.15), { kind: "none" })).toEqual([]);
    const [expected] = surgeWarningsOf(outlook(1.15), { kind: "expected", in_days: 2.8 });
    expect(expected?.text).toMatch(
      /expected in about 3 days: the flow is at 115 %.*needle back in small steps/u,
    );
    const [now] = surgeWarningsOf(outlook(1.15), { kind: "confirmed", sign: counted(60, 90)! });
    expect(now?.text).toMatch(/surges now: by the bubble count it is at 150 %/u);
  });
});

describe("the time until a surge", () => {
  const model = createSupplyModel(suppliedCharge());
  const belief = supplyBelief(
    firstSupplyState(model, { at_epochMs: Date.UTC(2026, 1, 3), temperature_degC: 20, valveOpen: false }),
  );
  const left = (removed_ratio: number, effect_perBar: number, days = 20) => {
    const mean = [...belief.mean];
    mean[component.removed] = removed_ratio * model.map.co2Available_g;
    mean[component.supplyEffect] = effect_perBar;
    const at = { ...belief, mean };
    return untilSurge_days(model, at, surgeOutlook(model, at), days);
  };

  it("is a share of what is left, shrinks as the vessel empties, and comes to nothing", () => {
    const [full, half] = [left(0, 0.04)!, left(0.3, 0.04)!];
    expect(full).toBeGreaterThan(0);
    expect(full).toBeLessThan(20);
    expect(half).toBeLessThan(full);
    expect(left(0.62, 0.06)).toBe(0);
  });

  it("does not exist for a regulator that holds its outlet", () => {
    expect(left(0, 0)).toBeUndefined();
    expect(left(0, 0.01)).toBeUndefined();
  });
});
