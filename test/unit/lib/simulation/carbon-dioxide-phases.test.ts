import { describe, expect, it } from "vitest";
import {
  carbonDioxideGas,
  carbonDioxideSolubility_molPerKgBar,
} from "../../../../lib/simulation/carbon-dioxide-phases.js";

// Density and fugacity coefficient after Span & Wagner (1996), J. Phys. Chem. Ref. Data 25, 1509, computed with
// CoolProp 8.0.0.
const gas = [
  { temperature_degC: 0, pressure_bar: 1, density_molPerL: 0.044326, phi: 0.993387 },
  { temperature_degC: 0, pressure_bar: 20, density_molPerL: 1.036311, phi: 0.868986 },
  { temperature_degC: 5, pressure_bar: 10, density_molPerL: 0.462777, phi: 0.938065 },
  { temperature_degC: 10, pressure_bar: 24, density_molPerL: 1.214685, phi: 0.860729 },
  { temperature_degC: 15, pressure_bar: 5, density_molPerL: 0.214784, phi: 0.972341 },
  { temperature_degC: 15, pressure_bar: 16, density_molPerL: 0.73836, phi: 0.912107 },
];

describe("CO2 gas", () => {
  it.each(gas)("has the pressure and fugacity of the reference equation: %o", (row) => {
    const result = carbonDioxideGas(row);
    expect(Math.abs(result.pressureAbsolute_bar / row.pressure_bar - 1)).toBeLessThan(0.012);
    expect(Math.abs(result.fugacity_bar / (row.phi * row.pressure_bar) - 1)).toBeLessThan(0.022);
  });

  it("is an ideal gas when thin", () => {
    const thin = carbonDioxideGas({ density_molPerL: 1e-6, temperature_degC: 25 });
    expect(thin.compressibility_ratio).toBeCloseTo(1, 6);
    expect(thin.fugacity_bar / thin.pressureAbsolute_bar).toBeCloseTo(1, 6);
  });

  it("presses on nothing when there is none", () => {
    expect(carbonDioxideGas({ density_molPerL: 0, temperature_degC: 25 }).pressureAbsolute_bar).toBe(0);
  });
});

describe("solubility of CO2", () => {
  // Weiss (1974) Mar. Chem. 2, 203, table I in mol/(kg atm) for fresh water: another fit to other measurements.
  it.each([
    { temperature_degC: 0, weiss_molPerKgAtm: 0.07758 },
    { temperature_degC: 10, weiss_molPerKgAtm: 0.05367 },
    { temperature_degC: 20, weiss_molPerKgAtm: 0.03916 },
    { temperature_degC: 25, weiss_molPerKgAtm: 0.03406 },
    { temperature_degC: 30, weiss_molPerKgAtm: 0.02995 },
  ])("agrees with an independent fit to half a percent: %o", ({ temperature_degC, weiss_molPerKgAtm }) => {
    const ours = carbonDioxideSolubility_molPerKgBar(temperature_degC) * 1.01325;
    expect(Math.abs(ours / weiss_molPerKgAtm - 1)).toBeLessThan(0.005);
  });
});
