import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { sealedGasSpace_L, vesselInventory, type Charge } from "../../../../lib/vessel/charge.js";

const ordinary: Charge = {
  vesselVolume_L: 2,
  water_kg: 0.5,
  acid: { kind: "citric-acid-anhydrous", mass_g: 120 },
  sodiumBicarbonate_g: 140,
  sealedAt_degC: 20,
};

describe("a charge", () => {
  it("leaves the gas what water and crystals do not fill", () => {
    // 2 - 0.5 / 0.99821 - 0.120 / 1.665 - 0.140 / 2.2
    expect(sealedGasSpace_L(ordinary)).toBeCloseTo(1.3634, 4);
  });

  it("shuts in dry air at 1 atm", () => {
    expect(vesselInventory(ordinary).air_mol).toBeCloseTo((1.01325 * 1.3634) / (0.0831446 * 293.15), 5);
  });

  it.each([
    ["less air when sealed warm", { sealedAt_degC: 40 }, (1.01325 * 1.3595) / (0.0831446 * 313.15)],
    ["the stated air instead", { trappedAir_mol: 0.001 }, 0.001],
  ])("shuts in %s", (_name, change, expected) => {
    expect(vesselInventory({ ...ordinary, ...change }).air_mol).toBeCloseTo(expected, 4);
  });

  it("counts the water of crystallisation, and the same acid either way", () => {
    const mono = vesselInventory({
      ...ordinary,
      acid: { kind: "citric-acid-monohydrate", mass_g: (120 * 210.138) / 192.123 },
    });
    const anhydrous = vesselInventory(ordinary);
    expect(mono.citrate_mol).toBeCloseTo(anhydrous.citrate_mol, 12);
    expect(mono.waterBasis_mol - anhydrous.waterBasis_mol).toBeCloseTo(mono.citrate_mol, 12);
  });

  it("counts ice as water, in the larger volume of ice", () => {
    const icy = { ...ordinary, water_kg: 0.1, ice_kg: 0.4 };
    expect(vesselInventory(icy).waterBasis_mol).toBeCloseTo(vesselInventory(ordinary).waterBasis_mol, 10);
    expect(sealedGasSpace_L(icy)).toBeLessThan(sealedGasSpace_L(ordinary) - 0.03);
  });

  it.each([
    [120, 140, 140 / 84.006, "acid in excess: all of the bicarbonate"],
    [80, 140, (3 * 80) / 192.123, "bicarbonate in excess: three times the acid"],
    [0, 140, 0, "no acid"],
    [120, 0, 0, "no bicarbonate"],
  ])("of %d g acid and %d g bicarbonate can set free %d mol (%s)", (acid_g, bicarbonate_g, expected) => {
    const { co2Available_mol } = vesselInventory({
      ...ordinary,
      acid: { kind: "citric-acid-anhydrous", mass_g: acid_g },
      sodiumBicarbonate_g: bicarbonate_g,
    });
    expect(co2Available_mol).toBeCloseTo(expected, 10);
  });

  const acid = (mass_g: number): Partial<Charge> => ({ acid: { kind: "citric-acid-anhydrous", mass_g } });
  const liquor = {
    volume_L: 0.1,
    citrate_mol: 0.1,
    sodium_mol: 0.3,
    inorganicCarbon_mol: 0,
    waterBasis_mol: 5,
  };
  it.each<readonly [string, Partial<Charge>, string, string]>([
    ["negative acid", acid(-1), "citric acid", "g"],
    ["acid that is no number", acid(Number.NaN), "citric acid", "g"],
    ["negative bicarbonate", { sodiumBicarbonate_g: -1 }, "sodium bicarbonate", "g"],
    ["negative water", { water_kg: -0.1 }, "water", "kg"],
    ["no water", { water_kg: 0 }, "water", "kg"],
    ["water that does not fit", { water_kg: 1.8 }, "water", "kg"],
    ["ice that does not fit beside the water", { water_kg: 1.2, ice_kg: 0.6 }, "water", "kg"],
    ["negative ice", { ice_kg: -0.1 }, "ice", "kg"],
    [
      "solids that overfill it",
      { ...acid(2000), sodiumBicarbonate_g: 2000 },
      "citric acid and sodium bicarbonate together",
      "g",
    ],
    ["a vessel of no volume", { vesselVolume_L: 0 }, "vessel volume", "L"],
    ["a vessel beyond the hobby", { vesselVolume_L: 60 }, "vessel volume", "L"],
    ["sealing in a furnace", { sealedAt_degC: 60 }, "sealing temperature", "degC"],
    ["too little water for the acid", { ...acid(300), water_kg: 0.1 }, "citric acid in the water", "mol/kg"],
    ["negative air", { trappedAir_mol: -0.1 }, "trapped air", "mol"],
    [
      "residual liquor above the brim",
      { residualLiquor: { ...liquor, volume_L: 3 } },
      "residual liquor",
      "L",
    ],
    [
      "negative citrate left in",
      { residualLiquor: { ...liquor, citrate_mol: -1 } },
      "citrate in the residual liquor",
      "mol",
    ],
  ])("is refused for %s, with quantity, value, unit and range", (_name, change, quantity, unit) => {
    let caught: unknown;
    try {
      vesselInventory({ ...ordinary, ...change });
    } catch (error) {
      caught = error;
    }
    expect(caught).toBeInstanceOf(OutOfValidRangeError);
    expect(caught).toMatchObject({ quantity, unit });
    const { value, minimum, maximum } = caught as OutOfValidRangeError;
    expect(maximum).toBeGreaterThanOrEqual(minimum);
    expect(value >= minimum && value <= maximum).toBe(false);
  });

  it("is accepted at the limit that the refusal named", () => {
    let limit_kg = 0;
    try {
      sealedGasSpace_L({ ...ordinary, water_kg: 1.9 });
    } catch (error) {
      limit_kg = (error as OutOfValidRangeError).maximum;
    }
    expect(sealedGasSpace_L({ ...ordinary, water_kg: limit_kg })).toBeCloseTo(0.1, 10);
    expect(() => sealedGasSpace_L({ ...ordinary, water_kg: limit_kg + 1e-6 })).toThrow(OutOfValidRangeError);
  });
});
