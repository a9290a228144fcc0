import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import type { Charge } from "../../../../lib/vessel/charge.js";
import { contentsFromPressure, depletionCurve, type Withdrawal } from "../../../../lib/vessel/depletion.js";

const charge = (acid_g: number, bicarbonate_g: number, more: Partial<Charge> = {}): Charge => ({
  vesselVolume_L: 2,
  water_kg: 0.7,
  acid: { kind: "citric-acid-anhydrous", mass_g: acid_g },
  sodiumBicarbonate_g: bicarbonate_g,
  sealedAt_degC: 20,
  ...more,
});

const curveOf = (given: Charge, withdrawal: Withdrawal, temperature_degC = 20) =>
  depletionCurve(given, { temperature_degC, withdrawal });

describe("a depletion curve", () => {
  it.each<readonly [string, Charge, Withdrawal]>([
    ["usual charge, CO2 alone leaves", charge(100, 100), "co2-only"],
    ["usual charge, headspace leaves", charge(100, 100), "headspace"],
    ["bicarbonate in excess", charge(60, 140), "headspace"],
    ["solid bicarbonate", charge(60, 260), "headspace"],
    ["no air", charge(100, 100, { trappedAir_mol: 0 }), "headspace"],
  ])("gives back from its pressure what was removed, within 1e-6: %s", (_name, given, withdrawal) => {
    const curve = curveOf(given, withdrawal);
    for (let k = 0; k <= 60; k += 1) {
      const removed_mol = (curve.co2Available_mol * k) / 60;
      const state = curve.afterRemoving(removed_mol);
      const answer = curve.remainingAt(state.pressureAbsolute_bar);
      const remaining_mol = answer.kind === "on-the-curve" ? answer.co2Remaining_mol : 0;
      expect(Math.abs(remaining_mol - (curve.co2Available_mol - removed_mol))).toBeLessThan(
        1e-6 * curve.co2Available_mol,
      );
    }
  });

  it("loses exactly the carbon that was removed", () => {
    const curve = curveOf(charge(100, 100), "headspace");
    const full = curve.afterRemoving(0);
    for (const removed_mol of [0.1, 0.5, 1.1]) {
      const state = curve.afterRemoving(removed_mol);
      expect(Math.abs(full.carbon_mol - state.carbon_mol - removed_mol)).toBeLessThan(1e-9);
      expect(state.co2Removed_mol + state.co2Remaining_mol).toBeCloseTo(curve.co2Available_mol, 12);
    }
  });

  it("keeps all the air when CO2 alone leaves, and sheds it early when the headspace leaves", () => {
    const kept = curveOf(charge(100, 100), "co2-only");
    const swept = curveOf(charge(100, 100), "headspace");
    const half_mol = kept.co2Available_mol / 2;
    expect(kept.afterRemoving(half_mol).air_mol).toBe(kept.afterRemoving(0).air_mol);
    expect(swept.afterRemoving(half_mol).air_mol / swept.afterRemoving(0).air_mol).toBeLessThan(0.45);
    expect(swept.afterRemoving(half_mol).pressureAbsolute_bar).toBeLessThan(
      kept.afterRemoving(half_mol).pressureAbsolute_bar,
    );
  });

  it("carries air out as a step-by-step mass balance does", () => {
    const curve = curveOf(charge(80, 140), "headspace");
    // Forward steps of the ratio in the gas, a tenth of a percent of the charge each.
    const steps = 1000;
    const step_mol = (0.8 * curve.co2Available_mol) / steps;
    let state = curve.afterRemoving(0);
    let air_mol = state.air_mol;
    for (let k = 1; k <= steps; k += 1) {
      const next = curve.afterRemoving(k * step_mol);
      air_mol *= 1 - step_mol / ((state.co2Gas_mol + next.co2Gas_mol) / 2);
      state = next;
    }
    expect(Math.abs(state.air_mol - air_mol)).toBeLessThan(0.002 * curve.afterRemoving(0).air_mol);
  });

  it.each([
    ["more than the acid can free", 1.0],
    ["a negative amount", -0.01],
  ])("refuses to remove %s", (_name, removed_mol) => {
    const curve = curveOf(charge(50, 140), "headspace");
    expect(curve.co2Available_mol).toBeLessThan(1);
    expect(() => curve.afterRemoving(removed_mol)).toThrow(
      expect.objectContaining({ quantity: "removed CO2", unit: "mol", minimum: 0 }) as Error,
    );
  });

  it("says when a pressure is above the full charge, and when all is spent", () => {
    const curve = curveOf(charge(100, 100), "headspace");
    expect(curve.remainingAt(25)).toEqual({
      kind: "above-full",
      fullPressureAbsolute_bar: curve.fullPressureAbsolute_bar,
    });
    expect(curve.remainingAt(0.001)).toEqual({ kind: "spent" });
    expect(() => curve.remainingAt(-1)).toThrow(OutOfValidRangeError);
  });

  it("does not exist for a charge with liquid CO2", () => {
    const given: Charge = { ...charge(400, 500), vesselVolume_L: 2 };
    expect(() => curveOf(given, "headspace", 10)).toThrow(
      expect.objectContaining({ quantity: "carbon in the vessel" }) as Error,
    );
  });
});

