import { describe, expect, it } from "vitest";
import { advanceTank, airEquilibriumCo2_mgPerL } from "../../../../lib/simulation/simulated-tank.js";
import type {
  SimulatedTankSpec,
  SimulatedTankState,
  SimulatedTankStep,
} from "../../../../lib/simulation/simulated-tank.js";

const lifeless: SimulatedTankSpec = {
  volume_L: 60,
  kh_dKH: 4,
  ionicStrength_molPerL: 0.004,
  gasExchange_perH: 0.2,
  aerationFactor: 5,
  diffuserEfficiency_ratio: 0.5,
  uptake_mgPerLPerH: 0,
  halfSaturation_mgPerL: 6,
  respiration_mgPerLPerH: 0,
  heater: { set_degC: 24, hysteresis_K: 0.2, power_W: 0 },
  lampHeat_W: 0,
  lossToRoom_WPerK: 3,
};
const rest: SimulatedTankStep = {
  duration_s: 60,
  injectedCo2_mol: 0,
  lightsOn: false,
  aerating: false,
  room_degC: 24,
  roomCo2_ppm: 420,
};
const start: SimulatedTankState = { co2_mgPerL: 30, temperature_degC: 24, heaterOn: false };

function after(
  hours: number,
  spec: SimulatedTankSpec,
  step: Partial<SimulatedTankStep>,
  from = start,
): SimulatedTankState {
  let state = from;
  for (let minute = 0; minute < hours * 60; minute += 1)
    state = advanceTank(spec, state, { ...rest, ...step });
  return state;
}
const equilibrium_mgPerL = airEquilibriumCo2_mgPerL({ temperature_degC: 24, co2_ppm: 420 });

describe("CO2 of a tank", () => {
  // Closed solution of first-order exchange: C(t) = Ceq + (C0 - Ceq) e^(-kt).
  it("decays at night as the closed solution says", () => {
    const expected_mgPerL = equilibrium_mgPerL + (30 - equilibrium_mgPerL) * Math.exp(-0.2 * 8);
    expect(after(8, lifeless, {}).co2_mgPerL).toBeCloseTo(expected_mgPerL, 9);
  });

  it("falls faster under the air pump", () => {
    const expected_mgPerL = equilibrium_mgPerL + (30 - equilibrium_mgPerL) * Math.exp(-0.2 * 5);
    expect(after(1, lifeless, { aerating: true }).co2_mgPerL).toBeCloseTo(expected_mgPerL, 9);
  });

  it("comes to rest where supply and loss are equal", () => {
    // 0.5 of 0.36 g/h over 60 L is 3 mg/L/h; divided by 0.2/h that stands 15 mg/L above the air's.
    const injectedCo2_mol = 0.36 / 60 / 44.009;
    expect(after(100, lifeless, { injectedCo2_mol }).co2_mgPerL).toBeCloseTo(equilibrium_mgPerL + 15, 6);
  });

  it("is bound by plants only in light, half as fast at the half-saturation", () => {
    const closed = { ...lifeless, gasExchange_perH: 1e-9, uptake_mgPerLPerH: 2 };
    const at = { ...start, co2_mgPerL: 6 };
    expect(after(1, closed, {}, at).co2_mgPerL).toBeCloseTo(6, 6);
    expect(6 - after(1 / 60, closed, { lightsOn: true }, at).co2_mgPerL).toBeCloseTo(1 / 60, 6);
  });

  it("rises by respiration alone", () => {
    const breathing = { ...lifeless, gasExchange_perH: 1e-9, respiration_mgPerLPerH: 0.4 };
    expect(after(5, breathing, {}).co2_mgPerL).toBeCloseTo(32, 5);
  });

  it("never falls below zero, however hungry the plants", () => {
    const hungry = { ...lifeless, uptake_mgPerLPerH: 500, halfSaturation_mgPerL: 0.01 };
    expect(after(1, hungry, { lightsOn: true }).co2_mgPerL).toBeGreaterThanOrEqual(0);
  });
});

describe("temperature of a tank", () => {
  it("drifts to the room with its own time constant", () => {
    // Heat capacity 60 L x 4.18 kJ/(kg K) over 3 W/K: 23.2 h.
    const hours = (60 * 4180) / 3 / 3600;
    const cooling = after(hours, lifeless, { room_degC: 18 }, { ...start, temperature_degC: 28 });
    expect(cooling.temperature_degC).toBeCloseTo(18 + 10 * Math.exp(-1), 1);
  });

  it("ripples around the thermostat's setting, by its hysteresis and no more", () => {
    const heated = { ...lifeless, heater: { set_degC: 25, hysteresis_K: 0.2, power_W: 60 } };
    let state: SimulatedTankState = { ...start, temperature_degC: 25 };
    const seen: number[] = [];
    for (let minute = 0; minute < 2880; minute += 1) {
      state = advanceTank(heated, state, { ...rest, room_degC: 19 });
      seen.push(state.temperature_degC);
    }
    expect(Math.min(...seen)).toBeGreaterThan(24.77);
    expect(Math.min(...seen)).toBeLessThan(24.85);
    expect(Math.max(...seen)).toBeGreaterThan(25.15);
    expect(Math.max(...seen)).toBeLessThan(25.23);
  });
});
