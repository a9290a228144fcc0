import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import {
  ionicStrengthFromConductivity_molPerL,
  ionicStrengthFromSalinity_molPerL,
  tankIonicStrength,
} from "../../../../lib/tank/ionic-strength.js";

describe("ionic strength of a tank's water", () => {
  it("is 13 mmol/L for each mS/cm (Griffin & Jurinak 1973, Soil Sci. 116, 26)", () => {
    expect(ionicStrengthFromConductivity_molPerL(1000)).toBeCloseTo(0.013, 9);
  });

  it("comes to 0.7 mol/L of sea water at 35 g/kg when drawn out in proportion (Dickson et al. 2007: 0.723)", () => {
    // 20 g/kg is as far as it goes here; the relation is all but proportional.
    expect((ionicStrengthFromSalinity_molPerL(20) * 35) / 20).toBeCloseTo(0.711, 2);
  });

  it("takes conductivity before salinity before an assumption", () => {
    const by = (salts: Parameters<typeof tankIonicStrength>[1]) => tankIonicStrength(1.4, salts);
    expect(by({ conductivity_uSPerCm: 500, salinity_gPerKg: 5 }).ionicStrength_molPerL).toBeCloseTo(
      0.0065,
      9,
    );
    expect(by({ salinity_gPerKg: 5 }).ionicStrength_molPerL).toBeGreaterThan(0.1);
    expect(by({}).ionicStrength_molPerL).toBeCloseTo(0.00475, 9);
    expect(by({}).sigma_ln).toBeGreaterThan(by({ conductivity_uSPerCm: 500 }).sigma_ln);
  });

  it("stays within the range of the Davies equation at the ends of what is taken", () => {
    for (const salts of [{ conductivity_uSPerCm: 35_000 }, { salinity_gPerKg: 20 }]) {
      expect(tankIonicStrength(14, salts).ionicStrength_molPerL).toBeLessThanOrEqual(0.5);
    }
  });

  it.each([
    { salts: { conductivity_uSPerCm: 35_001 }, because: "sea water is near" },
    { salts: { conductivity_uSPerCm: -1 }, because: "no water conducts less than nothing" },
    { salts: { salinity_gPerKg: 21 }, because: "Davies fails" },
    { salts: { conductivity_uSPerCm: Number.NaN }, because: "no number" },
  ])("refuses $salts: $because", ({ salts }) => {
    expect(() => tankIonicStrength(1.4, salts)).toThrow(OutOfValidRangeError);
  });
});
