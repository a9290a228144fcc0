import { describe, expect, it } from "vitest";
import type { Charge } from "../../lib/vessel/charge.js";
import { chargeEquilibrium } from "../../lib/vessel/charge-equilibrium.js";
import { depletionCurve, type Withdrawal } from "../../lib/vessel/depletion.js";
import { molarMass_gPerMol } from "../../lib/quantities/physical-constants.js";
import { readReference, type ReferenceTable } from "./read-reference.js";

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
  readonly co2Gas_mol: number;
  readonly co2Dissolved_mol: number;
  readonly bicarbonate_mol: number;
  readonly solidBicarbonate_mol: number;
  readonly ionicStrength_molPerKg: number;
  readonly hasSolid: boolean;
}

interface ChargeTolerances {
  readonly tolerances: {
    readonly pressureBelow25bar_ratio: number;
    readonly pressureAbove25bar_ratio: number;
    readonly pH: number;
    readonly co2Share_ratio: number;
    readonly pressureWithSolid_ratio: number;
    readonly pHWithSolid: number;
  };
}

interface DepletionRow extends Recipe {
  readonly withdrawal: Withdrawal;
  readonly co2Available_mol: number;
  readonly co2Removed_mol: number;
  readonly pressureAbsolute_bar: number;
  readonly remaining_ratio: number;
  readonly air_mol: number;
}

interface CarbonateRow extends Recipe {
  readonly acidPerExact_ratio: number;
  readonly removed_ratio: number;
  readonly sealedAt_degC: number;
  readonly co2Removed_mol: number;
  readonly pressureAbsolute_bar: number;
  readonly pH: number;
  readonly bicarbonate_mol: number;
  readonly solidBicarbonate_mol: number;
  readonly ionicStrength_molPerKg: number;
}

const chargeOf = (row: Recipe): Charge => ({
  vesselVolume_L: row.vesselVolume_L,
  water_kg: row.water_kg,
  acid: { kind: "citric-acid-anhydrous", mass_g: row.citricAcid_g },
  sodiumBicarbonate_g: row.sodiumBicarbonate_g,
  sealedAt_degC: row.temperature_degC,
});

const charges = readReference<ChargeRow>("sealed-vessel-charge.json") as ReferenceTable<ChargeRow> &
  ChargeTolerances;
const carbonate = readReference<CarbonateRow>(
  "sealed-vessel-carbonate.json",
) as ReferenceTable<CarbonateRow> & {
  readonly pHTolerance: number;
  readonly co2Share_ratio: number;
};
const depletion = readReference<DepletionRow>("sealed-vessel-depletion.json");

describe(`closed vessel against ${charges.source}`, () => {
  it.each(charges.rows)("recipe $recipe at $temperature_degC degC", (row) => {
    const { tolerances } = charges;
    const state = chargeEquilibrium(chargeOf(row), row.temperature_degC);
    const unsolid =
      row.pressureAbsolute_bar < 25
        ? tolerances.pressureBelow25bar_ratio
        : tolerances.pressureAbove25bar_ratio;
    const pressureTolerance = row.hasSolid ? tolerances.pressureWithSolid_ratio : unsolid;
    expect(Math.abs(state.pressureAbsolute_bar / row.pressureAbsolute_bar - 1)).toBeLessThan(
      pressureTolerance,
    );
    expect(Math.abs(state.pH - row.pH)).toBeLessThan(row.hasSolid ? tolerances.pHWithSolid : tolerances.pH);
    expect(state.air_mol / row.air_mol).toBeCloseTo(1, 2);
    expect(Math.abs(state.ionicStrength_molPerKg / row.ionicStrength_molPerKg - 1)).toBeLessThan(0.02);
    const all_mol = row.sodiumBicarbonate_g / molarMass_gPerMol.sodiumBicarbonate;
    for (const [actual, expected] of [
      [state.co2Gas_mol, row.co2Gas_mol],
      [state.co2Dissolved_mol, row.co2Dissolved_mol],
      [state.bicarbonate_mol, row.bicarbonate_mol],
      [state.solidBicarbonate_mol, row.solidBicarbonate_mol],
    ] as const) {
      expect(Math.abs(actual - expected) / all_mol).toBeLessThan(tolerances.co2Share_ratio);
    }
  });

  it("is nearer than its limits on the whole: half of the rows within 0.6 % of pressure and 0.01 of pH", () => {
    const median = (values: readonly number[]): number =>
      [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)]!;
    const states = charges.rows.map((row) => ({
      row,
      state: chargeEquilibrium(chargeOf(row), row.temperature_degC),
    }));
    const pressureMisses = states.map(({ row, state }) =>
      Math.abs(state.pressureAbsolute_bar / row.pressureAbsolute_bar - 1),
    );
    const pHMisses = states.map(({ row, state }) => Math.abs(state.pH - row.pH));
    expect(median(pressureMisses)).toBeLessThan(0.006);
    expect(median(pHMisses)).toBeLessThan(0.01);
    expect(Math.max(...pressureMisses)).toBeLessThan(0.012);
  });
});

