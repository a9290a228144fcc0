import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { co2FromHardness } from "../../../../lib/tank/co2-from-hardness.js";
import { tankCo2, type TankCo2Estimate, type TankKnowledge } from "../../../../lib/tank/tank-co2.js";

/** An invented tank at rest: 4 dKH tested today, pH 6.7 at 25 degC (28 mg/L), a probe calibrated lately. */
const known: TankKnowledge = {
  pH: 6.7,
  temperature_degC: 25,
  temperatureUncertainty_K: 0.5,
  salts: {},
  phosphate_mgPerL: undefined,
  hardness: { kh_dKH: 4, khUncertainty_dKH: undefined, age_days: 0, replaced_ratio: 0 },
  baseline: undefined,
  colour: undefined,
  probe: { offsetPhSigma: 0.05, slopeSigma_ratio: 0.02 },
};
const baselineOf = (pH: number): NonNullable<TankKnowledge["baseline"]> => ({
  baseline: { pH, how: "aerated a day", roomCo2_ppm: 600, temperature_degC: 25 },
  age_days: 0,
  replaced_ratio: 0,
  isRecalibratedSince: false,
  driftPhSigma: 0,
});
const estimate = (changes: Partial<TankKnowledge>): TankCo2Estimate => tankCo2({ ...known, ...changes })!;
const spread = (one: TankCo2Estimate): number => one.co2High80_mgPerL / one.co2_mgPerL;

describe("a tank's CO2 from all that is known", () => {
  it("is that of pH and hardness where nothing else is known", () => {
    const alone = co2FromHardness({ pH: 6.7, kh_dKH: 4, temperature_degC: 25, phUncertainty: 0.05 });
    const one = estimate({});
    expect(one.co2_mgPerL).toBeCloseTo(alone.co2_mgPerL, 6);
    expect(one.methods).toMatchObject([{ method: "carbonate hardness", weight_ratio: 1 }]);
    expect(one.agreement.kind).toBe("one method");
  });

  it("is narrower with a pH drop that agrees below, and never narrower above", () => {
    const alone = estimate({});
    // Air-equilibrated water of 4 dKH at 600 ppm: 0.87 mg/L (Weiss 1974) and so pH 8.2.
    const both = estimate({ baseline: baselineOf(8.2) });
    expect(both.agreement.kind).toBe("methods agree");
    expect(both.co2Low80_mgPerL).toBeGreaterThan(alone.co2Low80_mgPerL);
    expect(both.co2High80_mgPerL).toBeGreaterThanOrEqual(alone.co2High80_mgPerL * 0.9999);
    expect(both.methods.map(({ weight_ratio }) => weight_ratio).reduce((a, b) => a + b)).toBeCloseTo(1, 9);
  });

  it.each<[Pick<TankKnowledge["hardness"], "age_days" | "replaced_ratio">, string]>([
    [{ age_days: 28, replaced_ratio: 0 }, "an old test"],
    [{ age_days: 0, replaced_ratio: 0.5 }, "half of the water changed since"],
    [{ age_days: undefined, replaced_ratio: 0 }, "a value without a date"],
  ])("widens its interval and keeps its centre for %o: %s", (water) => {
    const one = estimate({ hardness: { ...known.hardness, ...water } });
    expect(one.co2_mgPerL).toBeCloseTo(estimate({}).co2_mgPerL, 6);
    expect(spread(one)).toBeGreaterThan(spread(estimate({})) * 1.01);
  });

  it("is not known where no formula holds, and says which method is silent", () => {
    expect(tankCo2({ ...known, pH: 11 })).toBeUndefined();
    const one = estimate({ baseline: baselineOf(9.9) });
    expect(one.methods.map(({ method }) => method)).toEqual(["carbonate hardness"]);
    expect(one.remarks.join(" ")).toContain("The pH drop says nothing here");
  });
});

