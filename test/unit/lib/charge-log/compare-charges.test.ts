import { describe, expect, it } from "vitest";
import { comparisonSentences } from "../../../../lib/charge-log/charge-log-text.js";
import type { ChargeRecord } from "../../../../lib/charge-log/charge-record.js";
import { reportCharge, type ChargeReport } from "../../../../lib/charge-log/charge-report.js";
import { compareCharges } from "../../../../lib/charge-log/compare-charges.js";
import { createRandomSource, drawNormal } from "../../../../lib/simulation/random-source.js";

const start_epochMs = Date.parse("2026-01-10T19:00Z");
const day_ms = 86_400_000;

interface Case {
  readonly recipe?: string;
  readonly closedWith?: "water" | "ice";
  readonly yield: number;
  readonly rest?: Partial<ChargeRecord>;
}

/** Charges of 44 g, a month apart, whose delivery is known to `known_ratio`, 95 %. */
function reports(cases: readonly Case[], known_ratio = 0.005): readonly ChargeReport[] {
  return cases.map(({ recipe = "usual", closedWith = "water", yield: share, rest }, k) => {
    const closed_epochMs = start_epochMs + 30 * k * day_ms;
    const value = 44.009 * share;
    const record: ChargeRecord = {
      chargeId: `c${String(k + 1)}`,
      vesselId: "cellar",
      recipe,
      acid: { kind: "citric-acid-anhydrous", mass_g: 70 },
      sodiumBicarbonate_g: 84.007,
      water_kg: 0.5,
      vesselVolume_L: 2,
      weighing_g: 0.1,
      closedWith,
      closed_epochMs,
      workingPressureGauge_bar: 2,
      ready_epochMs: closed_epochMs + (closedWith === "ice" ? 22 + k : 2.5 + 0.1 * k) * 3_600_000,
      settledGauge_bar: undefined,
      delivered_g: { value, low: value * (1 - known_ratio), high: value * (1 + known_ratio) },
      byValve: [],
      byTank: [],
      leak_gPerDay: undefined,
      left_g: undefined,
      dosing_days: 25,
      forecastAtHalf: undefined,
      ended: { kind: "spent", at_epochMs: closed_epochMs + 26 * day_ms },
      prices: { currency: "EUR", sodiumBicarbonatePricePerKg: 4, citricAcidPricePerKg: 6 },
      ...rest,
    };
    return reportCharge(record, start_epochMs + 1000 * day_ms);
  });
}

const water = (share: number): Case => ({ yield: share });
const ice = (share: number): Case => ({ yield: share, closedWith: "ice" });

