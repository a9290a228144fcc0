import { describe, expect, it } from "vitest";
import { carbonateSpeciation, pHFromCarbonDioxide } from "../../../../lib/chemistry/carbonate-speciation.js";
import { daviesLogGamma } from "../../../../lib/chemistry/davies.js";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { alkalinityFromKh_meqPerL } from "../../../../lib/quantities/units.js";

describe("carbonate speciation of tank water", () => {
  // Factor f of CO2 (mg/L) = f dKH 10^(7 - pH), from Plummer & Busenberg (1982) with Davies (1962) activity.
  it.each([
    [18, 0.00143, 3.748, "drop-checker water, cool"],
    [25, 0.00143, 3.386, "drop-checker water at 25 degC"],
    [25, 0.005, 3.274, "a usual tank"],
    [25, 0.01, 3.185, "hard tap water"],
    [30, 0.005, 3.098, "a warm tank: the rule of three is nearly right"],
  ])(
    "at %d degC and I = %d mol/L the factor is %d (%s)",
    (temperature_degC, ionicStrength_molPerL, factor) => {
      const { co2_mgPerL } = carbonateSpeciation({
        pH: 6.6,
        alkalinity_meqPerL: alkalinityFromKh_meqPerL(4),
        temperature_degC,
        ionicStrength_molPerL,
      });
      expect(co2_mgPerL / (4 * 10 ** 0.4) / factor).toBeCloseTo(1, 2);
    },
  );

  it.each([
    [4, 0.6, 8.35],
    [4, 15, 6.96],
    [4, 30, 6.65],
    [4, 60, 6.35],
  ])("%d dKH at 25 degC with %d mg/L of CO2 has pH %d", (kh_dKH, co2_mgPerL, pH) => {
    const actual = pHFromCarbonDioxide({
      co2_mgPerL,
      alkalinity_meqPerL: alkalinityFromKh_meqPerL(kh_dKH),
      temperature_degC: 25,
      ionicStrength_molPerL: 0.00143,
    });
    expect(Math.abs(actual - pH)).toBeLessThan(0.012);
  });

  it("comes back to the pH it started from", () => {
    for (const pH of [5.2, 6.1, 6.8, 7.6, 8.4, 9.3]) {
      const water = { alkalinity_meqPerL: 1.5, temperature_degC: 24, ionicStrength_molPerL: 0.004 };
      const { co2_mgPerL } = carbonateSpeciation({ ...water, pH });
      expect(pHFromCarbonDioxide({ ...water, co2_mgPerL })).toBeCloseTo(pH, 9);
    }
  });

  it("counts every equivalent of the alkalinity once", () => {
    const water = { pH: 9.5, alkalinity_meqPerL: 2, temperature_degC: 25, ionicStrength_molPerL: 0.002 };
    const { bicarbonate_mmolPerL, carbonate_mmolPerL } = carbonateSpeciation(water);
    const gamma = 10 ** daviesLogGamma({ charge: 1, ionicStrength_molPerL: 0.002, temperature_degC: 25 });
    const hydroxide_mmolPerL = 1000 * (10 ** (9.5 - 13.995) / gamma);
    expect(bicarbonate_mmolPerL + 2 * carbonate_mmolPerL + hydroxide_mmolPerL).toBeCloseTo(2, 3);
  });

  it.each([
    [{ pH: 3.9 }, "pH"],
    [{ pH: 10.1 }, "pH"],
    [{ alkalinity_meqPerL: -0.1 }, "alkalinity"],
    [{ alkalinity_meqPerL: 21 }, "alkalinity"],
    [{ temperature_degC: 51 }, "temperature"],
    [{ ionicStrength_molPerL: 0.6 }, "ionic strength"],
    [{ pH: 9.9, alkalinity_meqPerL: 0.01 }, "alkalinity"],
    [{ pH: Number.NaN }, "pH"],
  ])("refuses %j and names %s", (change, quantity) => {
    const water = { pH: 6.8, alkalinity_meqPerL: 1.4, temperature_degC: 25, ionicStrength_molPerL: 0.003 };
    const act = (): unknown => carbonateSpeciation({ ...water, ...change });
    expect(act).toThrow(OutOfValidRangeError);
    expect(act).toThrow(expect.objectContaining({ quantity }) as Error);
  });
});
