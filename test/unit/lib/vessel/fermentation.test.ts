import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  fermentationForecast,
  fermentationHeldAt_mol,
  fermentationState,
  type FermentationCharge,
} from "../../../../lib/vessel/fermentation.js";

const charge = (sucrose_g: number, more: Partial<FermentationCharge> = {}): FermentationCharge => ({
  vesselVolume_L: 2,
  water_kg: 1,
  sucrose_g,
  sealedAt_degC: 20,
  ...more,
});
const wanted = { temperature_degC: 20, leastWorkingGauge_bar: 15 };

describe("a closed vessel of sugar and yeast", () => {
  it("makes four CO2 of each sucrose that ferments, in gas and water", () => {
    const state = fermentationState(charge(100), { temperature_degC: 20, fermented_ratio: 0.5 });
    expect(state.co2Made_mol).toBeCloseTo((4 * 50) / 342.297, 9);
    expect(state.co2Gas_mol + state.co2Dissolved_mol).toBeCloseTo(state.co2Made_mol, 12);
    expect(state.fermented_ratio).toBeCloseTo(0.5, 9);
  });

  it("holds the air it was closed with when nothing ferments", () => {
    const state = fermentationState(charge(0), { temperature_degC: 20, fermented_ratio: 1 });
    // 1 atm of dry air and the vapour of water at 20 degC, 0.0234 bar.
    expect(state.pressureGauge_bar).toBeCloseTo(0.0234, 3);
    expect(state.co2Made_mol).toBeCloseTo(0, 12);
  });

  it("has more pressure with more sugar, with more of it fermented, and when warmer", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1, max: 120, noNaN: true }),
        fc.double({ min: 0.05, max: 0.9, noNaN: true }),
        fc.double({ min: 0, max: 40, noNaN: true }),
        fc.double({ min: 0.3, max: 1.2, noNaN: true }),
        (sucrose_g, fermented_ratio, temperature_degC, water_kg) => {
          const at = { temperature_degC, fermented_ratio };
          const given = charge(sucrose_g, { water_kg });
          const pressure_bar = fermentationState(given, at).pressureAbsolute_bar;
          const more = [
            fermentationState({ ...given, sucrose_g: sucrose_g * 1.1 }, at),
            fermentationState(given, { ...at, fermented_ratio: fermented_ratio * 1.1 }),
            fermentationState(given, { ...at, temperature_degC: temperature_degC + 4 }),
          ];
          for (const state of more) expect(state.pressureAbsolute_bar).toBeGreaterThan(pressure_bar);
        },
      ),
      { seed: 20_250_301, numRuns: 200 },
    );
  });
});

