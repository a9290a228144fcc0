import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { carbonDioxideGas } from "../../../../lib/simulation/carbon-dioxide-phases.js";
import type { SimulatedFilling } from "../../../../lib/simulation/simulated-contents.js";
import {
  createSimulatedVessel,
  deliverableCo2_mol,
  type SimulatedVessel,
  type SimulatedVesselSpec,
} from "../../../../lib/simulation/simulated-vessel.js";

const bicarbonate_mol = 130 / 84.006;
const filling: SimulatedFilling = {
  volume_L: 2,
  citricAcid_mol: 104 / 192.123,
  sodiumBicarbonate_mol: bicarbonate_mol,
  water_kg: 0.5,
  lostBeforeClosing_mol: 0,
  co2Pressure_ratio: 1,
  retainedBicarbonate_ratio: 1,
};

const settledSpec = (contents_degC: number): SimulatedVesselSpec => ({
  filling,
  pace: {
    contentsLag_h: 2,
    outsideResistance_ratio: 0.5,
    steelHeatCapacity_JPerK: 1150,
    mixing_h: 0.5,
    airFirst_ratio: 1,
  },
  air_mol: 0.055,
  start: { kind: "settled", contents_degC },
  emptyMass_g: 2600,
});

function after(
  vessel: SimulatedVessel,
  hours: number,
  step: { readonly room_degC: number; readonly withdrawn_molPerH?: number },
): { readonly vessel: SimulatedVessel; readonly co2Left_mol: number; readonly airLeft_mol: number } {
  let now = vessel;
  let co2Left_mol = 0;
  let airLeft_mol = 0;
  for (let done = 0; done < hours * 12; done += 1) {
    const next = now.advance({
      duration_s: 300,
      room_degC: step.room_degC,
      withdrawn_mol: (step.withdrawn_molPerH ?? 0) / 12,
    });
    now = next.vessel;
    co2Left_mol += next.left.co2_mol;
    airLeft_mol += next.left.air_mol;
  }
  return { vessel: now, co2Left_mol, airLeft_mol };
}

