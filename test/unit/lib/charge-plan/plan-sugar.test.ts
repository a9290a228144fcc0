import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  planSugarCharge,
  type RefusedSugarPlan,
  type SugarPlan,
  type SugarRequest,
} from "../../../../lib/charge-plan/plan-sugar.js";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { fermentationState } from "../../../../lib/vessel/fermentation.js";

const vessel = {
  volume_L: 2,
  ratedPressureGauge_bar: 20,
  reliefOpeningGauge_bar: 22,
  leastInletGauge_bar: 3,
};
const asked: SugarRequest = { vessel, sucrose_g: 70, water_kg: 1 };

function planned(more: Partial<SugarRequest> = {}): SugarPlan {
  const plan = planSugarCharge({ ...asked, ...more });
  if (plan.kind === "sugar-refused") throw new Error(`refused: ${plan.reason}`);
  return plan;
}

function refused(more: Partial<SugarRequest>): RefusedSugarPlan {
  const plan = planSugarCharge({ ...asked, ...more });
  if (plan.kind === "sugar-plan") throw new Error("planned");
  return plan;
}

describe("a charge of sugar and yeast", () => {
  it("yields four CO2 for each sucrose", () => {
    // 4 x 44.009 / 342.297 (IUPAC 2021).
    expect(planned().yield.co2_g).toBeCloseTo(70 * 0.514279, 3);
  });

  it("makes about 15 bar of 100 g fermented out over 1 L of water in 2 L", () => {
    // CO2 alone by Span and Wagner (CoolProp 8.0.0) over water by Carroll 1991; about 1 bar of air comes on top.
    const strong = { ...vessel, ratedPressureGauge_bar: 40, reliefOpeningGauge_bar: 40 };
    const { fullConversion } = planned({ vessel: strong, sucrose_g: 100 });
    expect(fullConversion.roomGauge_bar).toBeGreaterThan(14.5);
    expect(fullConversion.roomGauge_bar).toBeLessThan(17);
  });

  it("has its plateau inside the scatter of the published stops, not expected in the working range", () => {
    const { plateau, verdict, workingFromGauge_bar } = planned({
      sucrose_g: 82,
      workingFromGauge_bar: 12,
    });
    expect(plateau.endsWith).toBe("growth");
    expect(plateau.lowGauge_bar).toBeLessThan(plateau.pressureGauge_bar);
    expect(plateau.highGauge_bar).toBeGreaterThan(plateau.pressureGauge_bar);
    expect(workingFromGauge_bar).toBe(12);
    expect(verdict).toEqual({
      kind: "not-expected-to-reach",
      evidence: "weak",
      text: "not expected to reach the working range at room temperature (weak evidence)",
    });
  });

  it.each([
    { because: "what the regulator needs is less", more: {}, kind: "may-reach" },
    {
      because: "the keeper works higher",
      more: { sucrose_g: 82, workingFromGauge_bar: 12 },
      kind: "not-expected-to-reach",
    },
    { because: "too little sugar", more: { sucrose_g: 10 }, kind: "cannot-reach" },
  ])("says $kind: $because", ({ more, kind }) => {
    expect(planned(more).verdict.kind).toBe(kind);
  });

  it("works from what the regulator needs, where the keeper states no other pressure", () => {
    expect(planned().workingFromGauge_bar).toBe(3);
    expect(planned({ vessel: { ...vessel, leastInletGauge_bar: 4.5 } }).workingFromGauge_bar).toBe(4.5);
  });

  it("delivers nothing when its plateau is below the regulator's least inlet, and else less than its yield", () => {
    expect(planned({ vessel: { ...vessel, leastInletGauge_bar: 12 } }).deliverableAtMost_g).toBe(0);
    const { deliverableAtMost_g, yield: made } = planned();
    expect(deliverableAtMost_g).toBeGreaterThan(0.5 * made.co2_g);
    expect(deliverableAtMost_g).toBeLessThan(made.co2_g);
  });

  it("costs what its sugar does", () => {
    const prices = { currency: "EUR", sucrosePricePerKg: 2, cylinderFill: { price: 20, co2_kg: 2 } };
    expect(planned({ prices }).cost).toMatchObject({ total: 0.14, perGramFromCylinder: 0.01 });
    expect(planned({ prices: { currency: "EUR" } })).not.toHaveProperty("cost");
  });

  it("always has the cautions of a vessel under pressure, and those of yeast", () => {
    expect(planned().cautions.map(({ kind }) => kind)).toEqual(
      expect.arrayContaining([
        "own-rating",
        "ventilate",
        "upright",
        "never-heat",
        "yeast-goes-on",
        "yeast-foams",
        "above-the-bound",
        "let-off-at-the-end",
      ]),
    );
    const goesOn = planned().cautions.find(({ kind }) => kind === "yeast-goes-on")?.text;
    expect(goesOn).toContain("not a fault: do not add sugar");
    expect(planned({ hottest_degC: 20 }).cautions.map(({ kind }) => kind)).toContain("hottest-raised");
  });
});

