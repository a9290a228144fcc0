import { describe, expect, it } from "vitest";
import { planOutlooks } from "../../../../daemon/cli/plan-outlooks.js";
import type { Charge } from "../../../../lib/vessel/charge.js";

const charge: Charge = {
  vesselVolume_L: 2,
  water_kg: 0.5,
  acid: { kind: "citric-acid-anhydrous", mass_g: 82 },
  sodiumBicarbonate_g: 100,
  sealedAt_degC: 20,
};
const outlooks = planOutlooks({ room_degC: 18, workingPressureGauge_bar: 2.5 });

describe("the outlooks of a plan", () => {
  it("has the charge ready after a couple of hours with water and about a day with ice (common practice, no source)", () => {
    const water = outlooks.readyTime(charge);
    const ice = outlooks.readyTime({ ...charge, water_kg: 0, ice_kg: 0.5, sealedAt_degC: 0 });
    expect(water.value).toBeGreaterThan(1);
    expect(water.value).toBeLessThan(5);
    expect(ice.value).toBeGreaterThan(15);
    expect(ice.value).toBeLessThan(36);
    expect(ice.low * ice.high).toBeCloseTo(ice.value ** 2, 6);
  });

  it("says that the flow creeps up, less than on a bought cylinder", () => {
    const surge = outlooks.surge(charge);
    expect(surge.flowAtEnd_ratio).toBeGreaterThan(1.2);
    expect(surge.flowAtEnd_ratio).toBeLessThan(2.1);
    expect(surge.remark).toContain("2 to 7 %");
    expect(surge.remark).toContain("bought cylinder");
  });
});
