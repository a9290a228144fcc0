import { describe, expect, it } from "vitest";
import { hydratePressure_bar } from "../../../../lib/vessel/outside-model.js";

const line_bar = (temperature_degC: number): number => {
  const pressure_bar = hydratePressure_bar(temperature_degC);
  if (pressure_bar === undefined) throw new Error("no line");
  return pressure_bar;
};

describe("the line above which CO2 hydrate can form", () => {
  it("ends at 45 bar and 10 degC (Takenouchi and Kennedy 1965)", () => {
    expect(line_bar(10)).toBeCloseTo(45, 9);
    expect(hydratePressure_bar(10.01)).toBeUndefined();
  });

  it("runs on to the quadruple point with ice, 271.60 K and 1.044 MPa within 0.021 MPa (Semenov 2023)", () => {
    const perDegree_ln = Math.log(line_bar(1) / line_bar(0));
    const quadruple_bar = line_bar(0) * Math.exp(perDegree_ln * (271.6 - 273.15));
    expect(Math.abs(quadruple_bar - 10.44)).toBeLessThan(0.21);
  });

  it("rises all the way", () => {
    for (let temperature_degC = 0; temperature_degC < 10; temperature_degC += 0.5) {
      expect(line_bar(temperature_degC + 0.5)).toBeGreaterThan(line_bar(temperature_degC));
    }
  });
});
