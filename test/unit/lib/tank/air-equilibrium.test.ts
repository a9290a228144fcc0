import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { airEquilibriumCo2_mgPerL, saturatedCo2_mgPerL } from "../../../../lib/tank/air-equilibrium.js";

describe("CO2 at rest with the air", () => {
  it("is 0.61 mg/L at 25 degC and 420 ppm (Weiss 1974, Mar. Chem. 2, 203)", () => {
    expect(airEquilibriumCo2_mgPerL({ temperature_degC: 25, roomCo2_ppm: 420 })).toBeCloseTo(0.61, 2);
  });

  it("follows the room: a closed room at 1200 ppm leaves 1.7 mg/L", () => {
    expect(airEquilibriumCo2_mgPerL({ temperature_degC: 25, roomCo2_ppm: 1200 })).toBeCloseTo(1.74, 2);
  });

  it("takes the water vapour off the air: 3.1 % of an atmosphere at 25 degC, more of a thinner one", () => {
    const sea = airEquilibriumCo2_mgPerL({ temperature_degC: 25, roomCo2_ppm: 420 });
    const high = airEquilibriumCo2_mgPerL({
      temperature_degC: 25,
      roomCo2_ppm: 420,
      pressureAbsolute_bar: 0.8,
    });
    // Vapour pressure 31.7 mbar (Wagner & Pruss 1993).
    expect(high / sea).toBeCloseTo((0.8 - 0.0317) / (1.01325 - 0.0317), 4);
  });

  it.each([
    { temperature_degC: 41, roomCo2_ppm: 420 },
    { temperature_degC: 25, roomCo2_ppm: 100 },
    { temperature_degC: 25, roomCo2_ppm: 50_000 },
    { temperature_degC: 25, roomCo2_ppm: Number.NaN },
    { temperature_degC: 25, roomCo2_ppm: 420, pressureAbsolute_bar: 1.2 },
  ])("refuses $temperature_degC degC and $roomCo2_ppm ppm outside its range", (air) => {
    expect(() => airEquilibriumCo2_mgPerL(air)).toThrow(OutOfValidRangeError);
  });
});

describe("CO2 under pure CO2 at one atmosphere", () => {
  it.each([
    // Handbook table, grams in 100 g of water at a total pressure of one atmosphere (Lange's Handbook of Chemistry, from memory).
    [10, 2318],
    [20, 1688],
    [25, 1449],
    [30, 1257],
    [40, 973],
  ])("at %d degC is %d mg/L within 1.5 %", (temperature_degC, co2_mgPerL) => {
    expect(Math.abs(saturatedCo2_mgPerL(temperature_degC) / co2_mgPerL - 1)).toBeLessThan(0.015);
  });

  it("is refused outside 0 to 45 degC", () => {
    expect(() => saturatedCo2_mgPerL(46)).toThrow(OutOfValidRangeError);
  });
});
