import { describe, expect, it } from "vitest";
import { configuredCharge, type ChargeKeys } from "../../../../daemon/config/configured-charge.js";
import { residualLiquorOf } from "../../../../lib/charge-plan/residual-liquor.js";

const keys: ChargeKeys = {
  sodiumBicarbonate_g: 80,
  citricAcidAnhydrous_g: 66,
  water_kg: 0.5,
  closedWith: "water",
  sealedAt_degC: 20,
};
const plain = {
  vesselVolume_L: 2,
  water_kg: 0.5,
  acid: { kind: "citric-acid-anhydrous", mass_g: 66 },
  sodiumBicarbonate_g: 80,
  sealedAt_degC: 20,
} as const;

describe("the charge of a config", () => {
  it("is what was weighed", () => {
    expect(configuredCharge(2, keys)).toEqual(plain);
  });

  it("has its acid as the bag names it", () => {
    const { sodiumBicarbonate_g, water_kg, closedWith, sealedAt_degC } = keys;
    const hydrated = {
      sodiumBicarbonate_g,
      citricAcidMonohydrate_g: 72,
      water_kg,
      closedWith,
      sealedAt_degC,
    };
    expect(configuredCharge(2, hydrated).acid).toEqual({
      kind: "citric-acid-monohydrate",
      mass_g: 72,
    });
  });

  it("has all its water as ice where it was closed with ice", () => {
    expect(configuredCharge(2, { ...keys, closedWith: "ice" })).toEqual({
      ...plain,
      water_kg: 0,
      ice_kg: 0.5,
    });
  });

  it("takes liquor that was left in as that of the same recipe", () => {
    expect(configuredCharge(2, { ...keys, residualLiquor_L: 0.1 }).residualLiquor).toEqual(
      residualLiquorOf(plain, { volume_L: 0.1, temperature_degC: 20 }),
    );
  });
});
