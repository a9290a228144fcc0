import { describe, expect, it } from "vitest";
import { closedWith, freshReadyAfter } from "../../../../lib/refill/fresh-ready.js";
import type { Charge } from "../../../../lib/vessel/charge.js";

const charge: Charge = {
  vesselVolume_L: 2,
  water_kg: 0.5,
  acid: { kind: "citric-acid-anhydrous", mass_g: 66 },
  sodiumBicarbonate_g: 80,
  sealedAt_degC: 18,
};

describe("a fresh charge", () => {
  it("keeps its mass of water when it is closed with ice, and back", () => {
    const withIce = closedWith(charge, "ice");
    expect(withIce).toMatchObject({ water_kg: 0, ice_kg: 0.5 });
    expect(closedWith(withIce, "water")).toEqual(charge);
  });

  it("is ready in a couple of hours with water, about a day with ice (common practice, no source)", () => {
    const withWater = freshReadyAfter(charge, "water", 18);
    const withIce = freshReadyAfter(charge, "ice", 18);
    expect(withWater?.value_h).toBeGreaterThan(1);
    expect(withWater?.value_h).toBeLessThan(4);
    expect(withIce?.value_h).toBeGreaterThan(14);
    expect(withIce?.value_h).toBeLessThan(36);
    expect(withIce?.high_h).toBeCloseTo(4 * (withIce?.low_h ?? 0), 9);
  });

  it.each([
    { room_degC: 2, because: "below the model's room" },
    { room_degC: Number.NaN, because: "no temperature" },
  ])("is not forecast: $because", ({ room_degC }) => {
    expect(freshReadyAfter(charge, "water", room_degC)).toBeUndefined();
  });

  it("is not forecast with ice that does not fit", () => {
    expect(freshReadyAfter({ ...charge, water_kg: 1.8 }, "ice", 18)).toBeUndefined();
  });
});
