import { describe, expect, it } from "vitest";
import { largestCharge, upperPressureGauge_bar } from "../../../../lib/charge-plan/charge-limits.js";
import { coldestAfterSealing_degC } from "../../../../lib/charge-plan/cold-vessel.js";
import { compareCandidates } from "../../../../lib/charge-plan/compare-candidates.js";
import { fullConversion } from "../../../../lib/charge-plan/full-conversion.js";
import { planCharge, type ChargePlan, type RefusedPlan } from "../../../../lib/charge-plan/plan-charge.js";
import { chargeOf, planSetting, type PlanRequest } from "../../../../lib/charge-plan/plan-request.js";
import { NoConvergenceError, OutOfValidRangeError } from "../../../../lib/errors.js";
import { pressureToBar } from "../../../../lib/quantities/units.js";
import { vesselInventory } from "../../../../lib/vessel/charge.js";
import { chargeEquilibrium } from "../../../../lib/vessel/charge-equilibrium.js";
import { readReference } from "../../../reference/read-reference.js";

const vessel = {
  volume_L: 2,
  ratedPressureGauge_bar: 20,
  reliefOpeningGauge_bar: 18,
  leastInletGauge_bar: 3,
};
const asked: PlanRequest = {
  vessel,
  wanted: { kind: "bicarbonate", sodiumBicarbonate_g: 80 },
  acidForm: "citric-acid-anhydrous",
};
const grams = (sodiumBicarbonate_g: number): PlanRequest["wanted"] => ({
  kind: "bicarbonate",
  sodiumBicarbonate_g,
});
const about2g = [{ tank: "pond", co2_gPerDay: { value: 2, low: 1.6, high: 2.5 } }];

function planned(more: Partial<PlanRequest> = {}): ChargePlan {
  const plan = planCharge({ ...asked, ...more });
  if (plan.kind === "refused") throw new Error(`refused: ${plan.reason}`);
  return plan;
}

function refused(more: Partial<PlanRequest>): RefusedPlan {
  const plan = planCharge({ ...asked, ...more });
  if (plan.kind === "plan") throw new Error("planned");
  return plan;
}

describe("the amounts of a plan", () => {
  // IUPAC 2021 abridged atomic weights: C6H8O7 192.123, its hydrate 210.138, NaHCO3 84.006; one acid to three bicarbonate.
  it.each([
    { acidForm: "citric-acid-anhydrous", exact_g: 100 * (192.123 / (3 * 84.006)) },
    { acidForm: "citric-acid-monohydrate", exact_g: 100 * (210.138 / (3 * 84.006)) },
  ] as const)("have 8 % more $acidForm than the exact proportion", ({ acidForm, exact_g }) => {
    const { amounts } = planned({ acidForm, wanted: grams(80) });
    expect(amounts.citricAcid_g / (0.8 * exact_g)).toBeCloseTo(1.08, 9);
  });

  it("are a quarter of a kilogram of water a litre unless water is given", () => {
    expect(planned().amounts.filling).toEqual({ kind: "water", mass_kg: 0.5 });
    const given = planned({ filling: { kind: "ice", mass_kg: 0.4 } });
    expect(given.amounts.filling).toEqual({ kind: "ice", mass_kg: 0.4 });
    expect(given.charge).toMatchObject({ water_kg: 0, ice_kg: 0.4, sealedAt_degC: 0 });
  });

  it("make the same pressure whichever form the acid has", () => {
    const one = planned().pressures.room.pressureGauge_bar;
    const other = planned({ acidForm: "citric-acid-monohydrate" }).pressures.room.pressureGauge_bar;
    // The crystal water is 6 g of 0.5 kg.
    expect(Math.abs(other / one - 1)).toBeLessThan(0.01);
  });
});