describe("the simulated vessel", () => {
  it("keeps every mole of carbon and air: in gas, water, bicarbonate and crystals, or out of the valve", () => {
    const cases: readonly SimulatedVesselSpec["start"][] = [
      { kind: "settled", contents_degC: 20 },
      { kind: "closed-with-water", water_degC: 12, room_degC: 21 },
      { kind: "closed-with-ice", ice_degC: -15, room_degC: 21 },
    ];
    for (const start of cases) {
      const first = createSimulatedVessel({ ...settledSpec(20), start });
      const run = after(first, 60, { room_degC: 21, withdrawn_molPerH: 0.012 });
      expect(Math.abs(run.vessel.carbon_mol + run.co2Left_mol - bicarbonate_mol)).toBeLessThan(1e-9);
      expect(Math.abs(run.vessel.air_mol + run.airLeft_mol - 0.055)).toBeLessThan(1e-12);
      const { phases, reacted_ratio } = run.vessel;
      const waiting_mol = (1 - reacted_ratio) * bicarbonate_mol;
      const inPhases_mol = phases.gasCo2_mol + phases.dissolved_mol + phases.bicarbonate_mol + waiting_mol;
      expect(Math.abs(inPhases_mol - run.vessel.carbon_mol)).toBeLessThan(1e-9);
      expect(first.mass_g - run.vessel.mass_g).toBeCloseTo(
        run.co2Left_mol * 44.009 + run.airLeft_mol * 28.964,
        8,
      );
    }
  });

  it("is a function of its state: warmed to a temperature or made there, it is the same", () => {
    const warm = after(createSimulatedVessel(settledSpec(20)), 200, { room_degC: 26 }).vessel;
    const fresh = createSimulatedVessel(settledSpec(warm.contents_degC));
    expect(Math.abs(warm.phases.gasCo2_mol - fresh.phases.gasCo2_mol)).toBeLessThan(1e-3 * bicarbonate_mol);
    expect(Math.abs(warm.pressureGauge_bar / fresh.pressureGauge_bar - 1)).toBeLessThan(1e-3);
  });

  it("shows the pressure of its gas and its air", () => {
    const { vessel } = after(createSimulatedVessel(settledSpec(20)), 10, { room_degC: 23 });
    const { gasCo2_mol, gasVolume_L } = vessel.phases;
    const { pressureAbsolute_bar } = carbonDioxideGas({
      density_molPerL: gasCo2_mol / gasVolume_L,
      temperature_degC: vessel.contents_degC,
    });
    const air_bar = (vessel.air_mol * 0.0831446261815 * (vessel.contents_degC + 273.15)) / gasVolume_L;
    expect(vessel.pressureGauge_bar + 1.01325).toBeCloseTo(pressureAbsolute_bar + air_bar, 8);
  });

  // Common practice, no source: 0.15 to 0.2 kgf/cm2 for each degree of a full charge; 1 kgf/cm2 is 0.980665 bar.
  it("moves its gauge by the usual amount for each degree when full", () => {
    const at = (contents_degC: number): number =>
      createSimulatedVessel(settledSpec(contents_degC)).pressureGauge_bar;
    const slopeInKgf = (at(25) - at(15)) / 10 / 0.980665;
    expect(at(20)).toBeGreaterThan(17);
    expect(slopeInKgf).toBeGreaterThan(0.15);
    expect(slopeInKgf).toBeLessThan(0.2);
  });

  it("lets air go early: its share of the first gas is that of the gas space, or more where it lies at the outlet", () => {
    const shareOfFirst = (airFirst_ratio: number): number => {
      const spec = settledSpec(20);
      const vessel = createSimulatedVessel({ ...spec, pace: { ...spec.pace, airFirst_ratio } });
      const { left } = vessel.advance({ duration_s: 300, room_degC: 20, withdrawn_mol: 1e-4 });
      return left.air_mol / (left.air_mol + left.co2_mol);
    };
    const vessel = createSimulatedVessel(settledSpec(20));
    const inGas = vessel.air_mol / (vessel.air_mol + vessel.phases.gasCo2_mol);
    expect(inGas).toBeGreaterThan(0.04);
    expect(shareOfFirst(1)).toBeCloseTo(inGas, 12);
    expect(shareOfFirst(1.5)).toBeCloseTo(1.5 * inGas, 12);
    const half = after(vessel, 40, { room_degC: 20, withdrawn_molPerH: 0.018 });
    expect(half.vessel.air_mol / 0.055).toBeLessThan(0.9 * (half.vessel.co2_mol / vessel.co2_mol));
  });

  it("releases bicarbonate as its pressure falls", () => {
    const full = createSimulatedVessel(settledSpec(20));
    const low = after(full, 60, { room_degC: 20, withdrawn_molPerH: 0.018 }).vessel;
    expect(low.phases.bicarbonate_mol).toBeLessThan(0.75 * full.phases.bicarbonate_mol);
  });

  it("draws its errors on top: a factor on the CO2 pressure, one on what the liquor keeps", () => {
    const plain = createSimulatedVessel(settledSpec(20));
    const withErrors = (errors: Partial<SimulatedFilling>): SimulatedVessel =>
      createSimulatedVessel({ ...settledSpec(20), filling: { ...filling, ...errors } });
    const factored = withErrors({ co2Pressure_ratio: 1.04 });
    const airPressure_bar = (0.055 * 0.0831446 * 293.15) / plain.phases.gasVolume_L;
    const co2_bar = plain.pressureGauge_bar + 1.01325 - airPressure_bar;
    expect(factored.pressureGauge_bar - plain.pressureGauge_bar).toBeCloseTo(0.04 * co2_bar, 6);
    const keeping = withErrors({ retainedBicarbonate_ratio: 1.25 });
    expect(keeping.phases.bicarbonate_mol / plain.phases.bicarbonate_mol).toBeGreaterThan(1.2);
    expect(keeping.phases.bicarbonate_mol / plain.phases.bicarbonate_mol).toBeLessThan(1.25);
    expect(keeping.pressureGauge_bar).toBeLessThan(plain.pressureGauge_bar);
    const poorer = withErrors({ lostBeforeClosing_mol: 0.08 * bicarbonate_mol });
    expect(plain.co2_mol - poorer.co2_mol).toBeCloseTo(0.08 * bicarbonate_mol, 12);
  });

  it("keeps bicarbonate for which there is no acid out of what can be delivered", () => {
    const short = createSimulatedVessel({
      ...settledSpec(20),
      filling: { ...filling, citricAcid_mol: (0.9 * bicarbonate_mol) / 3 },
    });
    expect(short.co2_mol).toBeCloseTo(0.9 * bicarbonate_mol, 12);
  });

  // Common practice, no source: a couple of hours with water, about a day with ice in a cool room.
  it("takes hours with water and about a day with ice", () => {
    const ready_h = (start: SimulatedVesselSpec["start"], mixing_h: number): number => {
      const spec = settledSpec(18);
      const settled_bar = createSimulatedVessel(spec).pressureGauge_bar;
      let vessel = createSimulatedVessel({ ...spec, pace: { ...spec.pace, mixing_h }, start });
      let hours = 0;
      while (vessel.pressureGauge_bar < 0.97 * settled_bar && hours < 200) {
        ({ vessel } = after(vessel, 1, { room_degC: 18 }));
        hours += 1;
      }
      return hours;
    };
    const water_h = ready_h({ kind: "closed-with-water", water_degC: 15, room_degC: 18 }, 0.5);
    const ice_h = ready_h({ kind: "closed-with-ice", ice_degC: -15, room_degC: 18 }, 4);
    expect(water_h).toBeGreaterThanOrEqual(2);
    expect(water_h).toBeLessThan(10);
    expect(ice_h).toBeGreaterThan(12);
    expect(ice_h).toBeLessThan(40);
  });

  it("closes on about one atmosphere, whatever part of it is air", () => {
    for (const air_mol of [0, 0.03, 0.055]) {
      const { pressureGauge_bar } = createSimulatedVessel({
        ...settledSpec(20),
        air_mol,
        start: { kind: "closed-with-water", water_degC: 15, room_degC: 20 },
      });
      expect(Math.abs(pressureGauge_bar)).toBeLessThan(0.4);
    }
  });

  it("follows the room behind its steel, with the lag that was asked for", () => {
    const { vessel } = after(createSimulatedVessel(settledSpec(20)), 2.25, { room_degC: 30 });
    // The lag of 2 h is that of the contents alone; the steel adds its part of a third.
    expect(vessel.contents_degC).toBeGreaterThan(25);
    expect(vessel.contents_degC).toBeLessThan(27);
    expect(vessel.steel_degC).toBeGreaterThan(vessel.contents_degC);
    expect(vessel.steel_degC).toBeLessThan(30);
  });

  it("gives up what can be delivered, and then stands at the working pressure", () => {
    const vessel = createSimulatedVessel(settledSpec(20));
    const promised_mol = deliverableCo2_mol(vessel, 3);
    let now = vessel;
    let left_mol = 0;
    while (now.pressureGauge_bar > 3) {
      // Slowly, so that the contents stay at the room's temperature.
      const next = now.advance({ duration_s: 7200, room_degC: 20, withdrawn_mol: 0.004 });
      left_mol += next.left.co2_mol;
      now = next.vessel;
    }
    expect(left_mol / promised_mol).toBeCloseTo(1, 2);
    expect(deliverableCo2_mol(now, 3)).toBe(0);
  });

  it("refuses a filling that leaves no gas space", () => {
    expect(() => createSimulatedVessel({ ...settledSpec(20), filling: { ...filling, water_kg: 2 } })).toThrow(
      OutOfValidRangeError,
    );
  });
});
