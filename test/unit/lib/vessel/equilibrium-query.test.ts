import { describe, expect, it } from "vitest";
import { chargeEquilibrium } from "../../../../lib/vessel/charge-equilibrium.js";
import { answerEquilibriumQuery, type EquilibriumQuery } from "../../../../lib/vessel/equilibrium-query.js";

const query: EquilibriumQuery = {
  charge: {
    vesselVolume_L: 2,
    water_kg: 1,
    acid: { kind: "citric-acid-anhydrous", mass_g: 80 },
    sodiumBicarbonate_g: 140,
    sealedAt_degC: 20,
  },
  temperature_degC: 20,
  removedCo2_mol: 0,
  withdrawal: "headspace",
};

describe("a question about an equilibrium", () => {
  it("is answered with the equilibrium and what remains to be freed", () => {
    const answer = answerEquilibriumQuery(query);
    const state = chargeEquilibrium(query.charge, 20);
    expect(answer).toMatchObject({
      kind: "equilibrium",
      pressureAbsolute_bar: state.pressureAbsolute_bar,
      co2Gas_mol: state.co2Gas_mol,
      co2Remaining_mol: (3 * 80) / 192.123,
      outsideModel: [],
    });
  });

  it("counts down what was removed, with less pressure when air has left too", () => {
    const removed = { ...query, removedCo2_mol: 0.5 };
    const headspace = answerEquilibriumQuery(removed);
    const co2Only = answerEquilibriumQuery({ ...removed, withdrawal: "co2-only" });
    if (headspace.kind !== "equilibrium" || co2Only.kind !== "equilibrium") throw new Error("answered");
    expect(headspace.co2Remaining_mol).toBeCloseTo((3 * 80) / 192.123 - 0.5, 12);
    expect(headspace.pressureAbsolute_bar).toBeLessThan(co2Only.pressureAbsolute_bar);
  });

  it("is answered for all that was available, however its sum was rounded", () => {
    const all_mol = (3 * 80) / 192.123;
    for (const removedCo2_mol of [all_mol, all_mol * (1 + 1e-12), all_mol * (1 - 1e-12)]) {
      expect(answerEquilibriumQuery({ ...query, removedCo2_mol })).toMatchObject({
        kind: "equilibrium",
        co2Remaining_mol: 0,
      });
    }
    expect(answerEquilibriumQuery({ ...query, removedCo2_mol: all_mol * (1 + 1e-6) }).kind).toBe("refused");
  });

  it.each([
    { water_kg: 0.15, acid_g: 70, bicarbonate_g: 100, vesselVolume_L: 1, temperature_degC: 10, removed: 0.5 },
    { water_kg: 0.2, acid_g: 43, bicarbonate_g: 70, vesselVolume_L: 2, temperature_degC: 5, removed: 0.3 },
    { water_kg: 0.2, acid_g: 60, bicarbonate_g: 100, vesselVolume_L: 2, temperature_degC: 15, removed: 0.2 },
  ])("is answered around the first crystals too: $bicarbonate_g g in $water_kg kg", (row) => {
    const { vesselVolume_L, water_kg, temperature_degC } = row;
    const charge = {
      vesselVolume_L,
      water_kg,
      acid: { kind: "citric-acid-anhydrous", mass_g: row.acid_g },
      sodiumBicarbonate_g: row.bicarbonate_g,
      sealedAt_degC: 20,
    } as const;
    // Every hundredth of the span, so that some step meets the corner in the solubility.
    for (let k = 0; k < 100; k += 1) {
      const removedCo2_mol = row.removed + 0.003 * k;
      for (const withdrawal of ["headspace", "co2-only"] as const) {
        expect(
          answerEquilibriumQuery({ charge, temperature_degC, removedCo2_mol, withdrawal }),
        ).toHaveProperty("kind", "equilibrium");
      }
    }
  });

  it.each<readonly [string, EquilibriumQuery, object]>([
    [
      "a temperature outside the model",
      { ...query, temperature_degC: 46 },
      { quantity: "temperature", value: 46, unit: "degC", minimum: 0, maximum: 45 },
    ],
    [
      "more removed than there was",
      { ...query, removedCo2_mol: 2 },
      { quantity: "removed CO2", value: 2, unit: "mol", minimum: 0 },
    ],
    [
      "negative bicarbonate",
      { ...query, charge: { ...query.charge, sodiumBicarbonate_g: -3 } },
      { quantity: "sodium bicarbonate", value: -3, unit: "g", minimum: 0 },
    ],
    [
      "water that does not fit",
      { ...query, charge: { ...query.charge, water_kg: 1.95 } },
      { quantity: "water", value: 1.95, unit: "kg" },
    ],
  ])("is refused as a value for %s", (_name, bad, fields) => {
    expect(answerEquilibriumQuery(bad)).toMatchObject({ kind: "refused", ...fields });
    expect(answerEquilibriumQuery(bad)).toHaveProperty("message", expect.stringContaining("allowed is"));
  });
});