describe("the pressures of a plan", () => {
  it("are those of the equilibrium, between their bounds, and rise with temperature", () => {
    const { pressures, charge } = planned();
    for (const outlook of [pressures.cold, pressures.room, pressures.hottest]) {
      const { pressureGauge_bar } = chargeEquilibrium(charge, outlook.temperature_degC);
      expect(outlook.pressureGauge_bar).toBe(pressureGauge_bar);
      // 4 % of the absolute pressure at the least.
      const model_bar = 0.04 * (pressureGauge_bar + 1.01325);
      expect(outlook.lowGauge_bar).toBeLessThanOrEqual(pressureGauge_bar - model_bar);
      expect(outlook.highGauge_bar).toBeGreaterThanOrEqual(pressureGauge_bar + model_bar);
    }
    expect(pressures.cold.pressureGauge_bar).toBeLessThan(pressures.room.pressureGauge_bar);
    expect(pressures.room.pressureGauge_bar).toBeLessThan(pressures.hottest.pressureGauge_bar);
    expect(pressures.highestAllowedGauge_bar).toBeCloseTo(0.9 * 18, 12);
  });

  it.each([
    { because: "nothing stated", more: {}, hottest_degC: 40 },
    { because: "stated", more: { hottest_degC: 35 }, hottest_degC: 35 },
    { because: "never below 30", more: { hottest_degC: 24 }, hottest_degC: 30 },
    { because: "never below the room", more: { hottest_degC: 31, room_degC: 33 }, hottest_degC: 33 },
  ])("take the hottest day as $hottest_degC degC: $because", ({ more, hottest_degC }) => {
    expect(planned(more).pressures.hottest.temperature_degC).toBe(hottest_degC);
  });

  it("say that a cooler hottest day was not taken", () => {
    expect(planned({ hottest_degC: 24 }).cautions.map(({ kind }) => kind)).toContain("hottest-raised");
    expect(planned({ hottest_degC: 35 }).cautions.map(({ kind }) => kind)).not.toContain("hottest-raised");
  });

  it("widen with the weighing error", () => {
    const at = (powder_g: number): number =>
      planned({ weighing: { powder_g, water_kg: 0.01 } }).pressures.hottest.highGauge_bar;
    // Pressure is nearly proportional to the bicarbonate: 4 g more of 80 are 5 %.
    expect(at(4) / at(0)).toBeGreaterThan(1.04);
    expect(at(4) / at(0)).toBeLessThan(1.06);
  });

  it("are cold by what the reaction takes up", () => {
    const charge = chargeOf(planSetting(asked), 130);
    // From formation enthalpies (from memory): 120 to 140 g in 0.5 L of water and 2.5 kg of steel cools by about 15 K.
    expect(20 - coldestAfterSealing_degC(charge)).toBeGreaterThan(11);
    expect(20 - coldestAfterSealing_degC(charge)).toBeLessThan(17);
    expect(planned({ filling: { kind: "ice", mass_kg: 0.5 } }).pressures.cold.temperature_degC).toBe(0);
  });

  it("go down to the hydrate's line where it may form, and say so", () => {
    const stout = { ...vessel, ratedPressureGauge_bar: 40, reliefOpeningGauge_bar: 40 };
    const { pressures, cautions } = planned({
      vessel: stout,
      wanted: grams(140),
      filling: { kind: "ice", mass_kg: 0.5 },
    });
    // 12.6 bar of CO2 at 0 degC (from memory), with nearly 1 bar of air on an atmosphere.
    expect(pressures.cold.lowGauge_bar).toBeGreaterThan(12.2);
    expect(pressures.cold.lowGauge_bar).toBeLessThan(12.9);
    expect(pressures.cold.pressureGauge_bar).toBeGreaterThan(pressures.cold.lowGauge_bar);
    expect(cautions.map(({ kind }) => kind)).toEqual(expect.arrayContaining(["hydrate", "ice-neck"]));
  });
});

