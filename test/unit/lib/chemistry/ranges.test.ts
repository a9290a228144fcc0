import { describe, expect, it } from "vitest";
import {
  carbonDioxideDensity_molPerL,
  carbonDioxideIsotherm,
} from "../../../../lib/chemistry/carbon-dioxide-gas.js";
import {
  saturatedLiquidDensity_molPerL,
  saturatedVapourDensity_molPerL,
  saturationPressure_bar,
} from "../../../../lib/chemistry/carbon-dioxide-saturation.js";
import { citricAcidPk, citricAcidPkByBatesPinching } from "../../../../lib/chemistry/citric-acid.js";
import {
  bicarbonateLogK2,
  bicarbonateLogK2ByHarnedScholes,
  carbonDioxideLogKH,
  carbonicAcidLogK1,
  carbonicAcidLogK1ByHarnedDavis,
  nahcoliteLogK,
  sodiumBicarbonatePairLogK,
  sodiumCarbonatePairLogK,
  waterLogKw,
} from "../../../../lib/chemistry/equilibrium-constants.js";
import { crossVirialCo2Air_LPerMol } from "../../../../lib/chemistry/gas-mixture.js";
import {
  airSolubility_molPerKgAtm,
  dissolvedCarbonDioxide_molPerKg,
  henryConstant_molPerKgBar,
  henryConstantByCarroll_MPa,
} from "../../../../lib/chemistry/henry-solubility.js";
import { debyeHuckelTerm, specificIonLogGamma } from "../../../../lib/chemistry/specific-ion.js";
import {
  debyeHuckelA,
  waterDensity_kgPerL,
  waterPermittivity,
  waterVapourPressure_bar,
} from "../../../../lib/chemistry/water-properties.js";
import { OutOfValidRangeError } from "../../../../lib/errors.js";

describe("formulae of temperature", () => {
  it.each<readonly [string, (temperature_degC: number) => unknown, number, number]>([
    ["log K1", carbonicAcidLogK1, 0, 90],
    ["log K2", bicarbonateLogK2, 0, 90],
    ["log KH", carbonDioxideLogKH, 0, 90],
    ["log Kw", waterLogKw, 0, 90],
    ["log K of the pair with bicarbonate", sodiumBicarbonatePairLogK, 0, 90],
    ["log K of the pair with carbonate", sodiumCarbonatePairLogK, 0, 90],
    ["log K of nahcolite", nahcoliteLogK, 0, 60],
    ["log K1 (Harned and Davis)", carbonicAcidLogK1ByHarnedDavis, 0, 50],
    ["log K2 (Harned and Scholes)", bicarbonateLogK2ByHarnedScholes, 0, 50],
    ["citric pK", citricAcidPk, 0, 50],
    ["citric pK (Bates and Pinching)", citricAcidPkByBatesPinching, 0, 50],
    ["Henry constant", henryConstant_molPerKgBar, 0, 90],
    ["Henry constant (Carroll)", henryConstantByCarroll_MPa, 0, 160],
    ["air solubility", airSolubility_molPerKgAtm, 0, 40],
    ["water density", waterDensity_kgPerL, 0, 100],
    ["water vapour pressure", waterVapourPressure_bar, 0, 100],
    ["permittivity", waterPermittivity, 0, 100],
    ["Debye-Hueckel A", debyeHuckelA, 0, 100],
    ["isotherm", carbonDioxideIsotherm, -50, 100],
    ["cross virial", crossVirialCo2Air_LPerMol, -50, 100],
    ["saturation pressure", saturationPressure_bar, -56.558, 30.978],
    ["saturated liquid", saturatedLiquidDensity_molPerL, -56.558, 30.978],
    ["saturated vapour", saturatedVapourDensity_molPerL, -56.558, 30.978],
  ])("%s answers at its ends and refuses beyond them", (_name, formula, minimum_degC, maximum_degC) => {
    for (const at_degC of [minimum_degC, maximum_degC]) expect(() => formula(at_degC)).not.toThrow();
    for (const at_degC of [minimum_degC - 0.1, maximum_degC + 0.1, Number.NaN]) {
      expect(() => formula(at_degC)).toThrow(OutOfValidRangeError);
    }
  });

  it("gives water its ion product of 10^-13.995 at 25 degC (Harned and Owen 1958)", () => {
    expect(Math.abs(waterLogKw(25) + 13.995)).toBeLessThan(0.005);
  });

  it("gives the pair its log K of 10.08 - 10.33 at 25 degC", () => {
    expect(sodiumBicarbonatePairLogK(25)).toBeCloseTo(10.08 - 10.329, 2);
    expect(sodiumCarbonatePairLogK(25)).toBeCloseTo(1.27, 2);
  });
});

