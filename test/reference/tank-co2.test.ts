import { describe, expect, it } from "vitest";
import { carbonateSpeciation } from "../../lib/chemistry/carbonate-speciation.js";
import { alkalinityFromKh_meqPerL } from "../../lib/quantities/units.js";
import { airEquilibriumCo2_mgPerL } from "../../lib/tank/air-equilibrium.js";
import { co2FromHardness } from "../../lib/tank/co2-from-hardness.js";
import { co2FromPhDrop } from "../../lib/tank/co2-from-ph-drop.js";
import { ionicStrengthFromConductivity_molPerL } from "../../lib/tank/ionic-strength.js";
import { otherBases_meqPerL } from "../../lib/tank/other-bases.js";
import { colourMatching } from "../../lib/tank/drop-checker-colour.js";
import { missOf, readReference } from "./read-reference.js";

describe("CO2 of tank water", () => {
  const phreeqc = readReference<{
    readonly water: string;
    readonly temperature_degC: number;
    readonly pH: number;
    readonly kh_dKH: number;
    readonly ionicStrength_molPerL: number;
    readonly conductivity_uSPerCm?: number;
    readonly expected_mgPerL: number;
    readonly tolerance?: number;
  }>("tank-carbonate-phreeqc.json");

  it(`${phreeqc.table}: within ${phreeqc.tolerance} of ${phreeqc.source}`, () => {
    for (const row of phreeqc.rows) {
      const { co2_mgPerL } = carbonateSpeciation({
        ...row,
        alkalinity_meqPerL: alkalinityFromKh_meqPerL(row.kh_dKH),
      });
      expect(missOf(phreeqc, co2_mgPerL, row.expected_mgPerL), row.water).toBeLessThan(
        row.tolerance ?? phreeqc.tolerance,
      );
    }
  });

  it(`keeps within 5 % of it where only pH, hardness and temperature are known, salted water apart`, () => {
    const unsalted = phreeqc.rows.filter((row) => row.ionicStrength_molPerL < 0.015);
    expect(unsalted.length).toBeGreaterThan(11);
    for (const row of unsalted) {
      const { pH, kh_dKH, temperature_degC } = row;
      const { co2_mgPerL } = co2FromHardness({ pH, kh_dKH, temperature_degC });
      expect(Math.abs(co2_mgPerL / row.expected_mgPerL - 1), row.water).toBeLessThan(0.05);
    }
  });

  it("keeps within its tolerance in salted and brackish water too where the conductivity is known", () => {
    const salted = phreeqc.rows.filter((row) => row.ionicStrength_molPerL > 0.015);
    expect(salted.length).toBeGreaterThan(1);
    for (const row of salted) {
      const { pH, kh_dKH, temperature_degC, conductivity_uSPerCm, expected_mgPerL, water } = row;
      const { co2_mgPerL } = co2FromHardness({
        pH,
        kh_dKH,
        temperature_degC,
        conductivity_uSPerCm: conductivity_uSPerCm!,
      });
      expect(missOf(phreeqc, co2_mgPerL, expected_mgPerL), water).toBeLessThan(row.tolerance!);
    }
  });

  it(`has the ionic strength from the conductivity within two of its standard deviations of ${phreeqc.source}`, () => {
    const measured = phreeqc.rows.flatMap((row) =>
      row.conductivity_uSPerCm === undefined
        ? []
        : [{ ...row, conductivity_uSPerCm: row.conductivity_uSPerCm }],
    );
    expect(measured.length).toBeGreaterThan(5);
    for (const row of measured) {
      const byConductivity_molPerL = ionicStrengthFromConductivity_molPerL(row.conductivity_uSPerCm);
      expect(Math.abs(Math.log(byConductivity_molPerL / row.ionicStrength_molPerL)), row.water).toBeLessThan(
        0.4,
      );
    }
  });

  const ponds = readReference<{
    readonly pH: number;
    readonly temperature_degC: number;
    readonly expected: number;
  }>("tank-carbonate-fish-ponds.json");

  it(`${ponds.table}: within ${ponds.tolerance} of ${ponds.source}`, () => {
    // 50 mg/L, the table's own example, in meq/L.
    const alkalinity_meqPerL = 50 / 50.043;
    for (const { pH, temperature_degC, expected } of ponds.rows) {
      const { co2_mgPerL } = carbonateSpeciation({
        pH,
        temperature_degC,
        alkalinity_meqPerL,
        ionicStrength_molPerL: 0,
      });
      const rounding = 0.0005 / expected;
      expect(missOf(ponds, co2_mgPerL / 50, expected), `pH ${pH}, ${temperature_degC} degC`).toBeLessThan(
        ponds.tolerance + rounding,
      );
    }
  });

  const formula = readReference<{
    readonly pH: number;
    readonly bicarbonate_mgPerL: number;
    readonly ionicStrength_molPerL: number;
    readonly expected_mgPerL: number;
  }>("tank-carbonate-usgs-formula.json");

  it(`${formula.table}: within ${formula.tolerance} of ${formula.source}`, () => {
    for (const row of formula.rows) {
      const { co2_mgPerL } = carbonateSpeciation({
        pH: row.pH,
        temperature_degC: 25,
        alkalinity_meqPerL: row.bicarbonate_mgPerL / 61.017,
        ionicStrength_molPerL: row.ionicStrength_molPerL,
      });
      expect(missOf(formula, co2_mgPerL, row.expected_mgPerL)).toBeLessThan(formula.tolerance);
    }
  });

  const bases = readReference<{
    readonly temperature_degC: number;
    readonly pH: number;
    readonly ionicStrength_molPerL: number;
    readonly phosphate_mgPerL: number;
    readonly boron_mgPerL: number;
    readonly expected_meqPerL: number;
  }>("tank-other-bases-phreeqc.json");

  it(`${bases.table}: within ${bases.tolerance} of ${bases.source}`, () => {
    for (const row of bases.rows) {
      expect(missOf(bases, otherBases_meqPerL(row, row), row.expected_meqPerL)).toBeLessThan(bases.tolerance);
    }
  });

  it("finds what humic acids take up within 30 % of a triprotic acid of 10.2 ueq per mg of carbon, as fitted to boreal waters (Hruska et al. 2003, Environ. Sci. Technol. 37, 1726; its pK 3.04, 4.51, 6.46 from memory)", () => {
    const charge = (pH: number): number => {
      const first = 10 ** (pH - 3.04);
      const second = first * 10 ** (pH - 4.51);
      const third = second * 10 ** (pH - 6.46);
      return (first + 2 * second + 3 * third) / (1 + first + second + third);
    };
    for (const pH of [6.2, 6.6, 7, 7.4]) {
      const triprotic_meqPerL = (20 * 0.0102 * (charge(pH) - charge(4.35))) / 3;
      const taken_meqPerL = otherBases_meqPerL(
        { pH, temperature_degC: 25, ionicStrength_molPerL: 0.003 },
        { dissolvedOrganicCarbon_mgPerL: 20 },
      );
      expect(Math.abs(taken_meqPerL / triprotic_meqPerL - 1)).toBeLessThan(0.3);
    }
  });

  const drops = readReference<{
    readonly water: string;
    readonly temperature_degC: number;
    readonly phosphate_mgPerL: number;
    readonly degassedPh: number;
    readonly degassedCo2_mgPerL: number;
    readonly pH: number;
    readonly ionicStrength_molPerL: number;
    readonly expected_mgPerL: number;
  }>("tank-ph-drop-phreeqc.json");

  it(`${drops.table}: within ${drops.tolerance} of ${drops.source}`, () => {
    for (const row of drops.rows) {
      const { pH, temperature_degC, phosphate_mgPerL } = row;
      const baseline = { pH: row.degassedPh, how: "aerated a day", roomCo2_ppm: 500 } as const;
      const conductivity_uSPerCm = row.ionicStrength_molPerL / 1.3e-5;
      const told = co2FromPhDrop({
        pH,
        temperature_degC,
        baseline,
        bases: { phosphate_mgPerL },
        conductivity_uSPerCm,
      });
      expect(missOf(drops, told.degassedCo2_mgPerL, row.degassedCo2_mgPerL)).toBeLessThan(0.005);
      expect(missOf(drops, told.co2_mgPerL, row.expected_mgPerL), row.water).toBeLessThan(drops.tolerance);
    }
  });

  it("reads low by more than half in a phosphate buffer that nobody told of, while the hardness reads high", () => {
    const { pH, degassedPh, temperature_degC, expected_mgPerL } = drops.rows.find(
      ({ water }) => water === "a phosphate buffer",
    )!;
    const baseline = { pH: degassedPh, how: "aerated a day", roomCo2_ppm: 500 } as const;
    expect(co2FromPhDrop({ pH, temperature_degC, baseline }).co2_mgPerL).toBeLessThan(expected_mgPerL / 2);
    // A kit titrates the 4 dKH of carbonate and the phosphate's share.
    const phosphate_dKH =
      otherBases_meqPerL({ pH, temperature_degC, ionicStrength_molPerL: 0.0027 }, { phosphate_mgPerL: 100 }) /
      alkalinityFromKh_meqPerL(1);
    const byKit = co2FromHardness({ pH, temperature_degC, kh_dKH: 4 + phosphate_dKH });
    expect(byKit.co2_mgPerL).toBeGreaterThan(1.1 * expected_mgPerL);
  });

  const air = readReference<{
    readonly temperature_degC: number;
    readonly roomCo2_ppm: number;
    readonly expected_mgPerL: number;
  }>("tank-air-equilibrium.json");

  it(`${air.table}: within ${air.tolerance} of ${air.source}`, () => {
    for (const row of air.rows) {
      expect(missOf(air, airEquilibriumCo2_mgPerL(row), row.expected_mgPerL)).toBeLessThan(air.tolerance);
    }
  });

  it("peaks of the colour matching functions within 2 % of the CIE 1931 table: x 1.0622 at 600 nm, y 1.0000 at 555 nm, z 1.7826 at 445 nm (CIE 015, from memory)", () => {
    expect(Math.abs(colourMatching(600)[0] / 1.0622 - 1)).toBeLessThan(0.02);
    expect(Math.abs(colourMatching(555)[1] / 1 - 1)).toBeLessThan(0.02);
    expect(Math.abs(colourMatching(445)[2] / 1.7826 - 1)).toBeLessThan(0.02);
  });
});