describe(`depletion against ${depletion.source}`, () => {
  it.each(depletion.rows)(
    "$withdrawal of $recipe: $remaining_ratio remains at $pressureAbsolute_bar bar",
    (row) => {
      const curve = depletionCurve(chargeOf(row), row);
      expect(curve.co2Available_mol / row.co2Available_mol).toBeCloseTo(1, 3);
      const answer = curve.remainingAt(row.pressureAbsolute_bar);
      // A pressure a little above the model's own full one means that nothing has been taken.
      const remaining_ratio = answer.kind === "on-the-curve" ? answer.remaining_ratio : 1;
      if (answer.kind === "above-full") expect(row.co2Removed_mol).toBe(0);
      expect(Math.abs(remaining_ratio - row.remaining_ratio)).toBeLessThan(depletion.tolerance);
      const state = curve.afterRemoving(Math.min(row.co2Removed_mol, curve.co2Available_mol));
      expect(Math.abs(state.air_mol - row.air_mol)).toBeLessThan(0.0006);
      // Under 1 bar the two activity models of the table lie 3 % apart for this recipe, whose liquor is alkaline by then.
      const tolerance_bar = 0.02 * Math.max(1, row.pressureAbsolute_bar);
      expect(Math.abs(state.pressureAbsolute_bar - row.pressureAbsolute_bar)).toBeLessThan(tolerance_bar);
    },
  );
});

describe(`nearly spent and short of acid, against ${carbonate.source}`, () => {
  it.each(carbonate.rows)(
    "$acidPerExact_ratio of the exact acid at $temperature_degC degC, $removed_ratio of the CO2 gone",
    (row) => {
      const charge = { ...chargeOf(row), sealedAt_degC: row.sealedAt_degC };
      const curve = depletionCurve(charge, {
        temperature_degC: row.temperature_degC,
        withdrawal: "co2-only",
      });
      const state = curve.afterRemoving(row.co2Removed_mol);
      expect(Math.abs(state.pressureAbsolute_bar / row.pressureAbsolute_bar - 1)).toBeLessThan(
        carbonate.tolerance,
      );
      expect(Math.abs(state.pH - row.pH)).toBeLessThan(carbonate.pHTolerance);
      expect(Math.abs(state.ionicStrength_molPerKg / row.ionicStrength_molPerKg - 1)).toBeLessThan(0.02);
      const all_mol = row.sodiumBicarbonate_g / molarMass_gPerMol.sodiumBicarbonate;
      for (const [actual, expected] of [
        [state.bicarbonate_mol, row.bicarbonate_mol],
        [state.solidBicarbonate_mol, row.solidBicarbonate_mol],
      ] as const) {
        expect(Math.abs(actual - expected) / all_mol).toBeLessThan(carbonate.co2Share_ratio);
      }
    },
  );
});
