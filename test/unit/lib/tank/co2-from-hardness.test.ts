import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { co2FromHardness } from "../../../../lib/tank/co2-from-hardness.js";

/**
 * Plummer & Busenberg (1982), Geochim. Cosmochim. Acta 46, 1011: log K1 at 25 degC is -6.352. With one degree of hardness
 * 0.3566 mmol/L (10 mg/L CaO, DIN 38409-7 after its definition) and an activity coefficient of HCO3- of 0.927 (Davies 1962 at
 * 5 mmol/L), CO2 = 44.009 x 0.3566 x dKH x 0.927 x 10^(6.352 - pH) below pH 8, where carbonate and hydroxide are under 1 %.
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
    const { co2_mgPerL } = co2FromHardness({ kh_dKH, pH, temperature_degC: 25 });
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
    { quantity: "kh_dKH", reading: { pH: 7, kh_dKH: 0, temperature_degC: 25 } },
    { quantity: "temperature_degC", reading: { pH: 7, kh_dKH: 4, temperature_degC: 46 } },
    { quantity: "pH", reading: { pH: Number.NaN, kh_dKH: 4, temperature_degC: 25 } },
  ])("refuses a $quantity outside its range and names it", ({ quantity, reading }) => {
    expect(() => co2FromHardness(reading)).toThrow(OutOfValidRangeError);
    expect(() => co2FromHardness(reading)).toThrow(quantity);
  });
});