describe("the forecast for sugar and yeast", () => {
  it("stops growth at 15 g/L dissolved, with the published stops on either side", () => {
    const forecast = fermentationForecast(charge(150), wanted);
    expect(forecast.plateau.dissolved_gPerL).toBeCloseTo(15, 9);
    expect(forecast.plateauEndsWith).toBe("growth");
    expect(forecast.plateauLow.pressureGauge_bar).toBeLessThan(forecast.plateau.pressureGauge_bar);
    expect(forecast.plateauHigh.pressureGauge_bar).toBeGreaterThan(forecast.plateau.pressureGauge_bar);
    expect(forecast.plateauHigh.pressureGauge_bar).toBeLessThanOrEqual(
      forecast.fullConversion.pressureGauge_bar,
    );
    expect(forecast.verdict).toEqual({ kind: "not-expected-to-reach", evidence: "weak" });
  });

  it("takes the lowest stop back out at the pressure that went in", () => {
    // 6 atm of CO2 at 15 degC; besides it air closed in at 1 atm and 20 degC, and 0.017 bar of vapour.
    const forecast = fermentationForecast(charge(150), { ...wanted, temperature_degC: 15 });
    const air_bar = 1.01325 * (288.15 / 293.15) + 0.017;
    const co2_bar = forecast.plateauLow.pressureAbsolute_bar - air_bar;
    expect(Math.abs(co2_bar / 6.08 - 1)).toBeLessThan(0.01);
  });

  it("puts the plateau higher in a warmer vessel", () => {
    const at = (temperature_degC: number): number =>
      fermentationForecast(charge(150), { ...wanted, temperature_degC }).plateau.pressureGauge_bar;
    expect(at(15)).toBeLessThan(at(20));
    expect(at(20)).toBeLessThan(at(25));
  });

  it.each([
    {
      sucrose_g: 30,
      least_bar: 3,
      kind: "may-reach",
      ends: "sugar",
      because: "there is enough sugar for that",
    },
    {
      sucrose_g: 30,
      least_bar: 15,
      kind: "cannot-reach",
      ends: "sugar",
      because: "there is too little sugar",
    },
    { sucrose_g: 150, least_bar: 15, kind: "not-expected-to-reach", ends: "growth", because: "yeast stops" },
    { sucrose_g: 150, least_bar: 8, kind: "may-reach", ends: "growth", because: "the plateau is higher" },
  ])("says $kind for $sucrose_g g and $least_bar bar: $because", ({ sucrose_g, least_bar, kind, ends }) => {
    const forecast = fermentationForecast(charge(sucrose_g), {
      temperature_degC: 20,
      leastWorkingGauge_bar: least_bar,
    });
    expect(forecast.verdict.kind).toBe(kind);
    expect(forecast.verdict.evidence).toBe(kind === "cannot-reach" ? "mass-balance" : "weak");
    expect(forecast.plateauEndsWith).toBe(ends);
  });

  it("counts every gram for safety, with 6 % on top", () => {
    const { fullConversion, fullConversionUpperAbsolute_bar } = fermentationForecast(charge(150), wanted);
    expect(fullConversion.fermented_ratio).toBeCloseTo(1, 9);
    expect(fullConversionUpperAbsolute_bar).toBeCloseTo(1.06 * fullConversion.pressureAbsolute_bar, 9);
  });

  it("names the most sugar that it can answer for, and answers for that", () => {
    const refused = (): unknown => fermentationForecast(charge(900), wanted);
    expect(refused).toThrow(expect.objectContaining({ quantity: "sucrose", value: 900, unit: "g" }));
    let most_g = 0;
    try {
      refused();
    } catch (error) {
      most_g = (error as { maximum: number }).maximum;
    }
    expect(most_g).toBeGreaterThan(250);
    expect(() => fermentationForecast(charge(most_g * 0.9999), wanted)).not.toThrow();
    expect(() => fermentationForecast(charge(most_g * 1.0001), wanted)).toThrow();
  });

  it("knows what stays behind at a pressure: nothing at that of the air, all of it above full conversion", () => {
    const held = (pressureGauge_bar: number): number =>
      fermentationHeldAt_mol(charge(100), { temperature_degC: 20, pressureGauge_bar });
    expect(held(0)).toBe(0);
    expect(held(50)).toBeCloseTo((4 * 100) / 342.297, 9);
    for (const fermented_ratio of [0.2, 0.6]) {
      const at = fermentationState(charge(100), { temperature_degC: 20, fermented_ratio });
      expect(held(at.pressureGauge_bar)).toBeCloseTo(at.co2Made_mol, 8);
    }
    expect(() => held(-1)).toThrow(expect.objectContaining({ quantity: "pressure", unit: "bar" }));
  });

  it("gives the dissolved CO2 a volume of its own, 34 cm3 a mole", () => {
    const given = charge(100);
    const none = fermentationState(given, { temperature_degC: 20, fermented_ratio: 0 });
    const all = fermentationState(given, { temperature_degC: 20, fermented_ratio: 1 });
    // Beside it the sugar's volume goes and the ethanol's comes, and water is used up: 2 cm3 less a mole of CO2.
    const shrunk_L = none.gasVolume_L - all.gasVolume_L;
    expect(Math.abs(shrunk_L - 0.034 * all.co2Dissolved_mol)).toBeLessThan(0.003 * all.co2Made_mol);
  });

  it.each<readonly [string, FermentationCharge, number, string]>([
    ["negative sugar", charge(-1), 20, "sucrose"],
    ["water that does not fit", charge(50, { water_kg: 2 }), 20, "water"],
    ["sugar that does not fit beside the water", charge(400, { water_kg: 1.85 }), 20, "sucrose"],
    ["a frozen vessel", charge(50), -1, "temperature"],
    ["a hot vessel", charge(50), 46, "temperature"],
    ["no vessel", charge(50, { vesselVolume_L: 0 }), 20, "vessel volume"],
  ])("refuses %s", (_name, given, temperature_degC, quantity) => {
    expect(() => fermentationForecast(given, { ...wanted, temperature_degC })).toThrow(
      expect.objectContaining({ quantity }),
    );
  });
});
