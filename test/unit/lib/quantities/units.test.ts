import { describe, expect, it } from "vitest";
import {
  alkalinityFromKh_meqPerL,
  pressureFromBar,
  pressureToBar,
  temperatureFromCelsius,
  temperatureToCelsius,
  type PressureUnit,
} from "../../../../lib/quantities/units.js";

/** NIST Special Publication 811 (2008), appendix B.8; all of these are exact or rounded from exact definitions. */
const pressures: readonly { unit: PressureUnit; value: number; pascals: number }[] = [
  { unit: "psi", value: 1, pascals: 6894.757 },
  { unit: "kgf/cm2", value: 1, pascals: 98066.5 },
  { unit: "atm", value: 1, pascals: 101325 },
  { unit: "kPa", value: 1, pascals: 1000 },
  { unit: "mbar", value: 1, pascals: 100 },
  { unit: "MPa", value: 1, pascals: 1e6 },
];

describe("units", () => {
  it.each(pressures)("takes 1 $unit as $pascals Pa", ({ unit, value, pascals }) => {
    expect(pressureToBar(value, unit) * 1e5).toBeCloseTo(pascals, 3);
    expect(pressureFromBar(pressureToBar(value, unit), unit)).toBeCloseTo(value, 12);
  });

  it("takes 7 kgf/cm2 as 99.56 psi", () => {
    expect(pressureFromBar(pressureToBar(7, "kgf/cm2"), "psi")).toBeCloseTo(99.56, 2);
  });

  it.each([
    { unit: "degF", value: 32, celsius: 0 },
    { unit: "degF", value: 212, celsius: 100 },
    { unit: "K", value: 273.15, celsius: 0 },
    { unit: "degC", value: 25, celsius: 25 },
  ] as const)("takes $value $unit as $celsius degC", ({ unit, value, celsius }) => {
    expect(temperatureToCelsius(value, unit)).toBeCloseTo(celsius, 12);
    expect(temperatureFromCelsius(celsius, unit)).toBeCloseTo(value, 12);
  });

  it("takes 2.8 degrees of hardness as 1 meq/L (acid capacity x 2.8: common practice in German water analysis)", () => {
    expect(alkalinityFromKh_meqPerL(2.8)).toBeCloseTo(1, 2);
  });
});
