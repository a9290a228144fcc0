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
  });
});
