import { describe, expect, it } from "vitest";
import { planOutlooks } from "../../../../daemon/cli/plan-outlooks.js";
import type { ReadyTime, SurgeOutlook } from "../../../../lib/charge-plan/plan-request.js";
import type { Charge } from "../../../../lib/vessel/charge.js";

const charge: Charge = {
  vesselVolume_L: 2,
  water_kg: 0.5,
  acid: { kind: "citric-acid-anhydrous", mass_g: 82 },
  sodiumBicarbonate_g: 100,
  sealedAt_degC: 20,
};
type Regulator = NonNullable<Parameters<typeof planOutlooks>[0]["vessel"]["regulator"]>;

const outlooks = (regulator?: Regulator, room_degC = 18): ReturnType<typeof planOutlooks> =>
  planOutlooks({
    room_degC,
    vessel: { workingPressureGauge_bar: 2.5, ...(regulator === undefined ? {} : { regulator }) },
  });

function readyOf(given: Charge): ReadyTime {
  const ready = outlooks().readyTime(given);
  if (ready === undefined) throw new Error("not told");
  return ready;
}

function surgeOf(regulator?: Regulator, room_degC = 18): SurgeOutlook {
  const surge = outlooks(regulator, room_degC).surge(charge);
  if (surge === undefined) throw new Error("not told");
  return surge;
}

describe("the time until a charge is ready", () => {
  it("is a couple of hours with water and about a day with ice (common practice, no source)", () => {
    const water = readyOf(charge);
    const ice = readyOf({ ...charge, water_kg: 0, ice_kg: 0.5, sealedAt_degC: 0 });
    expect(water.value).toBeGreaterThan(1);
    expect(water.value).toBeLessThan(5);
    expect(ice.value).toBeGreaterThan(15);
    expect(ice.value).toBeLessThan(36);
    expect(ice.low * ice.high).toBeCloseTo(ice.value ** 2, 6);
  });

  it("lies in between with water and ice", () => {
    const mixed = readyOf({ ...charge, water_kg: 0.3, ice_kg: 0.2, sealedAt_degC: 0 });
    expect(mixed.value).toBeGreaterThan(readyOf(charge).value);
    expect(mixed.value).toBeLessThan(
      readyOf({ ...charge, water_kg: 0, ice_kg: 0.5, sealedAt_degC: 0 }).value,
    );
  });

  it.each([
    { vesselVolume_L: 8.6, ice_kg: 0.41, bicarbonate_g: 67.8, because: "a large warm body over little ice" },
    { vesselVolume_L: 2, ice_kg: 0.5, bicarbonate_g: 60, because: "an ordinary charge" },
  ])("is told in the hottest room as well: $because", ({ vesselVolume_L, ice_kg, bicarbonate_g }) => {
    const iced: Charge = {
      vesselVolume_L,
      water_kg: 0,
      ice_kg,
      acid: { kind: "citric-acid-anhydrous", mass_g: 0.8233 * bicarbonate_g },
      sodiumBicarbonate_g: bicarbonate_g,
      sealedAt_degC: 0,
    };
    const ready = outlooks(undefined, 45).readyTime(iced);
    expect(ready?.value).toBeGreaterThan(5);
    expect(ready?.value).toBeLessThan(48);
  });

  it("is not told for a room too cold for the model of it", () => {
    expect(outlooks(undefined, 3).readyTime(charge)).toBeUndefined();
  });
});

describe("the flow near the end", () => {
  it("creeps up, less than on a bought cylinder, for the small single stage that is assumed", () => {
    const surge = surgeOf();
    expect(surge.flowAtEnd_ratio).toBeGreaterThan(1.2);
    expect(surge.flowAtEnd_ratio).toBeLessThan(2.1);
    expect(surge.flowAtEndLow_ratio).toBeLessThan(surge.flowAtEnd_ratio);
    expect(surge.cylinder?.flowAtEnd_ratio).toBeGreaterThan(surge.flowAtEnd_ratio);
    expect(surge.supplyPressureEffect_ratio).toEqual({ low: 0.02, high: 0.07 });
    expect(surge.remark).toContain("not stated and taken as 2 to 7 %");
    expect(surge.remark).toContain("bought cylinder");
  });

  it("is that of the regulator in the config: outlet rises by the effect times the fall of the inlet", () => {
    const surge = surgeOf({ kind: "single-stage", supplyPressureEffect_ratio: 0.03 });
    const rise_bar = surge.outletAtLargestGauge_bar - surge.outletAtFullGauge_bar;
    expect(surge.outletAtFullGauge_bar).toBeCloseTo(2.5, 9);
    // The definition of the supply-pressure effect, from the charge's own pressure: 14 to 15 bar at 18 degC.
    const full_bar = surge.largestAtInletGauge_bar + rise_bar / 0.03;
    expect(full_bar).toBeGreaterThan(13.5);
    expect(full_bar).toBeLessThan(15.5);
    expect(surge.supplyPressureEffect_ratio).toEqual({ low: 0.03, high: 0.03 });
    expect(surge.remark).toContain("a single-stage regulator with a supply-pressure effect of 3 %");
  });

  it("is lower at full when the screw was set at a lower inlet, and creeps by more of itself", () => {
    const effect = { kind: "single-stage", supplyPressureEffect_ratio: 0.05 } as const;
    const atFull = surgeOf(effect);
    const atFive = surgeOf({ ...effect, setAtInletGauge_bar: 5 });
    expect(atFive.outletAtFullGauge_bar).toBeLessThan(atFull.outletAtFullGauge_bar - 0.4);
    expect(atFive.flowAtEnd_ratio).toBeGreaterThan(atFull.flowAtEnd_ratio);
    expect(atFive.cylinder).toEqual(atFull.cylinder);
  });

  it("is steady behind a two-stage regulator", () => {
    const surge = surgeOf({ kind: "two-stage", supplyPressureEffect_ratio: 0.0005 });
    expect(surge.flowAtEndLow_ratio).toBeGreaterThanOrEqual(1);
    expect(surge.flowAtEnd_ratio).toBeLessThan(1.1);
    expect(surge.verdict).toBe("steady");
    expect(surgeOf({ kind: "two-stage" }).remark).toContain("taken as 0.01 to 0.1 %");
  });

  it.each([
    { room_degC: 29.5, because: "liquid fills the cylinder" },
    { room_degC: 33, because: "CO2 has no liquid" },
  ])("has no cylinder to compare with at $room_degC degC, where $because", ({ room_degC }) => {
    const surge = surgeOf(undefined, room_degC);
    expect(surge).not.toHaveProperty("cylinder");
    expect(surge.flowAtEnd_ratio).toBeGreaterThan(1.2);
  });

  it("is not told for a charge below the working pressure", () => {
    const weak = { ...charge, sodiumBicarbonate_g: 5, acid: { ...charge.acid, mass_g: 4 } };
    expect(outlooks().surge(weak)).toBeUndefined();
  });
});