describe("a refusal", () => {
  it.each([
    {
      because: "the relief device opens first",
      more: { wanted: grams(100) },
      limit: "relief-opening-pressure",
    },
    {
      because: "the rating is the lower",
      more: { wanted: grams(100), vessel: { ...vessel, ratedPressureGauge_bar: 17 } },
      limit: "rated-pressure",
    },
    {
      because: "the vessel is strong but small for so much powder",
      more: {
        wanted: grams(2500),
        vessel: { ...vessel, ratedPressureGauge_bar: 300, reliefOpeningGauge_bar: 300 },
      },
      limit: "gas-space",
    },
    {
      because: "the model was not tried above 40 bar",
      more: {
        wanted: grams(300),
        vessel: { ...vessel, ratedPressureGauge_bar: 300, reliefOpeningGauge_bar: 300 },
      },
      limit: "model-range",
    },
    {
      because: "so little water makes a liquor stronger than the model knows",
      more: { wanted: grams(80), filling: { kind: "water", mass_kg: 0.06 } },
      limit: "model-range",
    },
  ] as const)("names the limit and the largest charge: $because", ({ more, limit }) => {
    const { largest, ...rest } = refused(more);
    expect(rest.limit).toBe(limit);
    expect({ kind: "bicarbonate", sodiumBicarbonate_g: rest.requested?.sodiumBicarbonate_g }).toEqual(
      more.wanted,
    );
    if (largest === undefined) throw new Error("no largest charge");
    const fits = planned({ ...more, wanted: grams(largest.sodiumBicarbonate_g) });
    expect(fits.pressures.hottest.highGauge_bar).toBeLessThanOrEqual(fits.pressures.highestAllowedGauge_bar);
    expect(refused({ ...more, wanted: grams(1.01 * largest.sodiumBicarbonate_g) }).limit).toBe(largest.limit);
  });

  it.each([
    { because: "no rated pressure", lacks: { ratedPressureGauge_bar: undefined } },
    { because: "no relief pressure", lacks: { reliefOpeningGauge_bar: undefined } },
    {
      because: "neither",
      lacks: { ratedPressureGauge_bar: undefined, reliefOpeningGauge_bar: undefined },
    },
  ])("stands whatever the charge when the vessel states $because", ({ lacks }) => {
    expect(refused({ wanted: grams(1), vessel: { ...vessel, ...lacks } })).toMatchObject({
      limit: "pressure-not-stated",
      largest: undefined,
    });
  });

  it("has no largest charge when the water leaves less than 30 % to the gas", () => {
    expect(refused({ filling: { kind: "water", mass_kg: 1.45 } })).toMatchObject({
      limit: "gas-space",
      largest: undefined,
    });
    expect(planned({ wanted: grams(20), filling: { kind: "water", mass_kg: 1.2 } }).kind).toBe("plan");
    // A litre and a quarter of water as ice is 1.36 L (0.9167 kg/L, CRC Handbook): beside 20 g of powders 30 % is just kept.
    expect(planned({ wanted: grams(20), filling: { kind: "ice", mass_kg: 1.22 } }).kind).toBe("plan");
    expect(refused({ wanted: grams(20), filling: { kind: "ice", mass_kg: 1.29 } }).limit).toBe("gas-space");
  });

  it.each([0.2, 0.5, 1])("fits as it is printed, to 0.1 g, in a vessel of %d L", (volume_L) => {
    const given = { vessel: { ...vessel, volume_L } };
    const largest_g = refused({ ...given, wanted: grams(400 * volume_L) }).largest?.sodiumBicarbonate_g ?? 0;
    expect(largest_g).toBe(Number(largest_g.toFixed(1)));
    expect(planned({ ...given, wanted: grams(Number(largest_g.toFixed(1))) }).kind).toBe("plan");
    expect(refused({ ...given, wanted: grams(largest_g + 0.11) }).kind).toBe("refused");
  });

  it("counts water weighed short as well, which dissolves less CO2 in a charge with little of it", () => {
    const given = {
      vessel: { ...vessel, volume_L: 0.5, ratedPressureGauge_bar: 60, reliefOpeningGauge_bar: 60 },
      acidExcess_ratio: 1,
      filling: { kind: "water", mass_kg: 0.05 },
      wanted: grams(10),
      room_degC: 0,
    } as const;
    const { charge, pressures } = planned(given);
    const acid = { ...charge.acid, mass_g: charge.acid.mass_g + 1 };
    const short = { ...charge, water_kg: 0.04, acid, sodiumBicarbonate_g: 11 };
    for (const { temperature_degC, highGauge_bar } of [pressures.cold, pressures.room, pressures.hottest]) {
      const settled_bar = chargeEquilibrium(short, temperature_degC).pressureAbsolute_bar;
      expect(1.04 * settled_bar - 1.01325).toBeLessThanOrEqual(highGauge_bar + 1e-9);
    }
  });

  it("keeps the liquor inside the model's range even where 10 g of its water are missing", () => {
    const given = {
      vessel: { ...vessel, volume_L: 0.2, ratedPressureGauge_bar: 60, reliefOpeningGauge_bar: 60 },
      filling: { kind: "water", mass_kg: 0.03 },
    } as const;
    const { largest } = refused({ ...given, wanted: grams(50) });
    if (largest === undefined) throw new Error("no largest charge");
    expect(largest.limit).toBe("model-range");
    const { charge } = planned({ ...given, wanted: grams(largest.sodiumBicarbonate_g) });
    const ofShort = vesselInventory({ ...charge, water_kg: 0.02 });
    expect(fullConversion(ofShort, 40).ionicStrength_molPerKg).toBeLessThanOrEqual(7);
  });

  it("grows smaller with a hotter day", () => {
    const at = (hottest_degC: number): number =>
      refused({ wanted: grams(150), hottest_degC }).largest?.sodiumBicarbonate_g ?? 0;
    expect(at(30)).toBeGreaterThan(at(40));
    expect(at(40)).toBeGreaterThan(at(45));
  });
});