describe("a pH drop that cannot be right", () => {
  it.each([
    [6.7, "no drop at all"],
    [6.4, "a degassed pH below the tank's"],
  ])("is left out and told: degassed pH %d, %s", (pH) => {
    const one = estimate({ baseline: baselineOf(pH) });
    expect(one.methods.map(({ method }) => method)).toEqual(["carbonate hardness"]);
    expect(one.co2_mgPerL).toBeCloseTo(estimate({}).co2_mgPerL, 6);
    expect(one.remarks.join(" ")).toContain("the pH drop does not count");
  });

  it("is one that leaves less than the air gives", () => {
    // Weiss 1974: 5 degC water under 420 ppm holds 1.2 mg/L, more than a sample aerated at 30 degC.
    const warm = { ...baselineOf(6.71), baseline: { ...baselineOf(6.71).baseline, temperature_degC: 35 } };
    const one = estimate({ temperature_degC: 5, baseline: warm });
    expect(one.methods.map(({ method }) => method)).toEqual(["carbonate hardness"]);
    expect(one.remarks.join(" ")).toContain("less CO2 than the room's air");
  });
});

describe("methods that disagree", () => {
  it("have the centre of the highest told, and no single low one hides it", () => {
    // By a wrong degassed pH the drop reads a third of the hardness or less.
    const one = estimate({ baseline: baselineOf(7.5) });
    expect(one.agreement.kind).toBe("methods disagree");
    expect(one.highestCentre_mgPerL).toBeCloseTo(estimate({}).co2_mgPerL, 3);
    expect(one.co2_mgPerL).toBeLessThan(one.highestCentre_mgPerL);
  });

  it("have an upper end that reaches the drop where the hardness is too low", () => {
    const one = estimate({ hardness: { ...known.hardness, kh_dKH: 0.4 }, baseline: baselineOf(8.2) });
    const drop = one.methods.find(({ method }) => method === "pH drop")!;
    expect(one.co2High80_mgPerL).toBeGreaterThanOrEqual(drop.co2_mgPerL);
    expect(one.highestCentre_mgPerL).toBeCloseTo(drop.co2_mgPerL, 3);
  });

  it("agree in one centre where they agree", () => {
    const one = estimate({ baseline: baselineOf(8.2) });
    expect(one.highestCentre_mgPerL).toBeCloseTo(one.co2_mgPerL, 9);
  });
});

describe("phosphate in a tank's water", () => {
  // PHREEQC, as in test/reference/tank-ph-drop-phreeqc.json: at 100 mg/L and 4 dKH a drop that is not told of it reads 13 for 30.
  const misled = baselineOf(7.75);

  it("does not pull the upper end down where nobody told of it", () => {
    const alone = estimate({});
    const both = estimate({ baseline: misled });
    expect(both.methods[1]!.co2_mgPerL).toBeLessThan(alone.co2_mgPerL * 0.6);
    expect(both.co2High80_mgPerL).toBeGreaterThanOrEqual(alone.co2High80_mgPerL * 0.9999);
  });

  it("is explained where it is told of, for hardness and drop", () => {
    const one = estimate({ phosphate_mgPerL: 100, baseline: misled });
    expect(one.remarks.join(" ")).toMatch(/Phosphate makes \d+ % of what a KH test shows/);
    expect(one.remarks.join(" ")).toContain("never lowers the upper end");
    expect(one.methods[1]!.co2_mgPerL).toBeGreaterThan(estimate({ baseline: misled }).methods[1]!.co2_mgPerL);
    expect(one.co2High80_mgPerL).toBeGreaterThanOrEqual(estimate({}).co2High80_mgPerL * 0.9999);
  });
});

