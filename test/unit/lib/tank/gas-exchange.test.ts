import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { carbonDioxideSchmidtNumber } from "../../../../lib/simulation/layered-tank.js";
import {
  co2After_mgPerL,
  gasExchangeAt_perH,
  gasExchangeOfSurface_perH,
  hoursUntilCo2_h,
  settledCo2_mgPerL,
} from "../../../../lib/tank/gas-exchange.js";
import { integrate } from "../../../support/runge-kutta.js";

describe("the balance of a tank", () => {
  it.each([
    { k_perH: 0.05, dose: 0, start: 30, hours: 12, because: "slow fall" },
    { k_perH: 0.5, dose: 0, start: 30, hours: 12, because: "fall to rest" },
    { k_perH: 0.2, dose: 6, start: 1, hours: 3, because: "rise under gas" },
    { k_perH: 2, dose: 0, start: 60, hours: 1, because: "air pump" },
  ])("has the course that stepwise integration gives: $because", ({ k_perH, dose, start, hours }) => {
    const airCo2_mgPerL = 0.7;
    const respiration = 0.4;
    const expected = integrate(start, hours, (c) => dose - k_perH * (c - airCo2_mgPerL) + respiration);
    const settled = settledCo2_mgPerL({ k_perH, airCo2_mgPerL, gain_mgPerLPerH: dose + respiration });
    const way = { k_perH, startCo2_mgPerL: start, settledCo2_mgPerL: settled };
    expect(co2After_mgPerL(way, hours)).toBeCloseTo(expected, 8);
    expect(hoursUntilCo2_h(way, expected)).toBeCloseTo(hours, 6);
  });

  it("never gets to a value on the other side or past its rest", () => {
    const way = { k_perH: 0.2, startCo2_mgPerL: 10, settledCo2_mgPerL: 2 };
    expect(hoursUntilCo2_h(way, 12)).toBe(Infinity);
    expect(hoursUntilCo2_h(way, 2)).toBe(Infinity);
    expect(hoursUntilCo2_h(way, 10)).toBe(0);
  });

  it("has no rest without gas exchange", () => {
    expect(() => settledCo2_mgPerL({ k_perH: 0, airCo2_mgPerL: 0.7, gain_mgPerLPerH: 1 })).toThrow(
      OutOfValidRangeError,
    );
  });
});

describe("gas exchange and temperature", () => {
  // Wanninkhof (1992) table A1, fresh water, read in an open-source lake model: Sc of CO2 is 600 at 20 degC by convention.
  it("counts on the Schmidt number of the literature", () => {
    expect(Math.abs(carbonDioxideSchmidtNumber(20) - 600)).toBeLessThan(1);
    // The page's own coefficients at 25 degC, by hand: 1911.1 - 2952.75 + 2157.9375 - 645.625.
    expect(carbonDioxideSchmidtNumber(25)).toBeCloseTo(470.66, 2);
  });

  it.each([
    { to_degC: 20, power: 1 / 2, within: 0.02, because: "rippled surface, five degrees colder" },
    { to_degC: 30, power: 1 / 2, within: 0.03, because: "rippled surface, five degrees warmer" },
    { to_degC: 20, power: 2 / 3, within: 0.045, because: "still surface, colder" },
    { to_degC: 30, power: 2 / 3, within: 0.06, because: "still surface, warmer" },
  ])("follows the diffusion of the gas: $because", ({ to_degC, power, within }) => {
    const bySchmidt = (carbonDioxideSchmidtNumber(to_degC) / carbonDioxideSchmidtNumber(25)) ** -power;
    const ours = gasExchangeAt_perH(1, { temperature_degC: 25, to_degC });
    expect(Math.abs(ours / bySchmidt - 1)).toBeLessThan(within);
  });

  it("refuses temperatures at which no tank lives", () => {
    expect(() => gasExchangeAt_perH(1, { temperature_degC: 25, to_degC: 60 })).toThrow(OutOfValidRangeError);
  });

  it("is that of a still lake over the depth of a tank, at the least", () => {
    // Cole & Caraco (1998): k600 = 2.07 + 0.215 U^1.7 cm/h, read in an open-source lake model; no wind in a room.
    expect(gasExchangeOfSurface_perH({ velocity_cmPerH: 2.07, depth_cm: 40 })).toBeCloseTo(0.05175, 5);
  });
});
