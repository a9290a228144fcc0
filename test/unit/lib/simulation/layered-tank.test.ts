import { describe, expect, it } from "vitest";
import { advanceLayers, meanCo2_mgPerL, settledLayers } from "../../../../lib/simulation/layered-tank.js";
import type { LayeredTankDrive, LayeredTankSpec } from "../../../../lib/simulation/layered-tank.js";
import { advanceTank, changeWater, tankPh } from "../../../../lib/simulation/simulated-tank.js";
import type { SimulatedTankSpec } from "../../../../lib/simulation/simulated-tank.js";
import { integrate } from "../../../support/runge-kutta.js";

const water: LayeredTankSpec = {
  surface_ratio: 0.2,
  mixing_perH: 4,
  reference_degC: 25,
  schmidtExponent: 0.5,
  respirationQ10: 2,
  probeLag_h: 0.1,
  lightRamp_h: 0.2,
};
const dark: LayeredTankDrive = {
  gasExchange_perH: 0.3,
  airCo2_mgPerL: 0.6,
  dose_mgPerLPerH: 0,
  respiration_mgPerLPerH: 0,
  uptake_mgPerLPerH: 0,
  halfSaturation_mgPerL: 6,
  lightsOn: false,
  temperature_degC: 25,
};

describe("the layers of a tank", () => {
  it("fall as one stirred body where the pump is strong", () => {
    const stirred = { ...water, mixing_perH: 2000 };
    const after = advanceLayers(stirred, settledLayers(30, false), dark, 6);
    expect(meanCo2_mgPerL(stirred, after)).toBeCloseTo(0.6 + 29.4 * Math.exp(-0.3 * 6), 2);
  });

  it("lose less where the pump is weak, for the surface runs poor", () => {
    const after = advanceLayers(water, settledLayers(30, false), dark, 6);
    const mean = meanCo2_mgPerL(water, after);
    expect(after.surface_mgPerL).toBeLessThan(after.body_mgPerL);
    // Slow rate of the two-box system by its characteristic equation, by hand:
    // the matrix per hour is [[-(4 + 0.3) / 0.2, 4 / 0.2], [4 / 0.8, -4 / 0.8]].
    const trace = -21.5 - 5;
    const determinant = 21.5 * 5 - 20 * 5;
    const slow = -(trace + Math.sqrt(trace ** 2 - 4 * determinant)) / 2;
    expect(slow).toBeLessThan(0.3);
    const later = advanceLayers(water, after, dark, 2);
    const ratio = (meanCo2_mgPerL(water, later) - 0.6) / (mean - 0.6);
    expect(-Math.log(ratio) / 2).toBeCloseTo(slow, 4);
  });

  it("keep the balance of what was dosed, breathed, taken and lost", () => {
    const lit: LayeredTankDrive = {
      ...dark,
      dose_mgPerLPerH: 6,
      respiration_mgPerLPerH: 0.4,
      temperature_degC: 27,
    };
    const from = settledLayers(10, false);
    const after = advanceLayers(water, from, lit, 4);
    const gained = 4 * (6 + 0.4 * 2 ** 0.2);
    expect(10 + gained - after.lost_mgPerL).toBeCloseTo(meanCo2_mgPerL(water, after), 9);
  });

  it("give up CO2 to plants that wake and sleep with the lights", () => {
    const closed = { ...dark, gasExchange_perH: 1e-9, uptake_mgPerLPerH: 2, lightsOn: true };
    const spec = { ...water, mixing_perH: 2000 };
    const after = advanceLayers(spec, settledLayers(20, false), closed, 3);
    const expected = integrate(20, 3, (c, hour) => {
      return ((-2 * c) / (6 + c)) * (1 - Math.exp(-hour / 0.2));
    });
    expect(meanCo2_mgPerL(spec, after)).toBeCloseTo(expected, 2);
  });

  it("are seen by the probe with its lag", () => {
    const still = { ...dark, gasExchange_perH: 1e-9 };
    const jumped = { ...settledLayers(20, false), probe_mgPerL: 10 };
    const after = advanceLayers(water, jumped, still, 0.1);
    expect(after.probe_mgPerL).toBeCloseTo(20 - 10 * Math.exp(-1), 3);
  });

  it("exchange faster in the warmth", () => {
    const warm = advanceLayers(water, settledLayers(30, false), { ...dark, temperature_degC: 28 }, 1);
    const cool = advanceLayers(water, settledLayers(30, false), { ...dark, temperature_degC: 22 }, 1);
    expect(warm.lost_mgPerL / cool.lost_mgPerL).toBeGreaterThan(1.1);
  });
});

describe("a simulated tank with layers", () => {
  const tank: SimulatedTankSpec = {
    volume_L: 60,
    kh_dKH: 4,
    ionicStrength_molPerL: 0.004,
    gasExchange_perH: 0.2,
    aerationFactor: 5,
    diffuserEfficiency_ratio: 0.5,
    uptake_mgPerLPerH: 0,
    halfSaturation_mgPerL: 6,
    respiration_mgPerLPerH: 0.4,
    heater: { set_degC: 24, hysteresis_K: 0.2, power_W: 0 },
    lampHeat_W: 0,
    lossToRoom_WPerK: 3,
    layers: water,
  };
  const step = {
    duration_s: 60,
    injectedCo2_mol: 0,
    lightsOn: false,
    aerating: false,
    room_degC: 24,
    roomCo2_ppm: 420,
  };
  const start = { co2_mgPerL: 30, temperature_degC: 24, heaterOn: false };

  it("falls more slowly under a film and with more breathing", () => {
    const plain = advanceTank(tank, start, step).co2_mgPerL;
    expect(advanceTank(tank, start, { ...step, surfaceFilm_ratio: 0.3 }).co2_mgPerL).toBeGreaterThan(plain);
    expect(advanceTank(tank, start, { ...step, extraRespiration_mgPerLPerH: 2 }).co2_mgPerL).toBeCloseTo(
      plain + 2 / 60,
      2,
    );
  });

  it("takes fresh water at once, and its probe after the lag", () => {
    const before = advanceTank(tank, start, step);
    const after = changeWater(before, { share_ratio: 0.5, co2_mgPerL: 2, temperature_degC: 20 });
    expect(after.co2_mgPerL).toBeCloseTo((before.co2_mgPerL + 2) / 2, 9);
    expect(after.temperature_degC).toBeCloseTo(22, 1);
    expect(tankPh(tank, after)).toBeCloseTo(tankPh(tank, { ...before, temperature_degC: 22 }), 3);
    let later = after;
    for (let minute = 0; minute < 60; minute += 1) later = advanceTank(tank, later, step);
    expect(tankPh(tank, later)).toBeGreaterThan(tankPh(tank, after) + 0.2);
  });
});