describe("a drop checker's colour", () => {
  const seen = (changes: Partial<NonNullable<TankKnowledge["colour"]>>): TankKnowledge["colour"] => ({
    colour: "green",
    age_h: 0.1,
    checker: {},
    then: { pH: 6.7, lag_ratio: 1 },
    ...changes,
  });

  it("narrows the interval where it agrees and the tank stood still", () => {
    const wide = { probe: { offsetPhSigma: 0.2, slopeSigma_ratio: 0.05 } };
    const one = estimate({ ...wide, colour: seen({}) });
    expect(spread(one)).toBeLessThan(spread(estimate(wide)) * 0.95);
    expect(one.methods.map(({ method }) => method)).toEqual(["carbonate hardness", "drop checker"]);
  });

  it("that disagrees is explained, and the upper end stays that of the hardness at least", () => {
    const one = estimate({ colour: seen({ colour: "blue" }) });
    expect(one.agreement.kind).toBe("methods disagree");
    const { explanations } = one.agreement as { readonly explanations: readonly string[] };
    expect(explanations.join(" ")).toMatch(/KH reading and drop checker disagree by a factor \d/);
    expect(one.co2High80_mgPerL).toBeGreaterThan(estimate({}).co2High80_mgPerL * 0.95);
    expect(one.methods[1]).toMatchObject({ reach: "at most", co2Low80_mgPerL: undefined });
  });

  it.each<[Partial<NonNullable<TankKnowledge["colour"]>>, string, string]>([
    [{ age_h: 7 }, "counts no more", "too old"],
    [{ then: { pH: 7.05, lag_ratio: 1 } }, "times the CO2", "the tank rose since"],
    [{ then: { pH: 6.3, lag_ratio: 1 } }, "down to", "the tank fell since"],
  ])("counts no more for %o and says why: %s", (changes, says) => {
    const one = estimate({ colour: seen(changes) });
    expect(one.methods).toHaveLength(1);
    expect(one.remarks.join(" ")).toContain(says);
  });

  it("weighs less with each hour and with each step that the tank makes", () => {
    const weights = [seen({}), seen({ age_h: 3 }), seen({ age_h: 3, then: { pH: 6.85, lag_ratio: 1 } })].map(
      (colour) => estimate({ colour }).methods[1]!.weight_ratio,
    );
    expect(weights[1]!).toBeLessThan(weights[0]!);
    expect(weights[2]!).toBeLessThan(weights[1]!);
  });
});

describe("the upper end, on which the valve closes", () => {
  const colours = ["blue", "blue-green", "green", "yellow-green", "yellow"] as const;

  it("is never below what pH and hardness say, whatever colour or baseline a person entered", () => {
    fc.assert(
      fc.property(
        fc.record({
          pH: fc.double({ min: 5.8, max: 7.6, noNaN: true }),
          kh_dKH: fc.double({ min: 0.5, max: 15, noNaN: true }),
          baselinePh: fc.option(fc.double({ min: 6, max: 9, noNaN: true }), { nil: undefined }),
          colour: fc.constantFrom(...colours),
          age_h: fc.double({ min: 0, max: 8, noNaN: true }),
          thenPh: fc.option(fc.double({ min: 6, max: 7.5, noNaN: true }), { nil: undefined }),
          offsetPhSigma: fc.double({ min: 0.02, max: 0.3, noNaN: true }),
        }),
        ({ pH, kh_dKH, baselinePh, colour, age_h, thenPh, offsetPhSigma }) => {
          const one = estimate({
            pH,
            hardness: { ...known.hardness, kh_dKH },
            baseline: baselinePh === undefined ? undefined : baselineOf(baselinePh),
            colour: {
              colour,
              age_h,
              checker: {},
              then: thenPh === undefined ? undefined : { pH: thenPh, lag_ratio: 0.8 },
            },
            probe: { offsetPhSigma, slopeSigma_ratio: 0.02 },
          });
          const alone = co2FromHardness({ pH, kh_dKH, temperature_degC: 25 });
          expect(one.co2High80_mgPerL).toBeGreaterThanOrEqual(alone.co2_mgPerL * 0.9999);
          expect(one.co2High80_mgPerL).toBeGreaterThanOrEqual(one.co2_mgPerL);
          expect(one.co2Low80_mgPerL).toBeLessThanOrEqual(one.co2_mgPerL);
        },
      ),
      { seed: 20261125, numRuns: 60 },
    );
  });

  it("does not fall for a colour from before a rise, however lately it was seen", () => {
    const alone = estimate({});
    const before = estimate({
      colour: {
        colour: "blue-green",
        age_h: 1,
        checker: {},
        then: { pH: 6.89, lag_ratio: 0.85 },
      },
    });
    expect(before.methods).toHaveLength(2);
    expect(before.co2High80_mgPerL).toBeGreaterThanOrEqual(alone.co2High80_mgPerL * 0.9999);
  });
});
