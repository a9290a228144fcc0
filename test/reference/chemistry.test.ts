import { describe, expect, it } from "vitest";
import {
  carbonDioxideDensity_molPerL,
  carbonDioxideIsotherm,
} from "../../lib/chemistry/carbon-dioxide-gas.js";
import {
  saturatedLiquidDensity_kgPerL,
  saturatedVapourDensity_kgPerL,
  saturationPressure_bar,
} from "../../lib/chemistry/carbon-dioxide-saturation.js";
import { citricAcidPk, citricAcidPkByBatesPinching } from "../../lib/chemistry/citric-acid.js";
import {
  bicarbonateLogK2,
  bicarbonateLogK2ByHarnedScholes,
  carbonDioxideLogKH,
  carbonicAcidLogK1,
  carbonicAcidLogK1ByHarnedDavis,
} from "../../lib/chemistry/equilibrium-constants.js";
import {
  airSolubility_molPerKgAtm,
  dissolvedCarbonDioxide_molPerKg,
  henryConstant_molPerKgBar,
  henryConstantByCarroll_MPa,
} from "../../lib/chemistry/henry-solubility.js";
import {
  debyeHuckelA,
  waterDensity_kgPerL,
  waterVapourPressure_bar,
} from "../../lib/chemistry/water-properties.js";
import { molarMass_gPerMol } from "../../lib/quantities/physical-constants.js";
import { pressureFromBar, pressureToBar } from "../../lib/quantities/units.js";
import { chargeEquilibrium } from "../../lib/vessel/charge-equilibrium.js";
import { missOf, readReference } from "./read-reference.js";

interface ScalarRow {
  readonly temperature_degC: number;
  readonly expected: number;
  readonly crossCheck?: number;
  readonly pressureAbsolute_bar?: number;
  readonly pressureTotal_bar?: number;
}

function solubilityUnderTotalPressure(row: ScalarRow): number {
  const { temperature_degC } = row;
  const pressureAbsolute_bar = row.pressureTotal_bar! - waterVapourPressure_bar(temperature_degC);
  const density_molPerL = carbonDioxideDensity_molPerL({ pressureAbsolute_bar, temperature_degC });
  const { fugacity_bar } = carbonDioxideIsotherm(temperature_degC).stateAt(density_molPerL);
  return dissolvedCarbonDioxide_molPerKg({ fugacity_bar, temperature_degC, sodium_molPerKg: 0 });
}

function gasDensity(row: ScalarRow): number {
  return carbonDioxideDensity_molPerL({
    pressureAbsolute_bar: row.pressureAbsolute_bar!,
    temperature_degC: row.temperature_degC,
  });
}

/** A bed of bicarbonate crystals under a little water, with so little gas space that hardly any CO2 leaves the water. */
function bicarbonatePer100gWater(row: ScalarRow): number {
  const state = chargeEquilibrium(
    {
      vesselVolume_L: 1.2,
      water_kg: 1,
      acid: { kind: "citric-acid-anhydrous", mass_g: 0 },
      sodiumBicarbonate_g: 200,
      sealedAt_degC: 20,
    },
    row.temperature_degC,
  );
  const dissolved_mol = state.bicarbonate_mol + 2 * state.carbonate_mol;
  return (dissolved_mol * molarMass_gPerMol.sodiumBicarbonate) / state.water_kg / 10;
}

const scalarTables: readonly (readonly [
  string,
  (row: ScalarRow) => number,
  ((row: ScalarRow) => number) | undefined,
])[] = [
  ["carbon-dioxide-density.json", gasDensity, undefined],
  [
    "carbon-dioxide-fugacity.json",
    (row) =>
      carbonDioxideIsotherm(row.temperature_degC).stateAt(gasDensity(row)).fugacity_bar /
      row.pressureAbsolute_bar!,
    undefined,
  ],
  ["carbon-dioxide-solubility-carroll.json", solubilityUnderTotalPressure, undefined],
  ["carbon-dioxide-solubility-wiebe-gaddy.json", solubilityUnderTotalPressure, undefined],
  ["carbon-dioxide-solubility-handbook.json", solubilityUnderTotalPressure, undefined],
  [
    "carbonic-acid-pk1.json",
    (row) => -carbonicAcidLogK1(row.temperature_degC),
    (row) => -carbonicAcidLogK1ByHarnedDavis(row.temperature_degC),
  ],
  [
    "carbonic-acid-pk2.json",
    (row) => -bicarbonateLogK2(row.temperature_degC),
    (row) => -bicarbonateLogK2ByHarnedScholes(row.temperature_degC),
  ],
  [
    "carbonic-acid-kh.json",
    (row) => 10 ** carbonDioxideLogKH(row.temperature_degC),
    (row) => airSolubility_molPerKgAtm(row.temperature_degC),
  ],
  ["sodium-bicarbonate-solubility.json", bicarbonatePer100gWater, undefined],
];