describe("the largest charge against a table of full conversion", () => {
  // CO2 alone by Span and Wagner (CoolProp 8.0.0), solubility by Carroll 1991 and half of it for salting-out, and 1 kgf/cm2 for
  // the air: 2.0 L stays at or below 20 kgf/cm2 with about 115 g at 20 degC and about 100 g at 40 degC, 0.3 to 0.6 kg of water.
  const limit_bar = pressureToBar(20, "kgf/cm2");
  it.each([
    { temperature_degC: 20, table_g: 115 },
    { temperature_degC: 40, table_g: 100 },
  ])("has an upper pressure of 20 kgf/cm2 a little above $table_g g at $temperature_degC degC", (row) => {
    for (const water_kg of [0.3, 0.5, 0.6]) {
      const setting = planSetting({ ...asked, filling: { kind: "water", mass_kg: water_kg } });
      const upper_bar = (sodiumBicarbonate_g: number): number =>
        upperPressureGauge_bar(chargeOf(setting, sodiumBicarbonate_g, 1), row.temperature_degC);
      // The table takes the worst salting-out for all; the model's own is milder and 4 % are added instead.
      expect(upper_bar(row.table_g)).toBeLessThan(limit_bar);
      expect(upper_bar(1.13 * row.table_g)).toBeGreaterThan(limit_bar);
    }
  });

  it("is below both, since a tenth of the rating is kept free", () => {
    const pressures = { ratedPressureGauge_bar: limit_bar, reliefOpeningGauge_bar: limit_bar };
    const largest = largestCharge(planSetting(asked), pressures);
    if (largest.kind === "none") throw new Error("nothing fits");
    expect(largest.sodiumBicarbonate_g).toBeGreaterThan(90);
    expect(largest.sodiumBicarbonate_g).toBeLessThan(100);
  });
});

