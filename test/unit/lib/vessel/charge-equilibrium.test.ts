import { describe, expect, it } from "vitest";
import { saturationPressure_bar } from "../../../../lib/chemistry/carbon-dioxide-saturation.js";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { vesselInventory, type Charge } from "../../../../lib/vessel/charge.js";
import {
  chargeEquilibrium,
  residualLiquor,
  type ChargeEquilibrium,
} from "../../../../lib/vessel/charge-equilibrium.js";
import { hydratePressure_bar } from "../../../../lib/vessel/outside-model.js";

const charge = (
  acid_g: number,
  bicarbonate_g: number,
  water_kg: number,
  vesselVolume_L: number,
  more: Partial<Charge> = {},
): Charge => ({
  vesselVolume_L,
  water_kg,
  acid: { kind: "citric-acid-anhydrous", mass_g: acid_g },
  sodiumBicarbonate_g: bicarbonate_g,
  sealedAt_degC: 20,
  ...more,
});

const flagsOf = (state: ChargeEquilibrium): readonly string[] => state.outsideModel.map((flag) => flag.kind);

describe("the closed vessel", () => {
  it.each([
    ["a usual charge", charge(120, 140, 0.5, 2)],
    ["excess acid", charge(250, 120, 0.5, 2)],
    ["excess bicarbonate, some of it solid", charge(30, 200, 0.8, 2)],
    ["no acid", charge(0, 100, 0.5, 2)],
    ["no bicarbonate", charge(100, 0, 0.5, 2)],
    ["water alone", charge(0, 0, 0.5, 2)],
    ["stronger than the activity model reaches", charge(140, 184, 0.35, 1.8)],
    ["liquid CO2", charge(400, 500, 0.7, 2)],
  ])("closes charge, carbon, sodium and water to 1e-9: %s", (_name, given) => {
    const inventory = vesselInventory(given);
    for (const temperature_degC of [0, 10, 22, 30, 45]) {
      if (given.sodiumBicarbonate_g === 500 && temperature_degC > 30) continue;
      const state = chargeEquilibrium(given, temperature_degC);
      const s = state.solutes;
      const positive = s.sodium_molPerKg + s.hydrogen_molPerKg;
      const negative =
        s.bicarbonate_molPerKg +
        2 * s.carbonate_molPerKg +
        s.sodiumCarbonatePair_molPerKg +
        s.hydroxide_molPerKg +
        3 * s.citrate_molPerKg +
        2 * s.hydrogenCitrate_molPerKg +
        s.dihydrogenCitrate_molPerKg;
      expect(Math.abs(positive / negative - 1)).toBeLessThan(1e-9);
      const carbon_mol =
        state.co2Gas_mol +
        state.co2Dissolved_mol +
        state.bicarbonate_mol +
        state.carbonate_mol +
        state.solidBicarbonate_mol +
        state.liquidCo2_mol;
      expect(Math.abs(carbon_mol - inventory.carbon_mol)).toBeLessThanOrEqual(1e-9 * inventory.carbon_mol);
      const sodium_mol =
        state.water_kg *
          (s.sodium_molPerKg + s.sodiumBicarbonatePair_molPerKg + s.sodiumCarbonatePair_molPerKg) +
        state.solidBicarbonate_mol;
      expect(Math.abs(sodium_mol - inventory.sodium_mol)).toBeLessThanOrEqual(1e-9 * inventory.sodium_mol);
      const citrate_mol =
        state.water_kg *
        (s.citrate_molPerKg +
          s.hydrogenCitrate_molPerKg +
          s.dihydrogenCitrate_molPerKg +
          s.citricAcid_molPerKg);
      expect(Math.abs(citrate_mol - inventory.citrate_mol)).toBeLessThanOrEqual(1e-9 * inventory.citrate_mol);
      // Hydrogen atoms: 2 in water, 1 in each bicarbonate, 8 of citric acid less its charge, against what was put in.
      const citrateCharge_mol =
        state.water_kg *
        (3 * s.citrate_molPerKg + 2 * s.hydrogenCitrate_molPerKg + s.dihydrogenCitrate_molPerKg);
      const water_mol = (state.water_kg * 1000) / 18.015 + state.waterVapour_mol;
      const hydrogenNow_mol =
        2 * water_mol +
        state.bicarbonate_mol +
        state.solidBicarbonate_mol +
        state.water_kg * (s.hydrogen_molPerKg + s.hydroxide_molPerKg) +
        3 * inventory.citrate_mol -
        citrateCharge_mol;
      const hydrogenBefore_mol =
        (2 * given.water_kg * 1000) / 18.015 + inventory.sodium_mol + 3 * inventory.citrate_mol;
      expect(Math.abs(hydrogenNow_mol / hydrogenBefore_mol - 1)).toBeLessThan(1e-9);
    }
  });

  it("makes a mole of water for each mole of CO2 that it frees", () => {
    const state = chargeEquilibrium(charge(200, 140, 0.5, 2), 20);
    const freed_mol = state.co2Gas_mol + state.co2Dissolved_mol;
    const water_mol = ((state.water_kg - 0.5) * 1000) / 18.015 + state.waterVapour_mol;
    expect(water_mol).toBeCloseTo(freed_mol, 5);
  });

  it("does not care how the acid was weighed, but for 10 g of water", () => {
    const anhydrous = chargeEquilibrium(charge(120, 140, 0.5, 2), 20);
    const crystalWater_kg = (120 / 192.123) * 0.018015;
    const mono = chargeEquilibrium(
      charge(0, 140, 0.5 - crystalWater_kg, 2, {
        acid: { kind: "citric-acid-monohydrate", mass_g: (120 * 210.138) / 192.123 },
        trappedAir_mol: anhydrous.air_mol,
      }),
      20,
    );
    expect(mono.pressureAbsolute_bar).toBeCloseTo(anhydrous.pressureAbsolute_bar, 9);
    expect(mono.pH).toBeCloseTo(anhydrous.pH, 9);
  });

  it("reads gauge pressure as absolute less 1 atm", () => {
    const state = chargeEquilibrium(charge(120, 140, 0.5, 2), 20);
    expect(state.pressureAbsolute_bar - state.pressureGauge_bar).toBeCloseTo(1.01325, 12);
  });

  it("holds more than half again as much CO2 as the ideal gas of its headspace", () => {
    const state = chargeEquilibrium(charge(80, 140, 1, 2), 20);
    const ideal_mol = (state.co2Pressure_bar * state.gasVolume_L) / (0.0831446 * 293.15);
    expect((state.co2Gas_mol + state.co2Dissolved_mol) / ideal_mol).toBeGreaterThan(1.5);
  });

  it.each([-0.1, 45.1, Number.NaN])("refuses %d degC", (temperature_degC) => {
    expect(() => chargeEquilibrium(charge(120, 140, 0.5, 2), temperature_degC)).toThrow(
      expect.objectContaining({ quantity: "temperature", unit: "degC", minimum: 0, maximum: 45 }) as Error,
    );
  });

  it("refuses a charge whose gas at 40 degC would be as dense as a liquid", () => {
    expect(() => chargeEquilibrium(charge(560, 700, 0.9, 2), 40)).toThrow(OutOfValidRangeError);
  });
});