describe("chemistry against published values", () => {
  for (const [name, compute, crossCheck] of scalarTables) {
    const table = readReference<ScalarRow>(name);
    it(`${table.table}: within ${table.tolerance} ${table.toleranceKind} of ${table.source}`, () => {
      const misses = table.rows.map((row) => missOf(table, compute(row), row.expected));
      expect(Math.max(...misses)).toBeLessThanOrEqual(table.tolerance);
      if (crossCheck === undefined) return;
      for (const row of table.rows) {
        expect(missOf(table, crossCheck(row), row.crossCheck!)).toBeLessThanOrEqual(table.tolerance / 10);
        expect(missOf(table, compute(row), crossCheck(row))).toBeLessThanOrEqual(table.tolerance);
      }
    });
  }

  it.each([
    ["citric-acid-pk.json", citricAcidPkByBatesPinching],
    ["citric-acid-pk.json", citricAcidPk],
    ["citric-acid-pk-compilation.json", citricAcidPk],
  ] as const)("the three pK of citric acid of %s", (name, compute) => {
    const table = readReference<{ readonly temperature_degC: number; readonly pK: readonly number[] }>(name);
    for (const row of table.rows) {
      const { pK1, pK2, pK3 } = compute(row.temperature_degC);
      for (const [index, actual] of [pK1, pK2, pK3].entries()) {
        expect(missOf(table, actual, row.pK[index]!)).toBeLessThanOrEqual(table.tolerance);
      }
    }
  });

  it("the two sources of the citric pK agree from 0 to 40 degC", () => {
    for (let temperature_degC = 0; temperature_degC <= 40; temperature_degC += 5) {
      const one = citricAcidPk(temperature_degC);
      const other = citricAcidPkByBatesPinching(temperature_degC);
      expect(Math.abs(one.pK1 - other.pK1)).toBeLessThan(0.006);
      expect(Math.abs(one.pK2 - other.pK2)).toBeLessThan(0.006);
      expect(Math.abs(one.pK3 - other.pK3)).toBeLessThan(0.006);
    }
  });

  const saturation = readReference<{
    readonly temperature_degC: number;
    readonly pressure_bar: number;
    readonly liquid_kgPerM3: number;
    readonly vapour_kgPerM3: number;
  }>("carbon-dioxide-saturation.json");
  it(`${saturation.table}: within ${saturation.tolerance} of ${saturation.source}`, () => {
    for (const row of saturation.rows) {
      const { temperature_degC } = row;
      const densityTolerance = temperature_degC > 30.8 ? 0.005 : saturation.tolerance;
      expect(missOf(saturation, saturationPressure_bar(temperature_degC), row.pressure_bar)).toBeLessThan(
        saturation.tolerance,
      );
      const liquid_kgPerM3 = 1000 * saturatedLiquidDensity_kgPerL(temperature_degC);
      const vapour_kgPerM3 = 1000 * saturatedVapourDensity_kgPerL(temperature_degC);
      expect(missOf(saturation, liquid_kgPerM3, row.liquid_kgPerM3)).toBeLessThan(densityTolerance);
      expect(missOf(saturation, vapour_kgPerM3, row.vapour_kgPerM3)).toBeLessThan(densityTolerance);
    }
  });

  const water = readReference<{
    readonly temperature_degC: number;
    readonly density_kgPerL: number;
    readonly vapourPressure_bar: number;
    readonly A: number;
  }>("water-properties.json");
  it(`${water.table}: ${water.source}`, () => {
    for (const row of water.rows) {
      const { temperature_degC } = row;
      expect(missOf(water, waterDensity_kgPerL(temperature_degC), row.density_kgPerL)).toBeLessThan(2e-5);
      expect(missOf(water, waterVapourPressure_bar(temperature_degC), row.vapourPressure_bar)).toBeLessThan(
        5e-4,
      );
      expect(missOf(water, debyeHuckelA(temperature_degC), row.A)).toBeLessThan(water.tolerance);
    }
  });

  it("Henry's constant is within 3 % of Carroll, Slupsky and Mather (1991) equation 1 from 0 to 45 degC", () => {
    for (let temperature_degC = 0; temperature_degC <= 45; temperature_degC += 5) {
      const molesOfWater = 1000 / molarMass_gPerMol.water;
      const byCarroll_molPerKgBar = (0.1 / henryConstantByCarroll_MPa(temperature_degC)) * molesOfWater;
      expect(Math.abs(henryConstant_molPerKgBar(temperature_degC) / byCarroll_molPerKgBar - 1)).toBeLessThan(
        0.03,
      );
    }
  });

  it("one mole of acid takes three of bicarbonate: 0.7623 g anhydrous, 0.8338 g monohydrate, 0.5239 g CO2 a gram (IUPAC 2021 weights)", () => {
    const { citricAcidAnhydrous, citricAcidMonohydrate, sodiumBicarbonate, co2 } = molarMass_gPerMol;
    expect(citricAcidAnhydrous / (3 * sodiumBicarbonate)).toBeCloseTo(0.7623, 4);
    expect(citricAcidMonohydrate / (3 * sodiumBicarbonate)).toBeCloseTo(0.8338, 4);
    expect(co2 / sodiumBicarbonate).toBeCloseTo(0.5239, 4);
  });

  it("7 kgf/cm2 is 99.56 psi by the definitions of both", () => {
    expect(pressureFromBar(pressureToBar(7, "kgf/cm2"), "psi")).toBeCloseTo(99.56, 2);
  });
});
