import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { createGeneratorVessel } from "../../lib/simulation/generator-vessel.js";
import { createRandomSource } from "../../lib/simulation/random-source.js";
import {
  relayDeviceAtPowerOn,
  relayDeviceDueAt_monotonicMs,
  stepRelayDevice,
} from "../../lib/simulation/relay-device.js";
import type { RelayDeviceEvent } from "../../lib/simulation/relay-device.js";
import { createSimulatedSite } from "../../lib/simulation/simulated-site.js";
import { waterPh } from "../../lib/simulation/water-ph.js";

const seed = 20260301;

const recipe = fc.record({
  volume_L: fc.double({ min: 1.5, max: 3, noNaN: true }),
  sodiumBicarbonate_g: fc.double({ min: 10, max: 120, noNaN: true }),
  citricAcidAnhydrous_g: fc.double({ min: 10, max: 120, noNaN: true }),
  water_kg: fc.double({ min: 0.2, max: 0.7, noNaN: true }),
  sealedAt_degC: fc.double({ min: 5, max: 35, noNaN: true }),
  contents_degC: fc.double({ min: 1, max: 40, noNaN: true }),
  retainedBicarbonate_ratio: fc.double({ min: 0, max: 0.3, noNaN: true }),
  thermalLag_h: fc.double({ min: 0.2, max: 10, noNaN: true }),
  emptyMass_g: fc.constant(2600),
});

describe("the vessel", () => {
  it("has less pressure with less gas and more with more warmth, and keeps the balance of its mass", () => {
    fc.assert(
      fc.property(recipe, fc.double({ min: 0.001, max: 0.2, noNaN: true }), (spec, withdrawn_mol) => {
        const before = createGeneratorVessel(spec);
        const { vessel: after, left } = before.advance({
          duration_s: 1,
          room_degC: spec.contents_degC,
          withdrawn_mol,
        });
        expect(after.pressureGauge_bar).toBeLessThan(before.pressureGauge_bar);
        expect(Math.abs(after.co2_mol + left.co2_mol - before.co2_mol)).toBeLessThan(1e-12);
        const warm = createGeneratorVessel({ ...spec, contents_degC: spec.contents_degC + 2 });
        expect(warm.pressureGauge_bar).toBeGreaterThan(before.pressureGauge_bar);
      }),
      { seed, numRuns: 300 },
    );
  });
});

describe("the site", () => {
  const change = fc.record({
    duration_s: fc.integer({ min: 1, max: 7200 }),
    open: fc.boolean(),
    lit: fc.boolean(),
    leaking: fc.boolean(),
    needle_ratio: fc.constantFrom(0.2, 1, 8),
  });
  it("keeps every mole through any row of openings, leaks and turned needles", () => {
    fc.assert(
      fc.property(recipe, fc.array(change, { minLength: 1, maxLength: 20 }), (charge, changes) => {
        const site = createSimulatedSite(
          {
            startAt_epochMs: Date.UTC(2026, 0, 5),
            room: { mean_degC: 20, swing_K: 3, warmestAtUtc_h: 15, wander_K: 0.5, co2_ppm: 700 },
            vessels: { cellar: { initial: createGeneratorVessel(charge), leak_molPerHBar: 1e-5 } },
            valves: {
              outlet: {
                vessel: "cellar",
                regulator: {
                  setGauge_bar: 3,
                  setAtInletGauge_bar: 15,
                  supplyPressureEffect_ratio: 0.05,
                  wideOpenDrop_bar: 0.2,
                },
                needle_molPerHBar: 0.01,
                diffuserGauge_bar: 0.3,
                feeds: [{ tank: "loach", share: 1 }],
              },
            },
            tanks: {
              loach: {
                physics: {
                  volume_L: 60,
                  kh_dKH: 4,
                  ionicStrength_molPerL: 0.004,
                  gasExchange_perH: 0.2,
                  aerationFactor: 4,
                  diffuserEfficiency_ratio: 0.6,
                  uptake_mgPerLPerH: 0.8,
                  halfSaturation_mgPerL: 6,
                  respiration_mgPerLPerH: 0.3,
                  heater: { set_degC: 25, hysteresis_K: 0.2, power_W: 60 },
                  lampHeat_W: 10,
                  lossToRoom_WPerK: 4,
                },
                initial: { co2_mgPerL: 3, temperature_degC: 24, heaterOn: false },
              },
            },
          },
          createRandomSource(seed),
        );
        let state = site.initial;
        for (const { duration_s, open, lit, leaking, needle_ratio } of changes) {
          state = site.advance(state, {
            duration_s,
            valveOpen: { outlet: open },
            lightsOn: { loach: lit },
            aerating: {},
            faults: [
              { kind: "needle-moved", valveId: "outlet", opening_ratio: needle_ratio, onset_epochMs: 0 },
              ...(leaking
                ? [
                    {
                      kind: "vessel-leaks" as const,
                      vesselId: "cellar",
                      leak_molPerHBar: 0.01,
                      onset_epochMs: 0,
                    },
                  ]
                : []),
            ],
          });
          const tank = state.tanks["loach"]!;
          expect(tank.co2_mgPerL).toBeGreaterThanOrEqual(0);
          expect(tank.temperature_degC).toBeGreaterThan(10);
          expect(tank.temperature_degC).toBeLessThan(40);
        }
        const { co2_mol, air_mol } = state.vessels["cellar"]!;
        const gone = [state.delivered["outlet"]!, state.leaked["cellar"]!];
        const co2 = gone.reduce((sum, part) => sum + part.co2_mol, co2_mol);
        const air = gone.reduce((sum, part) => sum + part.air_mol, air_mol);
        expect(Math.abs(co2 - site.initial.vessels["cellar"]!.co2_mol)).toBeLessThan(1e-9);
        expect(Math.abs(air - site.initial.vessels["cellar"]!.air_mol)).toBeLessThan(1e-9);
      }),
      { seed, numRuns: 60 },
    );
  });
});

