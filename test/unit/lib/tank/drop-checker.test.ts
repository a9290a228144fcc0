import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import {
  advanceDropChecker,
  dropCheckerPh,
  dropCheckerView,
  timeConstantFromDepth_h,
} from "../../../../lib/tank/drop-checker.js";

describe("a virtual drop checker", () => {
  /** 4 d^2 / (pi^2 D), D = 1.92e-5 cm2/s (from memory), by hand. */
  it.each([
    { depth_cm: 0.3, expected_h: 0.53 },
    { depth_cm: 0.5, expected_h: 1.47 },
    { depth_cm: 1, expected_h: 5.86 },
  ])("lags $expected_h h where it is filled $depth_cm cm deep", ({ depth_cm, expected_h }) => {
    expect(timeConstantFromDepth_h(depth_cm)).toBeCloseTo(expected_h, 2);
  });

  it("has gone 63 % of the way after one time constant and 90 % after 2.3", () => {
    const after = (duration_h: number): number =>
      advanceDropChecker({ timeConstant_h: 2 }, { liquidCo2_mgPerL: 0 }, { tankCo2_mgPerL: 30, duration_h })
        .liquidCo2_mgPerL;
    expect(after(2) / 30).toBeCloseTo(1 - Math.exp(-1), 9);
    expect(after(2 * Math.LN10) / 30).toBeCloseTo(0.9, 9);
    expect(after(0)).toBe(0);
  });

  it("comes to the same whether it is stepped once or a thousand times", () => {
    const step = (state: { readonly liquidCo2_mgPerL: number }, duration_h: number) =>
      advanceDropChecker({ timeConstant_h: 0.7 }, state, { tankCo2_mgPerL: 25, duration_h });
    let state = { liquidCo2_mgPerL: 2 };
    for (let count = 0; count < 1000; count += 1) state = step(state, 0.003);
    expect(state.liquidCo2_mgPerL).toBeCloseTo(step({ liquidCo2_mgPerL: 2 }, 3).liquidCo2_mgPerL, 9);
  });

  /** pH = pK1' + log10(HCO3 / CO2) by hand: pK1 6.3519 (Plummer & Busenberg 1982), gamma 0.959 (Davies 1962), 1.4266 mmol/L. */
  it.each([
    { co2_mgPerL: 10, pH: 7.13, colour: "blue-green" },
    { co2_mgPerL: 20, pH: 6.83, colour: "green" },
    { co2_mgPerL: 30, pH: 6.65, colour: "green" },
    { co2_mgPerL: 60, pH: 6.35, colour: "yellow" },
  ])("stands at pH $pH and $colour under $co2_mgPerL mg/L, with 4 dKH at 25 degC", (row) => {
    const view = dropCheckerView({}, { liquidCo2_mgPerL: row.co2_mgPerL, temperature_degC: 25 });
    expect(view.pH).toBeCloseTo(row.pH, 1);
    expect(view.colour).toBe(row.colour);
    expect(view.swatchCaution).toContain("Screens");
  });

  it("is blue in water without CO2 and does not fail there", () => {
    expect(dropCheckerView({}, { liquidCo2_mgPerL: 0, temperature_degC: 25 }).colour).toBe("blue");
  });

  it("shows a harder liquid bluer under the same CO2", () => {
    const liquid = { liquidCo2_mgPerL: 20, temperature_degC: 25 };
    expect(dropCheckerPh({ referenceKh_dKH: 8 }, liquid) - dropCheckerPh({}, liquid)).toBeCloseTo(
      Math.log10(2),
      1,
    );
  });

  it.each([
    () => timeConstantFromDepth_h(0.2),
    () => timeConstantFromDepth_h(1.5),
    () =>
      advanceDropChecker(
        { timeConstant_h: 0.4 },
        { liquidCo2_mgPerL: 1 },
        { tankCo2_mgPerL: 1, duration_h: 1 },
      ),
    () => advanceDropChecker({}, { liquidCo2_mgPerL: 1 }, { tankCo2_mgPerL: Number.NaN, duration_h: 1 }),
    () => advanceDropChecker({}, { liquidCo2_mgPerL: 1 }, { tankCo2_mgPerL: 1, duration_h: -1 }),
    () => dropCheckerPh({ referenceKh_dKH: 0 }, { liquidCo2_mgPerL: 1, temperature_degC: 25 }),
  ])("refuses what lies outside its ranges (%#)", (attempt) => {
    expect(attempt).toThrow(OutOfValidRangeError);
  });
});
