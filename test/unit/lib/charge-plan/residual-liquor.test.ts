import { describe, expect, it } from "vitest";
import { planCharge, type ChargePlan } from "../../../../lib/charge-plan/plan-charge.js";
import { residualLiquorOf } from "../../../../lib/charge-plan/residual-liquor.js";
import { vesselInventory, type Charge } from "../../../../lib/vessel/charge.js";
import { chargeEquilibrium } from "../../../../lib/vessel/charge-equilibrium.js";
import { depletionCurve } from "../../../../lib/vessel/depletion.js";

const lastCharge: Charge = {
  vesselVolume_L: 2,
  water_kg: 0.5,
  acid: { kind: "citric-acid-anhydrous", mass_g: 82.3 },
  sodiumBicarbonate_g: 100,
  sealedAt_degC: 20,
};
const left = { volume_L: 0.2, temperature_degC: 20 };

/** The liquor when the gauge shows nothing, from the depletion curve that PHREEQC was held against. */
const spent = (() => {
  const curve = depletionCurve(lastCharge, { temperature_degC: 20, withdrawal: "headspace" });
  const answer = curve.remainingAt(1.01325);
  if (answer.kind !== "on-the-curve") throw new Error(answer.kind);
  return curve.afterRemoving(curve.co2Available_mol - answer.co2Remaining_mol);
})();

describe("liquor that stays in the vessel", () => {
  it("has the citrate and sodium of its share of the last charge", () => {
    const liquor = residualLiquorOf(lastCharge, left);
    const share = 0.2 / spent.liquidVolume_L;
    // 82.3 / 192.123 and 100 / 84.006 mol (IUPAC 2021).
    expect(liquor.citrate_mol).toBeCloseTo((share * 82.3) / 192.123, 6);
    expect(liquor.sodium_mol).toBeCloseTo((share * 100) / 84.006, 5);
    expect(liquor.inorganicCarbon_mol).toBeLessThan(0.15 * liquor.sodium_mol);
    expect(liquor.inorganicCarbon_mol).toBeGreaterThan(0);
  });

  it("is, all of it, the spent charge again when nothing is added", () => {
    const liquor = residualLiquorOf(lastCharge, { ...left, volume_L: spent.liquidVolume_L });
    const again = chargeEquilibrium(
      {
        ...lastCharge,
        water_kg: 0,
        acid: { kind: "citric-acid-anhydrous", mass_g: 0 },
        sodiumBicarbonate_g: 0,
        residualLiquor: liquor,
        trappedAir_mol: 0,
      },
      20,
    );
    // Its gas is gone, so that a little of what it holds comes out again.
    expect(again.pressureAbsolute_bar).toBeLessThan(spent.pressureAbsolute_bar);
    expect(again.water_kg).toBeCloseTo(spent.water_kg, 2);
    expect(again.carbon_mol).toBeCloseTo(spent.carbon_mol - spent.co2Gas_mol, 9);
    expect(again.pH).toBeGreaterThan(spent.pH);
  });

  it("keeps every crystal of bicarbonate of a charge that was short of acid", () => {
    const short: Charge = {
      ...lastCharge,
      water_kg: 0.2,
      acid: { kind: "citric-acid-anhydrous", mass_g: 20 },
      sodiumBicarbonate_g: 120,
    };
    const { inorganicCarbon_mol, volume_L } = residualLiquorOf(short, { ...left, volume_L: 0.02 });
    const unreached_mol = 120 / 84.006 - (3 * 20) / 192.123;
    expect(inorganicCarbon_mol).toBeGreaterThan(0.5 * unreached_mol);
    expect(volume_L).toBeGreaterThan(0.03);
  });

  it.each([
    ["more than there was", 0.9],
    ["less than none", -0.1],
  ])("is refused: %s", (_name, volume_L) => {
    expect(() => residualLiquorOf(lastCharge, { ...left, volume_L })).toThrow(
      expect.objectContaining({ quantity: "residual liquor", unit: "L", minimum: 0 }),
    );
  });
});

describe("a plan over old liquor", () => {
  const planned = (volume_L: number, hottest_degC = 40): ChargePlan => {
    const plan = planCharge({
      vessel: { volume_L: 2, ratedPressureGauge_bar: 40, reliefOpeningGauge_bar: 40, leastInletGauge_bar: 3 },
      wanted: { kind: "bicarbonate", sodiumBicarbonate_g: 90 },
      acidForm: "citric-acid-anhydrous",
      hottest_degC,
      ...(volume_L > 0 ? { residual: { volume_L, lastCharge } } : {}),
    });
    if (plan.kind === "refused") throw new Error(plan.reason);
    return plan;
  };

  it("has less gas space and so more pressure, and wider bounds", () => {
    const [without, more] = [planned(0), planned(0.3)];
    const { hottest } = more.pressures;
    expect(hottest.pressureGauge_bar).toBeGreaterThan(without.pressures.hottest.pressureGauge_bar);
    const width = (plan: ChargePlan): number =>
      plan.pressures.hottest.highGauge_bar - plan.pressures.hottest.lowGauge_bar;
    expect(width(more)).toBeGreaterThan(width(without));
    expect(more.cautions.map(({ kind }) => kind)).toContain("residual-liquor");
    expect(more.amounts.residualLiquor_L).toBeCloseTo(0.3, 9);
  });

  it("is the equilibrium of a charge with that liquor in it", () => {
    const plan = planned(0.3);
    const charge: Charge = {
      vesselVolume_L: 2,
      water_kg: 0.5,
      acid: plan.charge.acid,
      sodiumBicarbonate_g: 90,
      sealedAt_degC: 20,
      residualLiquor: residualLiquorOf(lastCharge, { volume_L: 0.3, temperature_degC: 20 }),
    };
    expect(plan.pressures.room.pressureGauge_bar).toBeCloseTo(
      chargeEquilibrium(charge, 20).pressureGauge_bar,
      9,
    );
    expect(plan.delivery.co2Available_g).toBeCloseTo(44.009 * vesselInventory(charge).co2Available_mol, 2);
  });
});
