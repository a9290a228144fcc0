import { describe, expect, it } from "vitest";
import { molarMass_gPerMol } from "../../lib/quantities/physical-constants.js";
import {
  availableCo2_mol,
  contentsPhases,
  type ContentsPhases,
  type SimulatedFilling,
} from "../../lib/simulation/simulated-contents.js";
import { createSimulatedVessel } from "../../lib/simulation/simulated-vessel.js";
import { readReference } from "./read-reference.js";

interface Recipe {
  readonly recipe: string;
  readonly citricAcid_g: number;
  readonly sodiumBicarbonate_g: number;
  readonly water_kg: number;
  readonly vesselVolume_L: number;
  readonly temperature_degC: number;
}

interface ChargeRow extends Recipe {
  readonly air_mol: number;
  readonly pressureAbsolute_bar: number;
  readonly pH: number;
  readonly bicarbonate_mol: number;
  readonly solidBicarbonate_mol: number;
}

interface DepletionRow extends Recipe {
  readonly withdrawal: "co2-only" | "headspace";
  readonly co2Removed_mol: number;
  readonly pressureAbsolute_bar: number;
  readonly air_mol: number;
}

const atmosphere_bar = 1.01325;

const fillingOf = (row: Recipe): SimulatedFilling => ({
  volume_L: row.vesselVolume_L,
  citricAcid_mol: row.citricAcid_g / molarMass_gPerMol.citricAcidAnhydrous,
  sodiumBicarbonate_mol: row.sodiumBicarbonate_g / molarMass_gPerMol.sodiumBicarbonate,
  water_kg: row.water_kg,
  lostBeforeClosing_mol: 0,
  co2Pressure_ratio: 1,
  retainedBicarbonate_ratio: 1,
});

const settled = (row: Recipe, carbon_mol: number, air_mol: number): ContentsPhases =>
  contentsPhases(fillingOf(row), {
    carbon_mol,
    air_mol,
    contents_degC: row.temperature_degC,
    reacted_ratio: 1,
    melted_ratio: 1,
  });

const charges = readReference<ChargeRow>("sealed-vessel-charge.json");
const depletion = readReference<DepletionRow>("sealed-vessel-depletion.json");

describe(`the simulation's vessel without drawn errors against ${charges.source}`, () => {
  it.each(charges.rows)("recipe $recipe at $temperature_degC degC", (row) => {
    const filling = fillingOf(row);
    const phases = settled(row, filling.sodiumBicarbonate_mol, row.air_mol);
    const pressure_ratio = (phases.pressureGauge_bar + atmosphere_bar) / row.pressureAbsolute_bar;
    expect(Math.abs(pressure_ratio - 1)).toBeLessThan(0.02);
    const bicarbonateMiss_mol = phases.bicarbonate_mol - row.bicarbonate_mol - row.solidBicarbonate_mol;
    expect(Math.abs(bicarbonateMiss_mol) / filling.sodiumBicarbonate_mol).toBeLessThan(0.01);
  });
});

describe(`the simulation's vessel as it empties against ${depletion.source}`, () => {
  it.each(depletion.rows)(
    "$withdrawal of $recipe after $co2Removed_mol mol: $pressureAbsolute_bar bar",
    (row) => {
      const filling = fillingOf(row);
      const left_mol = filling.sodiumBicarbonate_mol - row.co2Removed_mol;
      if (!(left_mol > filling.sodiumBicarbonate_mol - availableCo2_mol(filling))) return;
      const phases = settled(row, left_mol, row.air_mol);
      const miss_bar = phases.pressureGauge_bar + atmosphere_bar - row.pressureAbsolute_bar;
      expect(Math.abs(miss_bar)).toBeLessThan(0.02 * row.pressureAbsolute_bar + 0.03);
    },
  );
});

describe(`the simulation's air as the gas space empties against ${depletion.source}`, () => {
  const rows = depletion.rows.filter((row) => row.withdrawal === "headspace");
  const recipes = [...new Set(rows.map((row) => row.recipe))];

  it.each(recipes)("recipe %s loses its air as early, and stands at the same pressures", (recipe) => {
    const ofRecipe = rows.filter((row) => row.recipe === recipe);
    const [full] = ofRecipe;
    expect(ofRecipe.length).toBeGreaterThan(5);
    if (full === undefined) return;
    let vessel = createSimulatedVessel({
      filling: fillingOf(full),
      pace: {
        contentsLag_h: 1,
        outsideResistance_ratio: 0.5,
        steelHeatCapacity_JPerK: 1e7,
        mixing_h: 1,
        airFirst_ratio: 1,
      },
      air_mol: full.air_mol,
      start: { kind: "settled", contents_degC: full.temperature_degC },
      emptyMass_g: 0,
    });
    let removed_mol = 0;
    for (const row of ofRecipe) {
      while (removed_mol < row.co2Removed_mol) {
        // A day for each step: the contents stay at the room's temperature.
        const next = vessel.advance({
          duration_s: 86_400,
          room_degC: full.temperature_degC,
          withdrawn_mol: Math.min(0.01, 1.0001 * (row.co2Removed_mol - removed_mol) + 1e-7),
        });
        removed_mol += next.left.co2_mol;
        ({ vessel } = next);
      }
      expect(Math.abs(vessel.air_mol - row.air_mol)).toBeLessThan(0.03 * full.air_mol);
      const miss_bar = vessel.pressureGauge_bar + atmosphere_bar - row.pressureAbsolute_bar;
      expect(Math.abs(miss_bar)).toBeLessThan(0.03 * row.pressureAbsolute_bar + 0.05);
    }
  });
});