describe("pH", () => {
  const water = fc.record({
    co2_mgPerL: fc.double({ min: 0.05, max: 250, noNaN: true }),
    kh_dKH: fc.double({ min: 0, max: 28, noNaN: true }),
    temperature_degC: fc.double({ min: 5, max: 40, noNaN: true }),
    ionicStrength_molPerL: fc.double({ min: 0, max: 0.1, noNaN: true }),
  });
  it("falls with more CO2 and rises with more hardness, everywhere in its range", () => {
    fc.assert(
      fc.property(water, (at) => {
        const pH = waterPh(at);
        expect(waterPh({ ...at, co2_mgPerL: at.co2_mgPerL * 2 })).toBeLessThan(pH);
        expect(waterPh({ ...at, kh_dKH: at.kh_dKH + 1 })).toBeGreaterThan(pH);
      }),
      { seed, numRuns: 500 },
    );
  });
});

describe("the relay device", () => {
  const event = fc.oneof(
    fc.constant<RelayDeviceEvent>({ kind: "elapse" }),
    fc.constant<RelayDeviceEvent>({ kind: "query" }),
    fc.constantFrom("ON", "OFF", "for 30", "for 500", "for", "on").map((payload): RelayDeviceEvent => {
      return { kind: "command", payload };
    }),
  );
  const script = fc.array(fc.record({ wait_monotonicMs: fc.integer({ min: 0, max: 90_000 }), event }), {
    minLength: 1,
    maxLength: 60,
  });
  it("never stays on longer than its auto-off after the last command, and reports what it is", () => {
    fc.assert(
      fc.property(script, (lines) => {
        const spec = {
          payloadOn: "ON",
          payloadOff: "OFF",
          payloadOnFor: "for {seconds}",
          autoOff_s: 60,
          powerOnState: "off",
        } as const;
        let state = relayDeviceAtPowerOn(spec, 0);
        let now_monotonicMs = 0;
        let lastCommand_monotonicMs = 0;
        for (const line of lines) {
          now_monotonicMs += line.wait_monotonicMs;
          const step = stepRelayDevice(spec, state, line.event, { now_monotonicMs, faults: [] });
          state = step.state;
          if (line.event.kind === "command") lastCommand_monotonicMs = now_monotonicMs;
          const last = step.reports.at(-1);
          if (last !== undefined) expect(last).toBe(state.contactClosed);
          if (state.contactClosed) {
            expect(now_monotonicMs - lastCommand_monotonicMs).toBeLessThan(60_000);
            expect(relayDeviceDueAt_monotonicMs(state)).toBeLessThanOrEqual(lastCommand_monotonicMs + 60_000);
          }
        }
      }),
      { seed, numRuns: 500 },
    );
  });
});
