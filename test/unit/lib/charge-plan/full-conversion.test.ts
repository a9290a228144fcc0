import { describe, expect, it } from "vitest";
import { fullConversion } from "../../../../lib/charge-plan/full-conversion.js";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { absoluteFromGauge_bar, pressureFromBar } from "../../../../lib/quantities/units.js";
import { vesselInventory, type Charge } from "../../../../lib/vessel/charge.js";
import { readReference } from "../../../reference/read-reference.js";

interface ChargeRow {
  readonly recipe: string;
  readonly citricAcid_g: number;
  readonly sodiumBicarbonate_g: number;
  readonly water_kg: number;
  readonly vesselVolume_L: number;
  readonly temperature_degC: number;
  readonly pressureAbsolute_bar: number;
}

const table = readReference<ChargeRow>("sealed-vessel-charge.json");

const inventoryOf = (row: Omit<ChargeRow, "recipe" | "pressureAbsolute_bar">) => {
  const charge: Charge = {
    vesselVolume_L: row.vesselVolume_L,
    water_kg: row.water_kg,
    acid: { kind: "citric-acid-anhydrous", mass_g: row.citricAcid_g },
    sodiumBicarbonate_g: row.sodiumBicarbonate_g,
    sealedAt_degC: row.temperature_degC,
  };
  return vesselInventory(charge);
};

const absolute_bar = (row: ChargeRow): number =>
  absoluteFromGauge_bar(fullConversion(inventoryOf(row), row.temperature_degC).pressureGauge_bar);

describe(`full conversion against ${table.source}`, () => {
  it.each(table.rows)("is not below the equilibrium of $recipe at $temperature_degC degC", (row) => {
    // The gas of the table reads up to 0.8 % low, and solubility may differ by 1 %.
    expect(absolute_bar(row)).toBeGreaterThan(0.99 * row.pressureAbsolute_bar);
  });

  it.each(table.rows.filter(({ recipe }) => recipe === "R17"))(
    "meets the equilibrium of $recipe at $temperature_degC degC, whose acid leaves a thousandth unreacted",
    (row) => {
      expect(Math.abs(absolute_bar(row) / row.pressureAbsolute_bar - 1)).toBeLessThan(0.03);
    },
  );
});

describe("full conversion", () => {
  const charge = {
    citricAcid_g: 106.7,
    sodiumBicarbonate_g: 140,
    water_kg: 0.5,
    vesselVolume_L: 2,
    temperature_degC: 20,
  };

  it.each([
    { sodiumBicarbonate_g: 100, water_kg: 0.5, temperature_degC: 20, low: 13.9, high: 15.6 },
    { sodiumBicarbonate_g: 140, water_kg: 0.3, temperature_degC: 20, low: 19.3, high: 20.5 },
    { sodiumBicarbonate_g: 140, water_kg: 0.5, temperature_degC: 20, low: 19.8, high: 22.0 },
    { sodiumBicarbonate_g: 140, water_kg: 0.6, temperature_degC: 20, low: 20.1, high: 22.8 },
    { sodiumBicarbonate_g: 120, water_kg: 0.5, temperature_degC: 40, low: 19.8, high: 21.4 },
    { sodiumBicarbonate_g: 200, water_kg: 0.5, temperature_degC: 20, low: 28.4, high: 31.0 },
  ])(
    "lies between full and half salting-out: $sodiumBicarbonate_g g, $water_kg kg, $temperature_degC degC",
    ({ low, high, ...row }) => {
      // CO2 alone by Span and Wagner (CoolProp 8.0.0) over water by Carroll 1991, whose solubility is multiplied by 1.0 or 0.5.
      const inventory = inventoryOf({
        ...charge,
        ...row,
        citricAcid_g: row.sodiumBicarbonate_g * 0.7623,
      });
      const gauge_bar = fullConversion({ ...inventory, air_mol: 0 }, row.temperature_degC).pressureGauge_bar;
      const gauge = pressureFromBar(absoluteFromGauge_bar(gauge_bar), "kgf/cm2") - 1.0332;
      expect(gauge).toBeGreaterThan(low);
      expect(gauge).toBeLessThan(high);
    },
  );

  it("counts only what a short acid reaches", () => {
    const short = fullConversion(inventoryOf({ ...charge, citricAcid_g: 53.35 }), 20).pressureGauge_bar;
    const whole = fullConversion(inventoryOf(charge), 20).pressureGauge_bar;
    expect(short).toBeGreaterThan(0.4 * whole);
    expect(short).toBeLessThan(0.6 * whole);
  });

  it("has no end of pressure where the CO2 does not stay a gas", () => {
    const inventory = inventoryOf({ ...charge, citricAcid_g: 460, sodiumBicarbonate_g: 600 });
    expect(fullConversion(inventory, 10).pressureGauge_bar).toBe(Infinity);
  });

  it("has only air and vapour without bicarbonate", () => {
    const inventory = inventoryOf({ ...charge, citricAcid_g: 50, sodiumBicarbonate_g: 0 });
    // Saturated vapour at 20 degC is 23.4 mbar (CRC Handbook).
    const { pressureGauge_bar } = fullConversion(inventory, 20);
    expect(pressureGauge_bar).toBeGreaterThan(0.01);
    expect(pressureGauge_bar).toBeLessThan(0.06);
  });

  it.each([-1, 46])("refuses %d degC", (temperature_degC) => {
    expect(() => fullConversion(inventoryOf(charge), temperature_degC)).toThrow(OutOfValidRangeError);
  });
});
