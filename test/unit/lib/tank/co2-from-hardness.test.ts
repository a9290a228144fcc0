import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { co2FromHardness, hardnessEvidence } from "../../../../lib/tank/co2-from-hardness.js";

/**
 * Plummer & Busenberg (1982), Geochim. Cosmochim. Acta 46, 1011: log K1 at 25 degC is -6.352. With one degree of hardness
 * 0.3566 mmol/L (10 mg/L CaO, DIN 38409-7 after its definition) and an activity coefficient of HCO3- of 0.927 (Davies 1962 at
 * 5 mmol/L, 385 uS/cm), CO2 = 44.009 x 0.3566 x dKH x 0.927 x 10^(6.352 - pH) below pH 8, where carbonate and hydroxide are under 1 %.
 */
function byHand_mgPerL(kh_dKH: number, pH: number): number {
  return 44.009 * 0.3566 * kh_dKH * 0.927 * 10 ** (6.352 - pH);
}

describe("CO2 from pH and hardness", () => {
  it.each([
    { kh_dKH: 4, pH: 6.6 },
    { kh_dKH: 4, pH: 7.4 },
    { kh_dKH: 10, pH: 7.0 },
    { kh_dKH: 2, pH: 6.4 },
  ])("agrees with the published constants at $kh_dKH dKH and pH $pH", ({ kh_dKH, pH }) => {
    const reading = { kh_dKH, pH, temperature_degC: 25, conductivity_uSPerCm: 385 };
    const { co2_mgPerL } = co2FromHardness(reading);
    expect(Math.abs(co2_mgPerL / byHand_mgPerL(kh_dKH, pH) - 1)).toBeLessThan(0.01);
  });

  it("reads above three times dKH times ten to the power of 7 less pH at every tank temperature", () => {
    for (const temperature_degC of [18, 22, 25, 28]) {
      const { co2_mgPerL } = co2FromHardness({ kh_dKH: 4, pH: 6.8, temperature_degC });
      expect(co2_mgPerL).toBeGreaterThan(3 * 4 * 10 ** 0.2);
    }
  });

  it("has an upper 80 % end of 43 mg/L where it reads 30 mg/L at 2 dKH, for the stated uncertainties", () => {
    const pH = 6.34;
    const { co2_mgPerL, co2High80_mgPerL, co2Low80_mgPerL } = co2FromHardness({
      kh_dKH: 2,
      pH,
      temperature_degC: 25,
    });
    expect(co2_mgPerL).toBeCloseTo(30, 0);
    expect(co2High80_mgPerL).toBeCloseTo(43, 0);
    expect(co2Low80_mgPerL * co2High80_mgPerL).toBeCloseTo(co2_mgPerL ** 2, 6);
  });

  it.each([
    { quantity: "pH", reading: { pH: 3.9, kh_dKH: 4, temperature_degC: 25 } },
    { quantity: "carbonate hardness", reading: { pH: 7, kh_dKH: 0, temperature_degC: 25 } },
    { quantity: "temperature", reading: { pH: 7, kh_dKH: 4, temperature_degC: 46 } },
    { quantity: "pH", reading: { pH: Number.NaN, kh_dKH: 4, temperature_degC: 25 } },
    {
      quantity: "conductivity",
      reading: { pH: 7, kh_dKH: 4, temperature_degC: 25, conductivity_uSPerCm: 50_000 },
    },
    { quantity: "salinity", reading: { pH: 7, kh_dKH: 4, temperature_degC: 25, salinity_gPerKg: 35 } },
    { quantity: "carbonate hardness is 0.1 dKH", reading: { pH: 9.9, kh_dKH: 0.1, temperature_degC: 25 } },
  ])("refuses a $quantity outside its range and names it", ({ quantity, reading }) => {
    expect(() => co2FromHardness(reading)).toThrow(OutOfValidRangeError);
    expect(() => co2FromHardness(reading)).toThrow(quantity);
  });

  it("reads lower in saltier water, by the activity of bicarbonate alone", () => {
    const at = (conductivity_uSPerCm: number): number =>
      co2FromHardness({ pH: 6.8, kh_dKH: 4, temperature_degC: 25, conductivity_uSPerCm }).co2_mgPerL;
    // Davies (1962) at 25 degC: gamma 0.951 at 0.0020 mol/L, 0.822 at 0.050 mol/L.
    expect(at(3846) / at(154)).toBeCloseTo(0.822 / 0.951, 2);
    const brackish = co2FromHardness({ pH: 7.5, kh_dKH: 8, temperature_degC: 25, salinity_gPerKg: 8 });
    expect(brackish.cautions).toContain("brackish");
  });

  it("never takes less salt than the bicarbonate itself, whatever the conductivity says", () => {
    const reading = { pH: 7, kh_dKH: 10, temperature_degC: 25, conductivity_uSPerCm: 10 };
    expect(co2FromHardness(reading).ionicStrength_molPerL).toBeCloseTo(0.003566, 5);
  });

  it("widens for a conductivity that is not known and for a temperature that is assumed", () => {
    const reading = { pH: 6.8, kh_dKH: 8, temperature_degC: 25, khUncertainty_dKH: 0.1 };
    const assumed = co2FromHardness(reading);
    const measured = co2FromHardness({ ...reading, conductivity_uSPerCm: 400 });
    const guessed = co2FromHardness({ ...reading, temperatureUncertainty_K: 5 });
    expect(assumed.ownSigma_ln).toBeGreaterThan(measured.ownSigma_ln);
    // Plummer & Busenberg (1982): pK1 falls by 0.030 from 25 to 20 degC, 7 %.
    expect(guessed.ownSigma_ln).toBeGreaterThan(0.05);
  });

  it.each([
    { kh_dKH: 0.5, because: "half a degree, and the kit tells half degrees" },
    { kh_dKH: 0.3, because: "less than the kit tells" },
    { kh_dKH: 0.1, because: "the least that is taken" },
  ])("says so where the kit's error is as large as its reading: $because", ({ kh_dKH }) => {
    const estimate = co2FromHardness({ kh_dKH, pH: 6, temperature_degC: 25 });
    expect(estimate.cautions).toContain("kh within its uncertainty");
    expect(estimate.co2Low80_mgPerL).toBeGreaterThan(0);
    // A true hardness of reading plus 1.3 uncertainties must not lie above the upper end.
    const upper = co2FromHardness({ kh_dKH: kh_dKH + 0.64, pH: 6, temperature_degC: 25 }).co2_mgPerL;
    expect(estimate.co2High80_mgPerL).toBeGreaterThan(upper);
    // Nor may the interval run off to where no water of such a hardness could be: 4 uncertainties above it.
    const absurd = co2FromHardness({ kh_dKH: kh_dKH + 2, pH: 6, temperature_degC: 25 }).co2_mgPerL;
    expect(estimate.co2High80_mgPerL).toBeLessThan(absurd);
  });

  it("warns that hardly any CO2 is left above pH 8.3", () => {
    expect(co2FromHardness({ kh_dKH: 4, pH: 8.4, temperature_degC: 25 }).cautions).toEqual([
      "hardly any co2",
    ]);
    expect(co2FromHardness({ kh_dKH: 4, pH: 7, temperature_degC: 25 }).cautions).toEqual([]);
  });

  it("gives evidence whose own part leaves the probe out and whose pH slope is a tenfold a unit", () => {
    const evidence = hardnessEvidence({ pH: 6.6, kh_dKH: 4, temperature_degC: 25 });
    expect(evidence).toMatchObject({ method: "carbonate hardness", reach: "about" });
    expect(evidence.probeOffset_lnPerPh).toBeCloseTo(-2.302585, 6);
    expect(evidence.probeReading_lnPerPh).toBeCloseTo(-2.302585, 6);
    // Half a degree of four, with some for temperature and salts.
    expect(evidence.ownSigma_ln).toBeGreaterThan(0.124);
    expect(evidence.ownSigma_ln).toBeLessThan(0.135);
  });
});