describe("what a plan delivers", () => {
  it("leaves in the vessel what is still there at the least inlet pressure", () => {
    // PHREEQC 3, headspace rows of recipe R07 (100 g each in 0.7 kg and 2 L at 20 degC), between two of its steps.
    const { rows } = readReference<{
      readonly recipe: string;
      readonly withdrawal: string;
      readonly pressureAbsolute_bar: number;
      readonly remaining_ratio: number;
    }>("sealed-vessel-depletion.json");
    const steps = rows.filter(({ recipe, withdrawal }) => recipe === "R07" && withdrawal === "headspace");
    const at_bar = 4.01325;
    const above = steps.filter((step) => step.pressureAbsolute_bar >= at_bar).at(-1);
    const below = steps.find((step) => step.pressureAbsolute_bar < at_bar);
    if (above === undefined || below === undefined) throw new Error("the table does not reach 3 bar gauge");
    const [compared] = compareCandidates(
      { ...asked, vessel: { ...vessel, ratedPressureGauge_bar: 30, reliefOpeningGauge_bar: 30 } },
      [
        {
          kind: "acid-and-bicarbonate",
          label: "R07",
          sodiumBicarbonate_g: 100,
          citricAcid_g: 100,
          filling: { kind: "water", mass_kg: 0.7 },
        },
      ],
    );
    if (compared?.outcome.kind !== "plan") throw new Error("refused");
    const { unusable, deliverable_g, co2Available_g } = compared.outcome.delivery;
    expect(unusable.share_ratio).toBeGreaterThan(below.remaining_ratio - 0.02);
    expect(unusable.share_ratio).toBeLessThan(above.remaining_ratio + 0.02);
    // 44.009 / 84.006 (IUPAC 2021).
    expect(co2Available_g).toBeCloseTo(52.388, 2);
    expect(deliverable_g.value + unusable.co2_g).toBeCloseTo(co2Available_g, 9);
    expect(unusable.gas_g + unusable.dissolved_g + unusable.bicarbonate_g).toBeCloseTo(unusable.co2_g, 6);
    expect(deliverable_g.low).toBeLessThan(deliverable_g.value);
    expect(deliverable_g.high).toBeGreaterThan(deliverable_g.value);
  });

  it("lasts as long as the use says, with the errors of both", () => {
    const { delivery, lasts } = planned({ use: about2g });
    const { value, low, high } = delivery.deliverable_g;
    expect(lasts?.days.value).toBeCloseTo(value / 2, 9);
    // Both errors at once are worse than their combination, each alone is milder.
    expect(lasts?.days.low).toBeGreaterThan(low / 2.5);
    expect(lasts?.days.low).toBeLessThan(value / 2.5);
    expect(lasts?.days.high).toBeLessThan(high / 1.6);
    expect(lasts?.days.high).toBeGreaterThan(value / 1.6);
  });

  it("is shared by the tanks as they use it", () => {
    const use = [
      { tank: "loach", co2_gPerDay: { value: 1.5, low: 1.2, high: 1.8 } },
      { tank: "shrimp", co2_gPerDay: { value: 0.5, low: 0.1, high: 0.9 } },
    ];
    const { delivery, lasts } = planned({ use });
    expect(lasts?.use_gPerDay).toMatchObject({ value: 2, low: 1.5, high: 2.5 });
    expect(lasts?.tanks.map(({ co2_g }) => co2_g / delivery.deliverable_g.value)).toEqual([
      expect.closeTo(0.75, 9),
      expect.closeTo(0.25, 9),
    ]);
  });

  it("may be nothing, and then says so", () => {
    const { delivery, cautions } = planned({ wanted: grams(10), use: about2g });
    expect(delivery.deliverable_g).toEqual({ value: 0, low: 0, high: 0 });
    expect(cautions.map(({ kind }) => kind)).toContain("below-inlet");
  });

  it("has the cost of the powders", () => {
    const prices = { currency: "EUR", sodiumBicarbonatePricePerKg: 4, citricAcidPricePerKg: 6 };
    const { cost, amounts, delivery } = planned({ prices });
    expect(cost?.total).toBeCloseTo(0.32 + 0.006 * amounts.citricAcid_g, 9);
    expect(cost?.perGramDelivered).toBeCloseTo((cost?.total ?? 0) / delivery.deliverable_g.value, 12);
    expect(planned()).not.toHaveProperty("cost");
  });
});

