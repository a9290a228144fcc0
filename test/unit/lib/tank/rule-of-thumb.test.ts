import { describe, expect, it } from "vitest";
import { co2FromHardness } from "../../../../lib/tank/co2-from-hardness.js";
import { ruleOfThumbCo2_mgPerL, ruleOfThumbError_ratio } from "../../../../lib/tank/rule-of-thumb.js";

describe("the rule of thumb", () => {
  it("is three times the hardness at pH 7 and ten times that at pH 6 (common practice, no source)", () => {
    expect(ruleOfThumbCo2_mgPerL({ pH: 7, kh_dKH: 4 })).toBeCloseTo(12, 9);
    expect(ruleOfThumbCo2_mgPerL({ pH: 6, kh_dKH: 4 })).toBeCloseTo(120, 9);
  });

  /**
   * By hand from pK1 6.3819 (20 degC), 6.3519 (25 degC), 6.3281 (30 degC) of Plummer & Busenberg (1982) and the activity
   * of bicarbonate after Davies (1962) at 5 mmol/L (0.928): the true factor is 3.51, 3.27 and 3.10 in place of 3.
   */
  it.each([
    { temperature_degC: 20, error_ratio: -0.15 },
    { temperature_degC: 25, error_ratio: -0.084 },
    { temperature_degC: 30, error_ratio: -0.032 },
  ])(
    "reads $error_ratio off at $temperature_degC degC in ordinary tap water",
    ({ temperature_degC, error_ratio }) => {
      const reading = { pH: 6.8, kh_dKH: 4, temperature_degC, conductivity_uSPerCm: 385 };
      const estimate = co2FromHardness(reading);
      expect(Math.abs(estimate.ruleOfThumbError_ratio - error_ratio)).toBeLessThan(0.01);
      expect(ruleOfThumbError_ratio(reading, estimate.co2_mgPerL)).toBe(estimate.ruleOfThumbError_ratio);
      expect(estimate.ruleOfThumb_mgPerL).toBe(ruleOfThumbCo2_mgPerL(reading));
    },
  );
});
