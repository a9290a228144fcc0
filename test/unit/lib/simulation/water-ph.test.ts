import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { airEquilibriumCo2_mgPerL } from "../../../../lib/simulation/simulated-tank.js";
import { waterPh } from "../../../../lib/simulation/water-ph.js";

describe("pH of tank water", () => {
  // Stumm & Morgan (1996) Aquatic Chemistry, 3rd ed., pure water under 10^-3.5 atm of CO2 at 25 degC: pH 5.65.
  // CO2(aq) 1.07e-5 mol/L is 10^-3.5 atm times Henry's constant 10^-1.47.
  it("is that of the textbook for rain", () => {
    const pH = waterPh({
      co2_mgPerL: 1.0715e-5 * 44009,
      kh_dKH: 0,
      temperature_degC: 25,
      ionicStrength_molPerL: 0,
    });
    expect(Math.abs(pH - 5.65)).toBeLessThan(0.02);
  });

  // Dissociation constants of Plummer & Busenberg (1982) Geochim. Cosmochim. Acta 46, 1011, which the solver does
  // not use: pK1 6.4634 at 10, 6.3819 at 20, 6.3519 at 25, 6.3281 at 30 degC. Below pH 7.5 the alkalinity is
  // bicarbonate, so that pH = pK1 + log10(HCO3 gamma / CO2); 1 dKH is 0.3566 meq/L by its definition (10 mg CaO/L).
  it.each([
    { temperature_degC: 10, pK1: 6.4633, co2_mgPerL: 25, kh_dKH: 4 },
    { temperature_degC: 20, pK1: 6.3819, co2_mgPerL: 30, kh_dKH: 4 },
    { temperature_degC: 25, pK1: 6.3519, co2_mgPerL: 20, kh_dKH: 2 },
    { temperature_degC: 30, pK1: 6.3281, co2_mgPerL: 60, kh_dKH: 8 },
  ])("agrees with other constants within 0.005: %o", ({ temperature_degC, pK1, co2_mgPerL, kh_dKH }) => {
    const expected = pK1 + Math.log10((kh_dKH * 0.3566) / (co2_mgPerL / 44.0095));
    const pH = waterPh({ co2_mgPerL, kh_dKH, temperature_degC, ionicStrength_molPerL: 0 });
    expect(Math.abs(pH - expected)).toBeLessThan(0.005);
  });

  // log10 of the activity coefficient of a single charge at 0.005 mol/L, 25 degC: -0.0321 by the table of
  // individual activity coefficients of Kielland (1937) J. Am. Chem. Soc. 59, 1675: 0.928 for HCO3-. From memory.
  it("is lowered by salt as the activity of bicarbonate is", () => {
    const pHAt = (ionicStrength_molPerL: number) =>
      waterPh({ co2_mgPerL: 25, kh_dKH: 4, temperature_degC: 25, ionicStrength_molPerL });
    expect(Math.abs(pHAt(0.005) - pHAt(0) - Math.log10(0.928))).toBeLessThan(0.004);
  });

  it("counts carbonate and hydroxide in well-aired hard water", () => {
    const water = { co2_mgPerL: 0.05, kh_dKH: 10, temperature_degC: 25, ionicStrength_molPerL: 0 };
    const bicarbonateAlone = 6.3519 + Math.log10((10 * 0.3566) / (0.05 / 44.0095));
    expect(waterPh(water)).toBeLessThan(bicarbonateAlone - 0.08);
  });

  it.each([
    { co2_mgPerL: 0, kh_dKH: 4, temperature_degC: 25, ionicStrength_molPerL: 0.003 },
    { co2_mgPerL: 20, kh_dKH: 31, temperature_degC: 25, ionicStrength_molPerL: 0.003 },
    { co2_mgPerL: 20, kh_dKH: 4, temperature_degC: 41, ionicStrength_molPerL: 0.003 },
    { co2_mgPerL: 20, kh_dKH: 4, temperature_degC: 25, ionicStrength_molPerL: 0.5 },
    { co2_mgPerL: NaN, kh_dKH: 4, temperature_degC: 25, ionicStrength_molPerL: 0.003 },
  ])("refuses water outside its range: %o", (water) => {
    expect(() => waterPh(water)).toThrow(OutOfValidRangeError);
  });
});

describe("CO2 of water at rest with the air", () => {
  // Weiss & Price (1980) Mar. Chem. 8, 347, fresh water, 420 ppm, 101.325 kPa, as printed in a documentation table.
  it.each([
    { temperature_degC: 5, expected_mgPerL: 1.169 },
    { temperature_degC: 15, expected_mgPerL: 0.824 },
    { temperature_degC: 25, expected_mgPerL: 0.606 },
  ])("is the table's value at $temperature_degC degC", ({ temperature_degC, expected_mgPerL }) => {
    const ours = airEquilibriumCo2_mgPerL({ temperature_degC, co2_ppm: 420 });
    expect(Math.abs(ours / expected_mgPerL - 1)).toBeLessThan(0.01);
  });
});
