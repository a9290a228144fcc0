import { describe, expect, it } from "vitest";
import { UnknownNameError } from "../../../../lib/errors.js";
import { createGeneratorVessel } from "../../../../lib/simulation/generator-vessel.js";
import { createRandomSource } from "../../../../lib/simulation/random-source.js";
import type { GasFault } from "../../../../lib/simulation/simulated-fault.js";
import { createSimulatedSite } from "../../../../lib/simulation/simulated-site.js";
import type {
  SimulatedSiteInput,
  SimulatedSiteSpec,
  SimulatedSiteState,
} from "../../../../lib/simulation/simulated-site.js";
import type { VesselModel } from "../../../../lib/simulation/vessel-model.js";

const tank = {
  physics: {
    volume_L: 60,
    kh_dKH: 4,
    ionicStrength_molPerL: 0.004,
    gasExchange_perH: 0.15,
    aerationFactor: 5,
    diffuserEfficiency_ratio: 0.6,
    uptake_mgPerLPerH: 0.6,
    halfSaturation_mgPerL: 6,
    respiration_mgPerLPerH: 0.3,
    heater: { set_degC: 24.5, hysteresis_K: 0.2, power_W: 75 },
    lampHeat_W: 12,
    lossToRoom_WPerK: 4,
  },
  initial: { co2_mgPerL: 4, temperature_degC: 24.5, heaterOn: false },
};
const spec: SimulatedSiteSpec = {
  startAt_epochMs: Date.UTC(2026, 2, 2, 6),
  room: { mean_degC: 20, swing_K: 1.5, warmestAtUtc_h: 15, wander_K: 0.3, co2_ppm: 600 },
  vessels: {
    cellar: {
      initial: createGeneratorVessel({
        volume_L: 2,
        sodiumBicarbonate_g: 100,
        citricAcidAnhydrous_g: 80,
        water_kg: 0.5,
        sealedAt_degC: 20,
        contents_degC: 20,
        retainedBicarbonate_ratio: 0.06,
        thermalLag_h: 1.5,
        emptyMass_g: 2600,
      }),
      leak_molPerHBar: 1e-6,
    },
  },
  valves: {
    outlet: {
      vessel: "cellar",
      regulator: {
        setGauge_bar: 3,
        setAtInletGauge_bar: 14.5,
        supplyPressureEffect_ratio: 0.03,
        wideOpenDrop_bar: 0.2,
      },
      needle_molPerHBar: 0.004,
      diffuserGauge_bar: 0.3,
      feeds: [
        { tank: "loach", share: 0.6 },
        { tank: "shrimp", share: 0.4 },
      ],
    },
  },
  tanks: { loach: tank, shrimp: tank },
};
const closed: SimulatedSiteInput = {
  duration_s: 600,
  valveOpen: {},
  lightsOn: {},
  aerating: {},
  faults: [],
};
const open: SimulatedSiteInput = { ...closed, valveOpen: { outlet: true } };

function siteOf(changes: Partial<SimulatedSiteSpec> = {}, seed = 1) {
  return createSimulatedSite({ ...spec, ...changes }, createRandomSource(seed));
}
function afterHours(hours: number, input: SimulatedSiteInput): SimulatedSiteState {
  const site = siteOf();
  return site.advance(site.initial, { ...input, duration_s: hours * 3600 });
}
function moles(state: SimulatedSiteState): { readonly co2_mol: number; readonly air_mol: number } {
  const gone = [...Object.values(state.delivered), ...Object.values(state.leaked)];
  const inside = Object.values(state.vessels);
  const all = [...gone, ...inside];
  return {
    co2_mol: all.reduce((sum, part) => sum + part.co2_mol, 0),
    air_mol: all.reduce((sum, part) => sum + part.air_mol, 0),
  };
}