describe("a plan by days", () => {
  it("weighs what the days take", () => {
    const { lasts, amounts } = planned({ wanted: { kind: "days", days: 9 }, use: about2g });
    expect(lasts?.days.value).toBeGreaterThanOrEqual(8.99);
    expect(lasts?.days.value).toBeLessThan(9.1);
    expect(
      planned({ wanted: grams(amounts.sodiumBicarbonate_g - 1), use: about2g }).lasts?.days.value,
    ).toBeLessThan(9);
  });

  it("is refused when no charge that fits lasts so long, with how long the largest does", () => {
    const { limit, largest, reason, requested } = refused({
      wanted: { kind: "days", days: 60 },
      use: about2g,
    });
    expect(limit).toBe("relief-opening-pressure");
    expect(requested).toBeUndefined();
    expect(largest?.days).toBeCloseTo((largest?.deliverable_g ?? 0) / 2, 9);
    expect(reason).toContain("60 days take 120 g");
    expect(planned({ wanted: { kind: "days", days: 0.99 * (largest?.days ?? 0) }, use: about2g }).kind).toBe(
      "plan",
    );
  });

  it.each([
    { because: "the least charge already gives more", days: 0.1, use_gPerDay: 0.001 },
    { because: "next to nothing is taken", days: 0.1, use_gPerDay: 1e-4 },
  ])("weighs no more than the need calls for: $because", ({ days, use_gPerDay }) => {
    const use = [{ tank: "pond", co2_gPerDay: { value: use_gPerDay, low: 0, high: 1 } }];
    const low = { ...vessel, leastInletGauge_bar: 0.01 };
    const strong = { ...vessel, ratedPressureGauge_bar: 100, reliefOpeningGauge_bar: 100 };
    expect(
      planned({ wanted: { kind: "days", days }, use, vessel: { ...low, volume_L: 0.1 } }).amounts
        .sodiumBicarbonate_g,
    ).toBe(1);
    const { amounts, delivery } = planned({ wanted: { kind: "days", days }, use, vessel: strong });
    expect(delivery.deliverable_g.value).toBeGreaterThan(0.999 * days * use_gPerDay);
    // A tenth of a gram less of bicarbonate does not reach the regulator's inlet pressure.
    const less = planned({ wanted: grams(amounts.sodiumBicarbonate_g - 0.1), vessel: strong });
    expect(less.delivery.deliverable_g.value).toBeLessThan(days * use_gPerDay);
  });

  it("says so when nothing that fits reaches the regulator's inlet", () => {
    const { reason } = refused({
      wanted: { kind: "days", days: 5 },
      use: about2g,
      vessel: { ...vessel, leastInletGauge_bar: 30 },
    });
    expect(reason).toContain(
      "not even the largest charge that fits reaches the regulator's least inlet pressure",
    );
    expect(reason).not.toContain("Infinity");
  });

  it("needs a use", () => {
    expect(refused({ wanted: { kind: "days", days: 5 } }).limit).toBe("use-not-stated");
    expect(planned().cautions.map(({ kind }) => kind)).toContain("use-not-stated");
  });
});

const outlook = {
  flowAtEnd_ratio: 1.2,
  flowAtEndLow_ratio: 1.1,
  largestAtInletGauge_bar: 3,
  outletAtFullGauge_bar: 2,
  outletAtLargestGauge_bar: 2.4,
  supplyPressureEffect_ratio: { low: 0.02, high: 0.03 },
  verdict: "creeps",
} as const;