describe("sugar and yeast, refused", () => {
  it.each([
    { because: "full conversion", more: { sucrose_g: 150 }, limit: "rated-pressure" },
    {
      because: "the relief device opens first",
      more: { sucrose_g: 150, vessel: { ...vessel, reliefOpeningGauge_bar: 15 } },
      limit: "relief-opening-pressure",
    },
    { because: "so much water", more: { water_kg: 1.4 }, limit: "gas-space" },
    { because: "more than dissolves", more: { sucrose_g: 60, water_kg: 0.02 }, limit: "model-range" },
    {
      because: "a strong vessel, beyond what the model knows",
      more: {
        sucrose_g: 250,
        vessel: { ...vessel, ratedPressureGauge_bar: 200, reliefOpeningGauge_bar: 200 },
      },
      limit: "model-range",
    },
    { because: "an absurd amount", more: { sucrose_g: 3900 }, limit: "gas-space" },
  ])("by $limit: $because", ({ more, limit }) => {
    expect(refused(more).limit).toBe(limit);
  });

  it.each(["ratedPressureGauge_bar", "reliefOpeningGauge_bar"] as const)("without %s", (key) => {
    const plan = refused({ vessel: { ...vessel, [key]: undefined } });
    expect(plan).toMatchObject({ limit: "pressure-not-stated", largest: undefined });
  });

  it("says so when not even a gram fits", () => {
    expect(refused({ water_kg: 1.9 }).largest).toBeUndefined();
  });

  it("gives a largest mass that fits, and a little more does not, whatever the vessel", () => {
    let found = 0;
    fc.assert(
      fc.property(
        fc.record({
          volume_L: fc.double({ min: 0.3, max: 10, noNaN: true }),
          rated_bar: fc.double({ min: 6, max: 60, noNaN: true }),
          waterShare: fc.double({ min: 0.05, max: 0.65, noNaN: true }),
          room_degC: fc.double({ min: 5, max: 33, noNaN: true }),
          hottest_degC: fc.double({ min: 20, max: 45, noNaN: true }),
        }),
        ({ volume_L, rated_bar, waterShare, room_degC, hottest_degC }) => {
          const given = {
            vessel: { ...vessel, volume_L, ratedPressureGauge_bar: rated_bar, reliefOpeningGauge_bar: 40 },
            water_kg: waterShare * volume_L,
            room_degC,
            hottest_degC,
          };
          const { largest } = refused({ ...given, sucrose_g: 500 * volume_L });
          if (largest === undefined) return;
          found += 1;
          const plan = planned({ ...given, sucrose_g: largest.sucrose_g });
          expect(planSugarCharge({ ...given, sucrose_g: 1.005 * largest.sucrose_g + 0.11 }).kind).toBe(
            "sugar-refused",
          );
          const allowed_bar = 0.9 * Math.min(rated_bar, 40);
          const { hottestHighGauge_bar, hottest_degC: taken_degC } = plan.fullConversion;
          expect(hottestHighGauge_bar).toBeLessThanOrEqual(allowed_bar);
          expect(taken_degC).toBe(Math.max(30, room_degC, hottest_degC));
          // A gram more of sugar, all fermented out, and 6 % for the model.
          const state = fermentationState(
            {
              vesselVolume_L: volume_L,
              water_kg: given.water_kg,
              sucrose_g: largest.sucrose_g + 1,
              sealedAt_degC: room_degC,
            },
            { temperature_degC: taken_degC, fermented_ratio: 1 },
          );
          expect(1.06 * state.pressureAbsolute_bar - 1.01325).toBeLessThanOrEqual(allowed_bar + 1e-9);
          expect(state.gasVolume_L).toBeGreaterThanOrEqual(0.3 * volume_L - 1e-9);
        },
      ),
      { seed: 20_261_125, numRuns: 100 },
    );
    expect(found).toBeGreaterThan(80);
  });
});

describe("sugar and yeast from bad numbers", () => {
  it.each<readonly [string, Partial<SugarRequest>, object]>([
    ["negative sugar", { sucrose_g: -1 }, { quantity: "sugar", unit: "g", minimum: 1, maximum: 4000 }],
    ["no number", { sucrose_g: Number.NaN }, { quantity: "sugar" }],
    ["no water", { water_kg: 0 }, { quantity: "water", unit: "kg" }],
    ["more water than vessel", { water_kg: 2.5 }, { quantity: "water", maximum: 2 }],
    ["a heat beyond the model", { hottest_degC: 60 }, { quantity: "hottest expected temperature" }],
    ["a freezing room", { room_degC: -2 }, { quantity: "room temperature" }],
    ["an absurd working range", { workingFromGauge_bar: 90 }, { quantity: "lower end of the working range" }],
    ["a negative price", { prices: { currency: "", sucrosePricePerKg: -1 } }, { quantity: "price of sugar" }],
  ])("throws for %s and names it", (_name, more, fields) => {
    let thrown: unknown;
    try {
      planSugarCharge({ ...asked, ...more });
    } catch (error) {
      thrown = error;
    }
    expect(thrown).toBeInstanceOf(OutOfValidRangeError);
    expect(thrown).toMatchObject(fields);
  });
});