describe("a simulated site", () => {
  it("loses no gas: what is inside, delivered and leaked is what was sealed in", () => {
    const faults: GasFault[] = [
      { kind: "vessel-leaks", vesselId: "cellar", leak_molPerHBar: 1e-3, onset_epochMs: 0 },
    ];
    const site = siteOf();
    const end = site.advance(site.initial, { ...open, faults, duration_s: 12 * 3600 });
    expect(end.leaked["cellar"]!.co2_mol).toBeGreaterThan(0.01);
    expect(end.delivered["outlet"]!.co2_mol).toBeGreaterThan(0.05);
    expect(Math.abs(moles(end).co2_mol - moles(site.initial).co2_mol)).toBeLessThan(1e-9);
    expect(Math.abs(moles(end).air_mol - moles(site.initial).air_mol)).toBeLessThan(1e-9);
  });

  it("delivers nothing through a closed valve", () => {
    const end = afterHours(24, closed);
    expect(end.delivered["outlet"]).toEqual({ co2_mol: 0, air_mol: 0 });
  });

  it("raises CO2 while the valve is open, by the splitter's shares, and lowers pressure", () => {
    const quiet = afterHours(4, closed);
    const dosed = afterHours(4, open);
    const rise = (id: string) => dosed.tanks[id]!.co2_mgPerL - quiet.tanks[id]!.co2_mgPerL;
    expect(rise("loach")).toBeGreaterThan(5);
    expect(rise("loach") / rise("shrimp")).toBeCloseTo(0.6 / 0.4, 2);
    expect(dosed.vessels["cellar"]!.pressureGauge_bar).toBeLessThan(
      quiet.vessels["cellar"]!.pressureGauge_bar,
    );
  });

  it("lets flow surge as the inlet falls, through the supply-pressure effect", () => {
    const site = siteOf();
    const first = site.advance(site.initial, { ...open, duration_s: 60 });
    let late = site.advance(site.initial, { ...open, duration_s: 36 * 3600 });
    expect(late.vessels["cellar"]!.pressureGauge_bar).toBeGreaterThan(3.5);
    late = site.advance(late, { ...open, duration_s: 60 });
    expect(late.flow_molPerH["outlet"]!).toBeGreaterThan(1.02 * first.flow_molPerH["outlet"]!);
  });

  it("comes to an end by itself when the vessel is spent", () => {
    const end = afterHours(60 * 24, open);
    expect(end.vessels["cellar"]!.pressureGauge_bar).toBeLessThan(0.6);
    expect(end.flow_molPerH["outlet"]!).toBeLessThan(1e-3);
    expect(end.vessels["cellar"]!.co2_mol).toBeGreaterThan(0);
  });

  it.each<{ fault: GasFault; input: SimulatedSiteInput; ratio: number; because: string }>([
    {
      fault: { kind: "needle-moved", valveId: "outlet", opening_ratio: 2, onset_epochMs: 0 },
      input: open,
      ratio: 2,
      because: "choked flow goes with the opening",
    },
    {
      fault: { kind: "valve-seat-leaks", valveId: "outlet", leak_ratio: 0.1, onset_epochMs: 0 },
      input: closed,
      ratio: 0.1,
      because: "a dirty seat passes gas with the coil off",
    },
    {
      fault: { kind: "valve-seat-leaks", valveId: "outlet", leak_ratio: 0.1, onset_epochMs: 0 },
      input: open,
      ratio: 1,
      because: "an open valve passes no more for its seat",
    },
  ])("passes $ratio of the open flow under $fault.kind: $because", ({ fault, input, ratio }) => {
    const site = siteOf();
    const step = { duration_s: 60 };
    const sound = site.advance(site.initial, { ...open, ...step }).flow_molPerH["outlet"]!;
    const faulty = site.advance(site.initial, { ...input, ...step, faults: [fault] }).flow_molPerH["outlet"]!;
    expect(faulty / sound).toBeCloseTo(ratio, 12);
  });

  it("warms and cools the room over the day, warmest at the stated hour", () => {
    const site = siteOf({ room: { ...spec.room, wander_K: 0 } });
    const hourly = Array.from({ length: 24 }, (_, hour) => {
      const state = site.advance(site.initial, { ...closed, duration_s: (hour + 1) * 3600 });
      return { hour: new Date(state.at_epochMs).getUTCHours(), room_degC: state.room_degC };
    });
    const warmest = hourly.reduce((a, b) => (b.room_degC > a.room_degC ? b : a));
    expect(warmest.hour).toBe(15);
    expect(warmest.room_degC).toBeCloseTo(21.5, 9);
    expect(Math.min(...hourly.map((h) => h.room_degC))).toBeCloseTo(18.5, 9);
  });

  it("repeats itself for the same seed", () => {
    const run = (seed: number) => {
      const site = siteOf({}, seed);
      return site.advance(site.initial, { ...open, duration_s: 6 * 3600 }).tanks;
    };
    expect(run(3)).toEqual(run(3));
    expect(run(3)).not.toEqual(run(4));
  });

  it("leaves the state that it was given as it was", () => {
    const site = siteOf();
    const before = JSON.stringify(site.initial);
    site.advance(site.initial, open);
    expect(JSON.stringify(site.initial)).toBe(before);
  });

  it("stands still for a step of no length", () => {
    const site = siteOf();
    expect(site.advance(site.initial, { ...open, duration_s: 0 })).toBe(site.initial);
  });

  it("runs on any vessel model, two valves on one vessel sharing what it gives", () => {
    const holding = (co2_mol: number): VesselModel => ({
      pressureGauge_bar: 10,
      contents_degC: 20,
      co2_mol,
      air_mol: 0,
      mass_g: 0,
      advance: ({ withdrawn_mol }) => {
        const given_mol = Math.min(withdrawn_mol, co2_mol);
        return { vessel: holding(co2_mol - given_mol), left: { co2_mol: given_mol, air_mol: 0 } };
      },
    });
    const valve = spec.valves["outlet"]!;
    const site = siteOf({
      vessels: { cellar: { initial: holding(1e-4), leak_molPerHBar: 0 } },
      valves: {
        outlet: { ...valve, feeds: [{ tank: "loach", share: 1 }] },
        second: { ...valve, needle_molPerHBar: 0.012, feeds: [{ tank: "shrimp", share: 1 }] },
      },
    });
    const end = site.advance(site.initial, { ...open, valveOpen: { outlet: true, second: true } });
    expect(end.delivered["outlet"]!.co2_mol).toBeCloseTo(0.25e-4, 12);
    expect(end.delivered["second"]!.co2_mol).toBeCloseTo(0.75e-4, 12);
  });

  it.each([
    { vessel: "attic", tank: "loach" },
    { vessel: "cellar", tank: "newt" },
  ])("refuses a valve between $vessel and $tank, one of which is not there", ({ vessel, tank: fed }) => {
    const valve = { ...spec.valves["outlet"]!, vessel, feeds: [{ tank: fed, share: 1 }] };
    expect(() => siteOf({ valves: { outlet: valve } })).toThrow(UnknownNameError);
  });
});