describe("which closing method served best", () => {
  it.each([
    {
      because: "one of each shows no scatter",
      cases: [water(0.6), ice(0.9)],
      reason: "too few",
      better: undefined,
    },
    {
      because: "the difference is within the scatter",
      cases: [water(0.6), water(0.7), ice(0.66), ice(0.72)],
      reason: "open",
      better: undefined,
    },
    {
      because: "with one degree of freedom even a clear difference is not told",
      cases: [water(0.6), water(0.62), ice(0.7)],
      reason: "open",
      better: undefined,
    },
    {
      because: "the difference stands out of the scatter",
      cases: [water(0.6), water(0.61), water(0.62), ice(0.7), ice(0.71), ice(0.69)],
      reason: "told",
      better: "ice",
    },
    {
      because: "recipe and method always changed together",
      cases: [water(0.6), water(0.61), { ...ice(0.7), recipe: "strong" }, { ...ice(0.71), recipe: "strong" }],
      reason: "confounded",
      better: undefined,
    },
  ])("is $reason: $because", ({ cases, reason, better }) => {
    const found = compareCharges(reports(cases), "yield", "closedWith");
    expect(found.contrasts).toMatchObject([{ reason, better }]);
    expect(found.best).toBe(better);
  });

  it("is not told beyond the errors of the deliveries themselves", () => {
    const cases = [water(0.6), water(0.61), water(0.62), ice(0.7), ice(0.71), ice(0.69)];
    expect(compareCharges(reports(cases, 0.25), "yield", "closedWith").best).toBeUndefined();
  });

  it("names how many charges would tell, by the scatter that was seen", () => {
    const found = compareCharges(
      reports([water(0.6), water(0.7), ice(0.66), ice(0.72)]),
      "yield",
      "closedWith",
    );
    // Pooled deviation sqrt((0.005 + 0.0018) / 2) = 0.0583, difference 0.04: t(2n-2) * 0.0583 * sqrt(2/n) < 0.04 first at n = 18.
    expect(found.contrasts[0]?.chargesNeeded).toBe(18);
    expect(comparisonSentences(found).join(" ")).toContain("about 18 charges of each");
  });

  it("compares inside a recipe, so that a better recipe used with ice only is not taken for the ice", () => {
    const cases = [
      ...[0.6, 0.61, 0.62].map(water),
      ...[0.61, 0.6].map(ice),
      ...[0.8, 0.81, 0.79].map((share): Case => ({ ...ice(share), recipe: "strong" })),
    ];
    const found = compareCharges(reports(cases), "yield", "closedWith");
    expect(found.contrasts[0]?.effect?.value).toBeCloseTo(0.005, 3);
    expect(found.best).toBeUndefined();
  });

  it("is told in percent, hours and money", () => {
    const both = reports([water(0.6), water(0.62), ice(0.64), ice(0.66)]);
    const text = (measure: "yield" | "costPerGram" | "readyTime"): string =>
      comparisonSentences(compareCharges(both, measure, "closedWith")).join(" ");
    // Pooled deviation 0.01414, t(0.975, 2) = 4.303, two of each: 0.043 either way.
    expect(text("yield")).toContain("ice 65 % (61 to 69) from 2 charges; water 61 % (57 to 65)");
    expect(text("yield")).toContain("water is -4.0 points from ice (-10.1 to +2.1)");
    expect(text("costPerGram")).toContain(" EUR (");
    expect(text("readyTime")).toMatch(/ice \d+\.\d h \(/);
  });

  it("is told for the time until ready as a ratio, less being better", () => {
    const found = compareCharges(
      reports([0.6, 0.61, 0.62].map(water).concat([0.6, 0.7].map(ice))),
      "readyTime",
      "closedWith",
    );
    expect(found.best).toBe("water");
    expect(found.contrasts[0]).toMatchObject({ one: "ice", other: "water", better: "water" });
    expect(found.contrasts[0]?.effect?.high).toBeLessThan(0.2);
  });
});

describe("which recipe served best", () => {
  const of = (recipe: string, ...shares: readonly number[]): readonly Case[] =>
    shares.map((share) => ({ recipe, yield: share }));

  it("is the one that is better than every other", () => {
    const cases = [...of("a", 0.6, 0.61, 0.6), ...of("b", 0.7, 0.71, 0.7), ...of("c", 0.65, 0.65, 0.66)];
    const found = compareCharges(reports(cases), "yield", "recipe");
    expect(found.best).toBe("b");
    expect(comparisonSentences(found)).toContain("b served best.");
  });

  it("is not told where two of them overlap, though both are better than the third", () => {
    const cases = [...of("a", 0.6, 0.61, 0.6), ...of("b", 0.7, 0.71, 0.7), ...of("c", 0.7, 0.7, 0.71)];
    const found = compareCharges(reports(cases), "yield", "recipe");
    expect(found.best).toBeUndefined();
    expect(comparisonSentences(found)).toContain("Which served best cannot be told yet.");
  });

  it("asks more of an interval when more recipes are compared", () => {
    const two = compareCharges(reports([...of("a", 0.6, 0.64), ...of("b", 0.7, 0.74)]), "yield", "recipe");
    const three = compareCharges(
      reports([...of("a", 0.6, 0.64), ...of("b", 0.7, 0.74), ...of("c", 0.6)]),
      "yield",
      "recipe",
    );
    const width = (found: typeof two): number =>
      (found.contrasts[0]?.effect?.high ?? NaN) - (found.contrasts[0]?.effect?.low ?? NaN);
    expect(width(three)).toBeGreaterThan(1.5 * width(two));
  });

  it.each([
    { rest: { ended: { kind: "running" } }, reason: "still running" },
    {
      rest: { ended: { kind: "refilled early", at_epochMs: start_epochMs + 99 * day_ms } },
      reason: "refilled before its end",
    },
    { rest: { workingPressureGauge_bar: 3 }, reason: "another working pressure" },
  ] as const)("does not count a charge that says nothing of it: $reason", ({ rest, reason }) => {
    const cases: readonly Case[] = [
      ...of("a", 0.6, 0.61),
      { recipe: "a", yield: 0.2, rest },
      ...of("b", 0.6),
    ];
    const found = compareCharges(reports(cases), "yield", "recipe");
    expect(found.leftOut).toEqual([{ chargeId: "c3", reason }]);
    expect(found.groups.map(({ charges }) => charges)).toEqual([2, 1]);
  });

  it("has nothing to say of no charges", () => {
    const found = compareCharges([], "yield", "recipe");
    expect(comparisonSentences(found)).toEqual([
      "The yield by recipe cannot be told yet: no charge counts for it.",
    ]);
  });
});

describe("the error bars", () => {
  it("rank equal methods and equal recipes in at most 5 of 100 sets of charges", () => {
    const random = createRandomSource(20261125);
    const sets = 400;
    let ranked = 0;
    let missed = 0;
    for (let set = 0; set < sets; set += 1) {
      const cases = ["a", "b", "c"].flatMap((recipe) =>
        Array.from({ length: 3 }, (_, k): Case => ({
          recipe,
          closedWith: k === 0 ? "ice" : "water",
          yield: 0.65 + 0.04 * drawNormal(random),
        })),
      );
      const byRecipe = compareCharges(reports(cases), "yield", "recipe");
      if (byRecipe.contrasts.some(({ better }) => better !== undefined)) ranked += 1;
      const byMethod = compareCharges(reports(cases), "yield", "closedWith");
      const effect = byMethod.contrasts[0]?.effect;
      if (effect === undefined || effect.low > 0 || effect.high < 0) missed += 1;
    }
    // 5 % and two standard deviations of 400 sets.
    expect(ranked / sets).toBeLessThanOrEqual(0.05 + 0.022);
    expect(missed / sets).toBeGreaterThan(0.05 - 0.022);
    expect(missed / sets).toBeLessThanOrEqual(0.05 + 0.022);
  });
});
