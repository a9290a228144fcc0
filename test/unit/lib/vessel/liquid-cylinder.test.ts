import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  cylinderGas_kg,
  liquidCylinderRunOut,
  liquidCylinderState,
  type LiquidCylinder,
} from "../../../../lib/vessel/liquid-cylinder.js";

const cylinder = (co2_kg: number, more: Partial<LiquidCylinder> = {}): LiquidCylinder => ({
  volume_L: 0.75,
  co2_kg,
  temperature_degC: 20,
  ...more,
});

describe("a liquid cylinder", () => {
  it("shows the same pressure until its liquid has gone, and less from then on", () => {
    const full = liquidCylinderState(cylinder(0.5));
    const nearly = liquidCylinderState(cylinder(0.15));
    const gas = liquidCylinderState(cylinder(0.14));
    expect(full.kind).toBe("liquid-and-gas");
    expect(nearly.pressureAbsolute_bar).toBe(full.pressureAbsolute_bar);
    expect(gas.kind).toBe("gas-only");
    expect(gas.liquid_kg).toBe(0);
    expect(gas.pressureAbsolute_bar).toBeLessThan(full.pressureAbsolute_bar);
    expect(liquidCylinderState(cylinder(0)).pressureAbsolute_bar).toBe(0);
  });

  it("has room for all of its mass and mass for all of its room", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.001, max: 0.5, noNaN: true }),
        fc.double({ min: -20, max: 30, noNaN: true }),
        (co2_kg, temperature_degC) => {
          const given = cylinder(co2_kg, { temperature_degC, volume_L: 1 });
          const state = liquidCylinderState(given);
          expect(state.liquid_kg + state.gas_kg).toBeCloseTo(co2_kg, 12);
          expect(state.liquidVolume_L).toBeLessThan(1);
          const all_kg = liquidCylinderState({ ...given, co2_kg: co2_kg / 2 });
          expect(all_kg.pressureAbsolute_bar).toBeLessThanOrEqual(state.pressureAbsolute_bar);
        },
      ),
      { seed: 20_250_301, numRuns: 300 },
    );
  });

  it("reads back from its pressure the gas that makes it", () => {
    const gas_kg = cylinderGas_kg(cylinder(0));
    for (const co2_kg of [0.001, 0.02, 0.07, 0.12, 0.14]) {
      const { pressureAbsolute_bar } = liquidCylinderState(cylinder(co2_kg));
      expect(gas_kg(pressureAbsolute_bar)).toBeCloseTo(co2_kg, 9);
    }
    expect(() => gas_kg(58)).toThrow(expect.objectContaining({ quantity: "cylinder pressure" }));
  });

  it.each<readonly [string, LiquidCylinder, string]>([
    ["above the critical point", cylinder(0.3, { temperature_degC: 31 }), "cylinder temperature"],
    ["filled beyond 0.68 kg/L", cylinder(0.52), "CO2 in the cylinder"],
    [
      "so full that liquid leaves no room at 29 degC",
      cylinder(0.5, { temperature_degC: 29 }),
      "CO2 in the cylinder",
    ],
    ["of negative contents", cylinder(-0.01), "CO2 in the cylinder"],
    ["whose limit is beyond any rule", cylinder(0.3, { fillingLimit_kgPerL: 0.9 }), "filling limit"],
    ["without volume", cylinder(0.3, { volume_L: 0 }), "cylinder volume"],
  ])("is refused %s", (_name, given, quantity) => {
    expect(() => liquidCylinderState(given)).toThrow(expect.objectContaining({ quantity }));
  });

  it("may be filled to the limit of its own marking", () => {
    expect(liquidCylinderState(cylinder(0.55, { fillingLimit_kgPerL: 0.745 })).kind).toBe("liquid-and-gas");
  });
});

describe("the days that a liquid cylinder lasts", () => {
  const use = {
    co2_gPerDay: 2,
    accuracy_gPerDay: 0.2,
    massAccuracy_kg: 0.005,
    leastInletGauge_bar: 3,
  };

  it("are its mass above the reserve over the use, and the liquid goes first", () => {
    const lasts = liquidCylinderRunOut(cylinder(0.5), use);
    // Vapour 194.2 kg/m3 at 20 degC: 145.7 g stay in 0.75 L when the liquid has gone; at 4.01 bar 7.4 kg/m3.
    expect(lasts.liquidLasts.value_days).toBeCloseTo((500 - 145.65) / 2, 0);
    expect(lasts.gasLasts.value_days).toBeCloseTo((500 - 5.55) / 2, 0);
    expect(lasts.gasLasts.low_days).toBeCloseTo((495 - 5.55) / 2.2, 0);
    expect(lasts.gasLasts.high_days).toBeCloseTo((505 - 5.55) / 1.8, 0);
    expect(lasts.deliverable_kg).toBeCloseTo(0.49445, 4);
  });

  it("are none when it is at the reserve", () => {
    const lasts = liquidCylinderRunOut(cylinder(0.004), { ...use, massAccuracy_kg: 0.001 });
    expect(lasts.liquidLasts).toEqual({ value_days: 0, low_days: 0, high_days: 0 });
    expect(lasts.gasLasts.value_days).toBe(0);
    expect(lasts.deliverable_kg).toBe(0);
  });

  it.each([
    ["no use", { ...use, co2_gPerDay: 0 }, "daily use of CO2"],
    ["an error as large as the use", { ...use, accuracy_gPerDay: 2 }, "error of the daily use"],
    ["a negative error of the scale", { ...use, massAccuracy_kg: -1 }, "error of the mass"],
    ["a reserve above the full pressure", { ...use, leastInletGauge_bar: 60 }, "cylinder pressure"],
  ] as const)("cannot be told for %s", (_name, given, quantity) => {
    expect(() => liquidCylinderRunOut(cylinder(0.5), given)).toThrow(expect.objectContaining({ quantity }));
  });
});