describe("a plan in words", () => {
  it("always has the usual cautions", () => {
    expect(planned().cautions.map(({ kind }) => kind)).toEqual(
      expect.arrayContaining([
        "own-rating",
        "volume",
        "weigh-dry",
        "ventilate",
        "upright",
        "close-at-once",
        "never-heat",
        "first-reading",
      ]),
    );
  });

  it("say of the monohydrate that a bag which does not name it is planned as anhydrous", () => {
    const kinds = (acidForm: PlanRequest["acidForm"]): readonly string[] =>
      planned({ acidForm }).cautions.map(({ kind }) => kind);
    expect(kinds("citric-acid-monohydrate")).toContain("acid-form");
    expect(kinds("citric-acid-anhydrous")).not.toContain("acid-form");
    // 210.138 / 192.123 (IUPAC 2021).
    const text = planned({ acidForm: "citric-acid-monohydrate" }).cautions.find(
      ({ kind }) => kind === "acid-form",
    )?.text;
    expect(text).toContain(`${(100 * (210.138 / 192.123 - 1)).toFixed(0)} % more acid`);
  });

  it("is right that 5 % less volume makes about 6 % more pressure", () => {
    const text = planned().cautions.find(({ kind }) => kind === "volume")?.text;
    expect(text).toContain("5 % less volume makes about 6 % more pressure");
    const room_bar = (volume_L: number): number =>
      planned({ vessel: { ...vessel, volume_L }, filling: { kind: "water", mass_kg: 0.5 } }).pressures.room
        .pressureGauge_bar;
    expect(room_bar(1.9) / room_bar(2)).toBeGreaterThan(1.05);
    expect(room_bar(1.9) / room_bar(2)).toBeLessThan(1.07);
  });

  it("hands on what is known of time and flow, for the charge it plans", () => {
    const plan = planned({
      readyTime: (charge) => ({ value: charge.water_kg, low: 0, high: 9 }),
      surge: (charge) => ({ ...outlook, remark: `${charge.sodiumBicarbonate_g} g` }),
    });
    expect(plan.readyTime).toEqual({ value: 0.5, low: 0, high: 9 });
    expect(plan.surge).toEqual({ ...outlook, remark: "80 g" });
    expect(planned({ readyTime: () => undefined })).not.toHaveProperty("readyTime");
    expect(planned()).not.toHaveProperty("readyTime");
  });
});

describe("an outlook whose model has no answer", () => {
  it.each([
    new NoConvergenceError("temperature of the contents", -60, 46, 1),
    new OutOfValidRangeError("room temperature", 3, "degC", 5, 45),
  ])("is left out of the plan with the reason, and refuses nothing: $name", (error) => {
    const fail = (): never => {
      throw error;
    };
    const plan = planned({ readyTime: fail, surge: (charge) => ({ ...outlook, remark: charge.acid.kind }) });
    expect(plan).not.toHaveProperty("readyTime");
    expect(plan.untold).toEqual({ readyTime: error.message });
    expect(plan.surge?.verdict).toBe("creeps");
    expect(planned({ surge: fail }).untold).toEqual({ surge: error.message });
    expect(planned()).not.toHaveProperty("untold");
  });

  it("does not hide what is a fault of the program", () => {
    expect(() =>
      planned({
        surge: () => {
          throw new TypeError("no function");
        },
      }),
    ).toThrow(TypeError);
  });
});