describe("contents from a gauge", () => {
  const curve = curveOf(charge(100, 100), "headspace");
  const reading = { pressureGauge_bar: 9, gaugeAccuracy_bar: 0.4, regulatorLeastInletGauge_bar: 2 };

  it("brackets the value, and delivers less than it holds", () => {
    const { remaining, deliverable, reading: kind } = contentsFromPressure(curve, reading);
    expect(kind).toBe("on-the-curve");
    expect(remaining.low_mol).toBeLessThan(remaining.value_mol);
    expect(remaining.high_mol).toBeGreaterThan(remaining.value_mol);
    expect(deliverable.value_mol).toBeLessThan(remaining.value_mol);
    const limit = curve.remainingAt(2 + 1.01325);
    if (limit.kind !== "on-the-curve") throw new Error("the limit is on the curve");
    expect(remaining.value_mol - deliverable.value_mol).toBeCloseTo(limit.co2Remaining_mol, 9);
  });

  it("carries 4 % of absolute pressure when the gauge is perfect", () => {
    const { remaining } = contentsFromPressure(curve, { ...reading, gaugeAccuracy_bar: 0 });
    const absolute_bar = 9 + 1.01325;
    const answer = curve.remainingAt(absolute_bar / 1.04);
    if (answer.kind !== "on-the-curve") throw new Error("the reading is on the curve");
    expect(remaining.low_mol).toBeCloseTo(answer.co2Remaining_mol, 9);
  });

  it("widens with a coarser gauge", () => {
    const width = (gaugeAccuracy_bar: number): number => {
      const { deliverable } = contentsFromPressure(curve, { ...reading, gaugeAccuracy_bar });
      return deliverable.high_mol - deliverable.low_mol;
    };
    expect(width(0.2)).toBeGreaterThan(width(0));
    expect(width(1)).toBeGreaterThan(1.5 * width(0.2));
  });

  it.each([
    ["above the full charge", 30, "above-full"],
    ["below the regulator's limit", 1, "on-the-curve"],
    ["at vacuum", -1.0, "spent"],
  ])("stays within what is there when the gauge reads %s", (_name, pressureGauge_bar, kind) => {
    const estimate = contentsFromPressure(curve, { ...reading, pressureGauge_bar });
    expect(estimate.reading).toBe(kind);
    for (const bounds of [estimate.remaining, estimate.deliverable]) {
      expect(bounds.low_mol).toBeGreaterThanOrEqual(0);
      expect(bounds.value_mol).toBeGreaterThanOrEqual(bounds.low_mol);
      expect(bounds.high_mol).toBeGreaterThanOrEqual(bounds.value_mol);
      expect(bounds.high_mol).toBeLessThanOrEqual(curve.co2Available_mol);
    }
    if (pressureGauge_bar <= 1) expect(estimate.deliverable.value_mol).toBe(0);
  });

  it("refuses a negative gauge accuracy", () => {
    expect(() => contentsFromPressure(curve, { ...reading, gaugeAccuracy_bar: -0.1 })).toThrow(
      OutOfValidRangeError,
    );
  });

  it("closes at every stage of a charge whose cold water cannot hold its bicarbonate", () => {
    const crusted: Charge = {
      vesselVolume_L: 2.7,
      water_kg: 0.3,
      acid: { kind: "citric-acid-monohydrate", mass_g: 163 },
      sodiumBicarbonate_g: 211,
      sealedAt_degC: 24.5,
    };
    for (const temperature_degC of [0, 3, 6, 9, 12, 15]) {
      const curve = depletionCurve(crusted, { temperature_degC, withdrawal: "headspace" });
      for (let share = 0; share < 1; share += 0.04) {
        const state = curve.afterRemoving(share * curve.co2Available_mol);
        expect(state.co2Remaining_mol).toBeCloseTo((1 - share) * curve.co2Available_mol, 9);
      }
    }
  });
});