describe("what lies outside the model", () => {
  it.each([
    ["nothing for a usual charge", charge(120, 140, 0.5, 2), 20, []],
    ["a hydrate at 0 degC above 12.6 bar", charge(120, 140, 0.5, 2), 0, ["hydrate"]],
    ["no hydrate at 5 degC below 23 bar", charge(120, 140, 0.5, 2), 5, []],
    ["no hydrate at 12 degC, whatever the pressure", charge(200, 230, 0.7, 2), 12, []],
    ["ionic strength above 7", charge(140, 184, 0.35, 1.8), 20, ["ionic-strength"]],
    [
      "liquid CO2 with all that goes with so much salt",
      charge(400, 500, 0.7, 2),
      15,
      ["liquid-carbon-dioxide", "citrate-salt", "ionic-strength"],
    ],
    ["citrate that crystallises", charge(180, 215, 0.3, 3), 20, ["citrate-salt", "ionic-strength"]],
  ])("%s", (_name, given, temperature_degC, kinds) => {
    const state = chargeEquilibrium(given, temperature_degC);
    expect(flagsOf(state)).toEqual(kinds);
    for (const flag of state.outsideModel) expect(flag.reason.length).toBeGreaterThan(40);
  });

  it.each([
    [0, 12.6],
    [5, 23],
    [10, 45],
    [11, undefined],
  ])("has its hydrate line at %d degC at %s bar (pure water, from memory)", (temperature_degC, expected) => {
    const actual = hydratePressure_bar(temperature_degC);
    if (expected === undefined) expect(actual).toBeUndefined();
    else expect(actual).toBeCloseTo(expected, 9);
  });

  it("goes over into liquid CO2 without a jump in pressure, and stays at saturation", () => {
    const at = (bicarbonate_g: number): ChargeEquilibrium =>
      chargeEquilibrium(charge(0.8 * bicarbonate_g, bicarbonate_g, 0.7, 2, { trappedAir_mol: 0 }), 10);
    const pressures = [320, 326, 332, 338, 344, 350, 356].map((grams) => at(grams));
    const first = pressures.findIndex((state) => state.liquidCo2_mol > 0);
    expect(first).toBeGreaterThan(0);
    for (let k = 1; k < pressures.length; k += 1) {
      const step_bar = pressures[k]!.pressureAbsolute_bar - pressures[k - 1]!.pressureAbsolute_bar;
      expect(step_bar).toBeLessThan(0.8);
      expect(step_bar).toBeGreaterThan(-0.01);
    }
    const last = pressures.at(-1)!;
    expect(Math.abs(last.co2Pressure_bar / saturationPressure_bar(10) - 1)).toBeLessThan(0.003);
  });
});