describe("a plan from bad numbers", () => {
  it.each<readonly [string, Partial<PlanRequest>, object]>([
    [
      "negative bicarbonate",
      { wanted: grams(-5) },
      { quantity: "sodium bicarbonate", value: -5, unit: "g", minimum: 1, maximum: 4400 },
    ],
    ["no number", { wanted: grams(Number.NaN) }, { quantity: "sodium bicarbonate" }],
    ["no days", { wanted: { kind: "days", days: 0 } }, { quantity: "days wanted", unit: "days" }],
    [
      "a heat beyond the model",
      { hottest_degC: 60 },
      { quantity: "hottest expected temperature", maximum: 45 },
    ],
    ["a freezing room", { room_degC: -3 }, { quantity: "room temperature", minimum: 0 }],
    ["more water than vessel", { filling: { kind: "water", mass_kg: 3 } }, { quantity: "water", maximum: 2 }],
    ["no vessel", { vessel: { ...vessel, volume_L: 0 } }, { quantity: "vessel volume", unit: "L" }],
    [
      "a rating of nothing",
      { vessel: { ...vessel, ratedPressureGauge_bar: 0 } },
      { quantity: "rated pressure" },
    ],
    [
      "bounds of a use that are crossed",
      { use: [{ tank: "pond", co2_gPerDay: { value: 2, low: 3, high: 4 } }] },
      { quantity: "CO2 use, lower bound" },
    ],
    [
      "a use of less than a bubble",
      { use: [{ tank: "pond", co2_gPerDay: { value: 1e-300, low: 0, high: 1 } }] },
      { quantity: "CO2 use", minimum: 1e-4 },
    ],
    ["far too much acid", { acidExcess_ratio: 9 }, { quantity: "acid beyond the exact proportion" }],
  ])("throws for %s and names it", (_name, more, fields) => {
    let thrown: unknown;
    try {
      planCharge({ ...asked, ...more });
    } catch (error) {
      thrown = error;
    }
    expect(thrown).toBeInstanceOf(OutOfValidRangeError);
    expect(thrown).toMatchObject(fields);
  });
});

describe("the comparison of recipes", () => {
  it("plans each as it would be planned alone, in order", () => {
    const compared = compareCandidates({ ...asked, use: about2g }, [
      { kind: "acid-and-bicarbonate", label: "small", sodiumBicarbonate_g: 60 },
      { kind: "acid-and-bicarbonate", label: "great", sodiumBicarbonate_g: 160 },
      { kind: "acid-and-bicarbonate", label: "sour", sodiumBicarbonate_g: 70, citricAcid_g: 70 },
    ]);
    expect(compared.map(({ candidate, outcome }) => [candidate.label, outcome.kind])).toEqual([
      ["small", "plan"],
      ["great", "refused"],
      ["sour", "plan"],
    ]);
    expect(compared[0]?.outcome).toEqual(planned({ wanted: grams(60), use: about2g }));
    const sour = compared[2]?.outcome;
    if (sour?.kind !== "plan") throw new Error("refused");
    expect(sour.amounts.citricAcid_g).toBeCloseTo(70, 9);
    expect(sour.amounts.acidExcess_ratio).toBeCloseTo(1 / 0.7623 - 1, 3);
  });

  it("says that a short acid wastes bicarbonate", () => {
    const [short] = compareCandidates(asked, [
      { kind: "acid-and-bicarbonate", label: "short", sodiumBicarbonate_g: 80, citricAcid_g: 40 },
    ]);
    if (short?.outcome.kind !== "plan") throw new Error("refused");
    expect(short.outcome.cautions.map(({ kind }) => kind)).toContain("acid-short");
    // Three moles for each of acid (IUPAC 2021).
    expect(short.outcome.delivery.co2Available_g).toBeCloseTo((3 * 40 * 44.009) / 192.123, 6);
  });

  it("shows a recipe that is none in its place, with the reason, and plans the others", () => {
    const [good, odd, sweet] = compareCandidates(asked, [
      { kind: "acid-and-bicarbonate", label: "good", sodiumBicarbonate_g: 60 },
      { kind: "acid-and-bicarbonate", label: "odd", sodiumBicarbonate_g: 80, citricAcid_g: 1 },
      { kind: "sugar-and-yeast", label: "sweet", sucrose_g: 0 },
    ]);
    expect(good?.outcome.kind).toBe("plan");
    expect(odd?.outcome).toMatchObject({
      kind: "no-recipe",
      reason: expect.stringContaining("citric acid is 1 g") as string,
    });
    expect(sweet?.outcome).toMatchObject({ kind: "no-recipe" });
  });

  it("refuses an acid that is no recipe where there is no other", () => {
    expect(() =>
      compareCandidates(asked, [
        { kind: "acid-and-bicarbonate", label: "odd", sodiumBicarbonate_g: 80, citricAcid_g: 1 },
      ]),
    ).toThrow(OutOfValidRangeError);
  });
});
