import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import {
  createChargePressureMap,
  type PressureCause,
} from "../../../../lib/estimation/charge-pressure-map.js";
import type { Charge } from "../../../../lib/vessel/charge.js";
import { depletionCurve } from "../../../../lib/vessel/depletion.js";

const charge: Charge = {
  vesselVolume_L: 2,
  water_kg: 0.5,
  acid: { kind: "citric-acid-anhydrous", mass_g: 120 },
  sodiumBicarbonate_g: 140,
  sealedAt_degC: 20,
};
const map = createChargePressureMap(charge);
const whole_g = map.co2Available_g;

const cause = (given: Partial<PressureCause> = {}): PressureCause => ({
  reacted_g: whole_g,
  atFirst_g: whole_g,
  temperature_degC: 20,
  retained_ratio: 1,
  air_ratio: 1,
  airHaste_ratio: 1,
  ...given,
});

describe("pressure of a charge as a table", () => {
  it.each([
    { temperature_degC: 4, limit: 0.008, because: "between rows, where solubility bends most" },
    { temperature_degC: 13, limit: 0.004, because: "a cool room" },
    { temperature_degC: 22.4, limit: 0.003, because: "an ordinary room, between rows" },
    { temperature_degC: 31, limit: 0.003, because: "a summer's day" },
  ])("follows the depletion curve at $temperature_degC degC: $because", ({ temperature_degC, limit }) => {
    const curve = depletionCurve(charge, { temperature_degC, withdrawal: "headspace" });
    for (const removed of [0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.92]) {
      const solved = curve.afterRemoving(removed * curve.co2Available_mol).pressureAbsolute_bar;
      const looked = map.pressureOf(cause({ reacted_g: (1 - removed) * whole_g, temperature_degC }));
      expect(Math.abs(looked.pressureAbsolute_bar / solved - 1)).toBeLessThan(limit);
    }
  });

  it.each([
    { slope: "reacted", key: "reacted_g", step: 0.01 },
    { slope: "atFirst", key: "atFirst_g", step: 0.01 },
    { slope: "temperature", key: "temperature_degC", step: 0.01 },
    { slope: "retained", key: "retained_ratio", step: 0.001 },
    { slope: "air", key: "air_ratio", step: 0.001 },
    { slope: "airHaste", key: "airHaste_ratio", step: 0.001 },
  ] as const)("gives the slope with $key that a small step shows", ({ slope, key, step }) => {
    const at = cause({
      reacted_g: 0.8 * whole_g,
      temperature_degC: 22.2,
      retained_ratio: 1.1,
      air_ratio: 0.7,
    });
    const up = map.pressureOf({ ...at, [key]: at[key] + step }).pressureAbsolute_bar;
    const down = map.pressureOf({ ...at, [key]: at[key] - step }).pressureAbsolute_bar;
    expect(map.pressureOf(at).slopes[slope] / ((up - down) / (2 * step))).toBeCloseTo(1, 1);
  });

  it("keeps the air whole until gas is drawn, and loses it faster where it lies at the outlet", () => {
    const air = (reacted: number, airHaste_ratio: number): number =>
      map.pressureOf(cause({ reacted_g: reacted * whole_g, airHaste_ratio })).air_g;
    expect(air(1, 1.4)).toBe(air(1, 1));
    expect(air(0.7, 1)).toBeLessThan(air(1, 1));
    expect(air(0.7, 1.4)).toBeLessThan(air(0.7, 1));
  });

  it("answers at the edge for what lies outside its span", () => {
    const spent = map.pressureOf(cause({ reacted_g: -5 })).pressureAbsolute_bar;
    expect(spent).toBe(map.pressureOf(cause({ reacted_g: 0 })).pressureAbsolute_bar);
    expect(map.pressureOf(cause({ temperature_degC: -8 })).pressureAbsolute_bar).toBe(
      map.pressureOf(cause({ temperature_degC: 0 })).pressureAbsolute_bar,
    );
  });

  it("is made for a charge with more bicarbonate than its cold water dissolves", () => {
    const crusted = createChargePressureMap({
      vesselVolume_L: 2.7,
      water_kg: 0.3,
      acid: { kind: "citric-acid-monohydrate", mass_g: 163 },
      sodiumBicarbonate_g: 211,
      sealedAt_degC: 24.5,
    });
    const pressures = [0, 0.2, 0.4, 0.6, 0.8, 1].map(
      (share) =>
        crusted.pressureOf(
          cause({ reacted_g: share * crusted.co2Available_g, atFirst_g: crusted.co2Available_g }),
        ).pressureAbsolute_bar,
    );
    expect(pressures).toEqual([...pressures].sort((a, b) => a - b));
  });

  it("refuses a charge that gives nothing", () => {
    expect(() => createChargePressureMap({ ...charge, sodiumBicarbonate_g: 0 })).toThrow(
      OutOfValidRangeError,
    );
  });
});