describe("CO2 gas", () => {
  it.each([
    [20, 58, "above the boiling pressure of 57.3 bar"],
    [35, 91, "above 90 bar"],
    [20, -1, "below nothing"],
  ])("has no gas density at %d degC and %d bar: %s", (temperature_degC, pressureAbsolute_bar) => {
    expect(() => carbonDioxideDensity_molPerL({ temperature_degC, pressureAbsolute_bar })).toThrow(
      OutOfValidRangeError,
    );
  });

  it("is ideal when thin", () => {
    const state = carbonDioxideIsotherm(25).stateAt(1e-4);
    expect(state.compressibility).toBeCloseTo(1, 4);
    expect(state.fugacity_bar / state.pressureAbsolute_bar).toBeCloseTo(1, 4);
  });

  it("obeys d ln f = dp / (density R T) along an isotherm", () => {
    const isotherm = carbonDioxideIsotherm(15);
    const RT_LBarPerMol = (8.31451 * 288.15) / 100;
    for (const density_molPerL of [0.2, 0.9, 2, 3.4]) {
      const step = 1e-4;
      const below = isotherm.stateAt(density_molPerL - step);
      const above = isotherm.stateAt(density_molPerL + step);
      const byFugacity = Math.log(above.fugacity_bar / below.fugacity_bar);
      const byPressure =
        (above.pressureAbsolute_bar - below.pressureAbsolute_bar) / (density_molPerL * RT_LBarPerMol);
      expect(byFugacity / byPressure).toBeCloseTo(1, 6);
    }
  });

  it("draws air a little: cross virial near -0.043 L/mol at 25 degC", () => {
    expect(crossVirialCo2Air_LPerMol(25)).toBeGreaterThan(-0.047);
    expect(crossVirialCo2Air_LPerMol(25)).toBeLessThan(-0.039);
  });
});

describe("specific-ion activity", () => {
  it.each([
    [{ ionicStrength_molPerKg: 7.1, temperature_degC: 25 }, "ionic strength"],
    [{ ionicStrength_molPerKg: -0.1, temperature_degC: 25 }, "ionic strength"],
    [{ ionicStrength_molPerKg: 1, temperature_degC: 101 }, "temperature"],
  ])("refuses %j and names the %s", (liquor, quantity) => {
    expect(() => debyeHuckelTerm(liquor)).toThrow(expect.objectContaining({ quantity }) as Error);
  });

  it("salts CO2 out by 0.074 a mole of sodium, whatever the ionic strength", () => {
    const pure = dissolvedCarbonDioxide_molPerKg({
      fugacity_bar: 10,
      temperature_degC: 20,
      sodium_molPerKg: 0,
    });
    const salty = dissolvedCarbonDioxide_molPerKg({
      fugacity_bar: 10,
      temperature_degC: 20,
      sodium_molPerKg: 2,
    });
    expect(Math.log10(pure / salty)).toBeCloseTo(0.148, 12);
  });

  it("lowers an ion's activity with the square of its charge", () => {
    const liquor = { ionicStrength_molPerKg: 1, sodium_molPerKg: 1, temperature_degC: 25 };
    const single = specificIonLogGamma({ charge: -1, epsilon_kgPerMol: 0 }, liquor);
    const triple = specificIonLogGamma({ charge: -3, epsilon_kgPerMol: -0.076 }, liquor);
    // D at 1 mol/kg and 25 degC is 0.5108 / 2.5.
    expect(single).toBeCloseTo(-0.2043, 4);
    expect(triple).toBeCloseTo(9 * single - 0.076, 12);
  });
});
