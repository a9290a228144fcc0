import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { createGeneratorVessel } from "../../../../lib/simulation/generator-vessel.js";
import type { GeneratorVesselSpec } from "../../../../lib/simulation/generator-vessel.js";

const charge: GeneratorVesselSpec = {
  volume_L: 2,
  sodiumBicarbonate_g: 100,
  citricAcidAnhydrous_g: 80,
  water_kg: 0.5,
  sealedAt_degC: 20,
  contents_degC: 20,
  retainedBicarbonate_ratio: 0.06,
  thermalLag_h: 1.5,
  emptyMass_g: 2600,
};

// Equilibria of a sealed vessel computed with PHREEQC (U.S. Geological Survey, 2025-12), specific-ion model of
// ThermoChimie, sealed at the row's temperature. Pressure is absolute.
const equilibria = [
  {
    acid_g: 60,
    bicarbonate_g: 78.7,
    water_kg: 0.4,
    volume_L: 1,
    at_degC: 25,
    kept: 0.098,
    total_bar: 25.691,
  },
  { acid_g: 80, bicarbonate_g: 70, water_kg: 1, volume_L: 2, at_degC: 15, kept: 0.0189, total_bar: 11.29 },
  { acid_g: 80, bicarbonate_g: 140, water_kg: 1, volume_L: 2, at_degC: 5, kept: 0.2852, total_bar: 14.206 },
  { acid_g: 80, bicarbonate_g: 140, water_kg: 1, volume_L: 2, at_degC: 35, kept: 0.2829, total_bar: 21.499 },
  {
    acid_g: 90,
    bicarbonate_g: 118.06,
    water_kg: 0.7,
    volume_L: 2,
    at_degC: 20,
    kept: 0.0957,
    total_bar: 18.069,
  },
  {
    acid_g: 100,
    bicarbonate_g: 100,
    water_kg: 0.7,
    volume_L: 2,
    at_degC: 25,
    kept: 0.0222,
    total_bar: 17.356,
  },
  { acid_g: 150, bicarbonate_g: 150, water_kg: 1, volume_L: 3, at_degC: 25, kept: 0.021, total_bar: 17.264 },
];

describe("the generator vessel", () => {
  it.each(equilibria)("reaches the pressure of an independent equilibrium: %o", (row) => {
    const vessel = createGeneratorVessel({
      ...charge,
      volume_L: row.volume_L,
      water_kg: row.water_kg,
      citricAcidAnhydrous_g: row.acid_g,
      sodiumBicarbonate_g: row.bicarbonate_g,
      retainedBicarbonate_ratio: row.kept,
      sealedAt_degC: row.at_degC,
      contents_degC: row.at_degC,
    });
    expect(Math.abs((vessel.pressureGauge_bar + 1.01325) / row.total_bar - 1)).toBeLessThan(0.025);
  });

  it("makes no more gas than the acid can free", () => {
    // 10 g of acid: 10 / 192.123 mol with three protons each, against 100 / 84.006 mol of bicarbonate.
    const vessel = createGeneratorVessel({ ...charge, citricAcidAnhydrous_g: 10 });
    expect(vessel.co2_mol).toBeCloseTo((3 * 10) / 192.123, 12);
  });

  it("gives back in gas and air what it loses, mole for mole", () => {
    const before = createGeneratorVessel(charge);
    const { vessel: after, left } = before.advance({ duration_s: 60, room_degC: 20, withdrawn_mol: 0.1 });
    expect(left.co2_mol + left.air_mol).toBeCloseTo(0.1, 12);
    expect(after.co2_mol + left.co2_mol).toBeCloseTo(before.co2_mol, 12);
    expect(after.air_mol + left.air_mol).toBeCloseTo(before.air_mol, 12);
    expect(before.mass_g - after.mass_g).toBeCloseTo(left.co2_mol * 44.009 + left.air_mol * 28.964, 9);
    expect(after.pressureGauge_bar).toBeLessThan(before.pressureGauge_bar);
  });

  it("never gives more than the gas space holds", () => {
    const before = createGeneratorVessel(charge);
    const { vessel: after, left } = before.advance({ duration_s: 60, room_degC: 20, withdrawn_mol: 1e6 });
    expect(after.air_mol).toBeCloseTo(0, 12);
    expect(after.co2_mol).toBeGreaterThan(0);
    expect(left.co2_mol).toBeLessThan(before.co2_mol);
  });

  it("lets the trapped air go early", () => {
    let vessel = createGeneratorVessel(charge);
    const start = vessel;
    while (vessel.pressureGauge_bar > start.pressureGauge_bar / 2) {
      vessel = vessel.advance({ duration_s: 60, room_degC: 20, withdrawn_mol: 0.002 }).vessel;
    }
    expect(vessel.air_mol / start.air_mol).toBeLessThan(vessel.co2_mol / start.co2_mol);
  });

  it("follows the room with its own lag: 63 % of a step after one lag", () => {
    const { vessel } = createGeneratorVessel(charge).advance({
      duration_s: 1.5 * 3600,
      room_degC: 30,
      withdrawn_mol: 0,
    });
    expect(vessel.contents_degC).toBeCloseTo(20 + 10 * (1 - Math.exp(-1)), 9);
  });

  // Common practice, no source: a charge of this kind moves 0.15 to 0.2 kgf/cm2 for each degree; 1 kgf/cm2 is
  // 0.980665 bar by definition.
  it("moves its gauge by the usual amount for each degree", () => {
    const pressureAt = (contents_degC: number) =>
      createGeneratorVessel({
        ...charge,
        sodiumBicarbonate_g: 130,
        citricAcidAnhydrous_g: 104,
        contents_degC,
      }).pressureGauge_bar;
    const slope_barPerK = (pressureAt(25) - pressureAt(15)) / 10;
    expect(slope_barPerK).toBeGreaterThan(0.14);
    expect(slope_barPerK).toBeLessThan(0.2);
  });

  it("refuses a charge that leaves no gas space", () => {
    expect(() => createGeneratorVessel({ ...charge, water_kg: 2 })).toThrow(OutOfValidRangeError);
  });
});
