import { describe, expect, it } from "vitest";
import { supplyBelief } from "../../../../lib/estimation/supply-belief.js";
import { firstSupplyState } from "../../../../lib/estimation/supply-filter.js";
import { createSupplyModel } from "../../../../lib/estimation/supply-model.js";
import { component } from "../../../../lib/estimation/supply-state.js";
import { openedState } from "../../../../lib/estimation/opened-state.js";
import { surgeOutlook } from "../../../../lib/supply-watch/surge-outlook.js";
import { suppliedCharge } from "../../../support/supply-trace-rows.js";

const model = createSupplyModel(suppliedCharge());
const fresh = firstSupplyState(model, {
  at_epochMs: Date.UTC(2026, 1, 3),
  temperature_degC: 20,
  valveOpen: false,
});
const belief = supplyBelief(fresh);
const withRemoved = (removed_g: number, effect_perBar?: number) => {
  const mean = [...belief.mean];
  mean[component.removed] = removed_g;
  if (effect_perBar !== undefined) mean[component.supplyEffect] = effect_perBar;
  return surgeOutlook(model, { ...belief, mean });
};

describe("surge outlook", () => {
  it("is at 1 with a full charge, and rises to the end", () => {
    const outlook = withRemoved(0);
    expect(outlook.now.value).toBeCloseTo(1, 9);
    expect(outlook.atEnd.value).toBeGreaterThan(1.05);
    expect(outlook.early).toBe(false);
  });

  it("rises as the vessel empties, within its interval", () => {
    const [full, half] = [withRemoved(0), withRemoved(0.5 * model.map.co2Available_g)];
    expect(half.now.value).toBeGreaterThan(full.now.value);
    expect(half.now.low80).toBeLessThan(half.now.value);
    expect(half.now.high80).toBeGreaterThan(half.now.value);
    expect(half.early).toBe(true);
  });

  it.each([
    { perBar: 0, verdict: "steady", because: "a regulator without the effect holds its outlet" },
    { perBar: 0.04, verdict: "surges", because: "4 % a bar over ten bars is beyond a third" },
  ])("$verdict at $perBar a bar: $because", ({ perBar, verdict }) => {
    expect(withRemoved(0, perBar).verdict).toBe(verdict);
  });

  it("closes above the working pressure by the gauge's own doubt", () => {
    const { closeBelowGauge_bar } = withRemoved(0);
    const working_bar = model.charge.workingPressureGauge_bar;
    expect(closeBelowGauge_bar).toBeGreaterThan(working_bar);
    expect(closeBelowGauge_bar).toBeLessThan(working_bar + 2 * model.charge.gaugeAccuracy_bar);
  });
});

describe("opened state", () => {
  it("makes the flow less sure and nothing else", () => {
    const opened = supplyBelief(
      openedState(fresh, [{ component: "flow", deviation: { kind: "share", value: 0.5 } }]),
    );
    const size = Math.sqrt(belief.covariance.length);
    opened.covariance.forEach((variance, k) => {
      const isFlow = k === component.flow * size + component.flow;
      const before = belief.covariance[k] ?? 0;
      if (isFlow) expect(variance).toBeCloseTo(before + (0.5 * belief.mean[component.flow]!) ** 2, 9);
      else expect(variance).toBeCloseTo(before, 9);
    });
  });
});