describe("liquor that was left in", () => {
  const spent = charge(120, 140, 0.5, 2);

  it("is a share of the old liquor, degassed to 1 atm", () => {
    const all = chargeEquilibrium(spent, 20);
    const left = residualLiquor(spent, { volume_L: 0.1, openedAt_degC: 20 });
    expect(left.citrate_mol / (120 / 192.123)).toBeCloseTo(left.sodium_mol / (140 / 84.006), 9);
    expect(left.citrate_mol / (120 / 192.123)).toBeCloseTo(0.1 / all.liquidVolume_L, 1);
    expect(left.inorganicCarbon_mol).toBeLessThan(0.01);
  });

  it("takes up gas space: the same fresh charge on top gives more pressure", () => {
    const left = residualLiquor(spent, { volume_L: 0.1, openedAt_degC: 20 });
    const fresh = chargeEquilibrium(spent, 20);
    const onTop = chargeEquilibrium({ ...spent, residualLiquor: left }, 20);
    expect(onTop.pressureAbsolute_bar).toBeGreaterThan(fresh.pressureAbsolute_bar + 0.3);
    expect(onTop.liquidVolume_L).toBeCloseTo(fresh.liquidVolume_L + 0.1, 1);
  });

  it("brings its acid along: an acid liquor sets bicarbonate free by itself", () => {
    const sour = residualLiquor(charge(250, 60, 0.5, 2), { volume_L: 0.3, openedAt_degC: 20 });
    const state = chargeEquilibrium({ ...charge(0, 60, 0.2, 2), residualLiquor: sour }, 20);
    expect(state.pressureGauge_bar).toBeGreaterThan(5);
  });

  it("cannot be more than there was", () => {
    expect(() => residualLiquor(spent, { volume_L: 1, openedAt_degC: 20 })).toThrow(OutOfValidRangeError);
  });
});
