import { describe, expect, it } from "vitest";
import { pHFromCarbonDioxide } from "../../../../lib/chemistry/carbonate-speciation.js";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { alkalinityFromKh_meqPerL } from "../../../../lib/quantities/units.js";
import { airEquilibriumCo2_mgPerL } from "../../../../lib/tank/air-equilibrium.js";
import type { Co2Evidence, Co2Method } from "../../../../lib/tank/co2-evidence.js";
import { hardnessEvidence } from "../../../../lib/tank/co2-from-hardness.js";
import { phDropEvidence } from "../../../../lib/tank/co2-from-ph-drop.js";
import { fuseCo2, type FusedCo2 } from "../../../../lib/tank/co2-fusion.js";
import { otherBases_meqPerL, type OtherBases } from "../../../../lib/tank/other-bases.js";

const probe = { offsetPhSigma: 0.05, readingPhSigma: 0.02 };
const exactProbe = { offsetPhSigma: 0, readingPhSigma: 0 };

const byHardness = (co2_mgPerL: number, ownSigma_ln = 0.15): Co2Evidence => ({
  method: "carbonate hardness",
  co2_mgPerL,
  ownSigma_ln,
  probeOffset_lnPerPh: -Math.LN10,
  probeReading_lnPerPh: -Math.LN10,
  reach: "about",
});
const byDrop = (co2_mgPerL: number, ownSigma_ln = 0.15): Co2Evidence => ({
  ...byHardness(co2_mgPerL, ownSigma_ln),
  method: "pH drop",
  probeOffset_lnPerPh: 0,
});
const byChecker = (
  co2_mgPerL: number,
  reach: Co2Evidence["reach"] = "about",
  ownSigma_ln = 0.25,
): Co2Evidence => ({
  method: "drop checker",
  co2_mgPerL,
  ownSigma_ln,
  probeOffset_lnPerPh: 0,
  probeReading_lnPerPh: 0,
  reach,
});

function fused(evidences: readonly Co2Evidence[], spread = probe): FusedCo2 {
  const estimate = fuseCo2(evidences, spread);
  if (estimate === undefined) throw new Error("nothing fused");
  return estimate;
}
const weightOf = (estimate: FusedCo2, method: Co2Method): number =>
  estimate.weights.find((weight) => weight.method === method)?.weight_ratio ?? Number.NaN;
const wordsOf = ({ agreement }: FusedCo2): string =>
  agreement.kind === "methods disagree" ? agreement.explanations.join("\n") : "";

describe("the fused CO2", () => {
  it("of no method is not known", () => {
    expect(fuseCo2([], probe)).toBeUndefined();
  });

  it("of one method is that method, its probe's error included", () => {
    const estimate = fused([byHardness(25, 0.2)]);
    const sigma = Math.hypot(0.2, Math.LN10 * 0.05, Math.LN10 * 0.02);
    expect(estimate.co2_mgPerL).toBeCloseTo(25, 5);
    expect(estimate.co2High80_mgPerL).toBeCloseTo(25 * Math.exp(1.28155 * sigma), 3);
    expect(estimate.co2Low95_mgPerL).toBeCloseTo(25 * Math.exp(-1.95996 * sigma), 3);
    expect(estimate.weights).toEqual([{ method: "carbonate hardness", weight_ratio: 1 }]);
    expect(estimate.agreement).toEqual({ kind: "one method" });
  });

  // By hand, least squares with the inverse covariance (Aitken 1936): own errors 0.1 and 0.2 that share nothing: 4 to 1.
  it("of two methods that share nothing weighs by the inverse square of their errors", () => {
    const estimate = fused([byHardness(20, 0.1), byChecker(25, "about", 0.2)], exactProbe);
    expect(weightOf(estimate, "carbonate hardness")).toBeCloseTo(0.8, 6);
    expect(estimate.co2_mgPerL).toBeCloseTo(20 ** 0.8 * 25 ** 0.2, 5);
  });

  // By hand: the reading's error is in both and cancels from the weights, the offset is the hardness method's alone:
  // 0.15^2 : 0.15^2 + (2.3026 x 0.1)^2 = 0.0225 : 0.0755.
  it("trusts the pH drop more than the hardness when the probe may stand off", () => {
    const estimate = fused([byHardness(22), byDrop(24)], { offsetPhSigma: 0.1, readingPhSigma: 0.2 });
    expect(weightOf(estimate, "carbonate hardness")).toBeCloseTo(0.0225 / (0.0225 + 0.0755), 3);
  });

  it("does not count two readings of one probe as two witnesses", () => {
    const spread = { offsetPhSigma: 0.15, readingPhSigma: 0.05 };
    const alone = fused([byHardness(25, 0.05)], spread);
    const twice = fused([byHardness(25, 0.05), byHardness(25, 0.05)], spread);
    const width = (one: FusedCo2): number => Math.log(one.co2High80_mgPerL / one.co2Low80_mgPerL);
    expect(width(twice) / width(alone)).toBeGreaterThan(0.98);
    const apart = fused([byChecker(25, "about", 0.3), byChecker(25, "about", 0.3)], spread);
    expect(width(apart) / width(fused([byChecker(25, "about", 0.3)], spread))).toBeCloseTo(Math.SQRT1_2, 3);
  });

  it.each<[number, Co2Evidence["reach"], string]>([
    [5, "at least", "a bound far below"],
    [200, "at most", "a bound far above"],
  ])("is left alone by %d %s (%s), which weighs nothing", (edge_mgPerL, reach) => {
    const estimate = fused([byDrop(25), byChecker(edge_mgPerL, reach)]);
    expect(estimate.co2_mgPerL).toBeCloseTo(25, 1);
    expect(weightOf(estimate, "drop checker")).toBeLessThan(0.001);
  });

  it("is pushed by a bound that it touches, and the weights still add to 1", () => {
    const estimate = fused([byDrop(25, 0.4), byChecker(30, "at least")]);
    expect(estimate.co2_mgPerL).toBeGreaterThan(28);
    expect(weightOf(estimate, "drop checker")).toBeGreaterThan(0.3);
    expect(weightOf(estimate, "drop checker") + weightOf(estimate, "pH drop")).toBeCloseTo(1, 9);
  });

  it("of a yellow drop checker alone is a high value with an end, of a blue one a low value", () => {
    const yellow = fused([byChecker(45, "at least")]);
    expect(yellow.co2_mgPerL).toBeGreaterThan(45);
    expect(yellow.co2High95_mgPerL).toBeLessThan(300);
    const blue = fused([byChecker(8, "at most")]);
    expect(blue.co2_mgPerL).toBeLessThan(8);
    expect(blue.co2High80_mgPerL).toBeLessThan(12);
  });

  it.each<[string, readonly Co2Evidence[], typeof probe]>([
    ["CO2", [{ ...byDrop(25), co2_mgPerL: 0 }], probe],
    ["CO2", [{ ...byDrop(25), co2_mgPerL: Number.NaN }], probe],
    ["own error", [{ ...byDrop(25), ownSigma_ln: -0.1 }], probe],
    ["own error", [{ ...byDrop(25), ownSigma_ln: Number.POSITIVE_INFINITY }], probe],
    ["share of the probe", [{ ...byDrop(25), probeReading_lnPerPh: Number.NaN }], probe],
    ["probe's offset", [byDrop(25)], { ...probe, offsetPhSigma: Number.NaN }],
    ["probe's reading", [byDrop(25)], { ...probe, readingPhSigma: -1 }],
    ["number of methods", Array.from({ length: 9 }, () => byDrop(25)), probe],
  ])("refuses a wrong %s", (_, evidences, spread) => {
    expect(() => fuseCo2(evidences, spread)).toThrow(OutOfValidRangeError);
  });
});

describe("methods that disagree", () => {
  it("are not called so within their errors", () => {
    const { agreement } = fused([byHardness(25), byDrop(21)]);
    expect(agreement).toMatchObject({
      kind: "methods agree",
      pairs: [{ higher: "carbonate hardness", lower: "pH drop", disagree: false }],
    });
  });

  it("are named with their factor and their likely causes", () => {
    const estimate = fused([byHardness(40), byDrop(20)]);
    expect(estimate.agreement).toMatchObject({ kind: "methods disagree", standingAlone: [] });
    expect(wordsOf(estimate)).toContain("KH reading and pH drop disagree by a factor 2.0");
    expect(wordsOf(estimate)).toContain("old KH test");
    expect(wordsOf(estimate)).toContain("tannins, phosphate");
    expect(wordsOf(estimate)).toContain("a pH probe that reads too low");
    expect(estimate.agreement).toMatchObject({
      advice: {
        whatToDo:
          "First test the KH again; then measure the degassed pH again; then check the pH probe in a buffer. Until then go by the higher figure.",
        why: "KH reading and pH drop disagree by a factor 2.0: 40 against 20 mg/L.",
      },
    });
  });

  it("give an interval over both, whose upper end is that of the higher one alone", () => {
    const estimate = fused([byHardness(40), byDrop(20)]);
    expect(estimate.co2High80_mgPerL).toBeGreaterThanOrEqual(fused([byHardness(40)]).co2High80_mgPerL - 1e-6);
    expect(estimate.co2Low80_mgPerL).toBeLessThanOrEqual(fused([byDrop(20)]).co2Low80_mgPerL + 1e-6);
    expect(estimate.co2_mgPerL).toBeCloseTo(Math.sqrt(20 * 40), 5);
    expect(estimate.weights.map(({ weight_ratio }) => weight_ratio)).toEqual([0.5, 0.5]);
  });

  it("do not let one low method pull down the upper end of two that agree on more", () => {
    const agreeing = fused([byHardness(42), byDrop(40)]);
    const estimate = fused([byHardness(42), byDrop(40), byChecker(12)]);
    expect(estimate.agreement).toMatchObject({ standingAlone: ["drop checker"] });
    expect(estimate.co2High80_mgPerL).toBeGreaterThanOrEqual(agreeing.co2High80_mgPerL - 1e-6);
    expect(estimate.co2_mgPerL).toBeGreaterThan(35);
    expect(wordsOf(estimate)).toContain("drop checker stands alone");
    expect(wordsOf(estimate)).toContain("lags behind a rise");
  });

  it("give the middle of both however far they are apart", () => {
    expect(fused([byHardness(80), byDrop(2)]).co2_mgPerL).toBeCloseTo(Math.sqrt(160), 5);
  });

  it("leave the central value with the two that agree when one reads high, and widen upwards", () => {
    const agreeing = fused([byDrop(24), byChecker(26)]);
    const estimate = fused([byHardness(60), byDrop(24), byChecker(26)]);
    expect(estimate.agreement).toMatchObject({ standingAlone: ["carbonate hardness"] });
    expect(estimate.co2_mgPerL).toBeCloseTo(agreeing.co2_mgPerL, 6);
    expect(estimate.co2High80_mgPerL).toBeGreaterThan(1.3 * agreeing.co2High80_mgPerL);
    expect(estimate.co2High95_mgPerL).toBeGreaterThan(60);
    expect(weightOf(estimate, "carbonate hardness")).toBe(0);
  });

  it.each<[Co2Evidence, Co2Evidence, string, string]>([
    [byHardness(15), byDrop(40), "from when the KH was lower", "KH has risen"],
    [byDrop(15), byChecker(45), "had not lost all its CO2", "baseline not degassed"],
    [byDrop(50), byChecker(12), "lags behind a rise", "checker late in the morning"],
    [byHardness(12), byChecker(45), "a pH probe that reads too high", "the probe is one more suspect"],
    [byHardness(50), byChecker(20, "at most"), "the KH reading higher", "a bound that is broken"],
    [byChecker(10), byChecker(40), "repeat it", "two findings by one method"],
  ])("%#: say of the pair what may be wrong: %s", (first, second, words) => {
    expect(wordsOf(fused([first, second]))).toContain(words);
  });

  it("are two bounds that exclude each other", () => {
    expect(fused([byChecker(45, "at least"), byChecker(8, "at most")]).agreement.kind).toBe(
      "methods disagree",
    );
    expect(fused([byChecker(8, "at least"), byChecker(45, "at most")]).agreement.kind).toBe("methods agree");
  });
});

interface BlendedWater {
  /** Carbonate hardness behind the bicarbonate at the tank's pH. */
  readonly carbonate_dKH: number;
  readonly bases: OtherBases;
  /** The kit's figure where it is older than the water. */
  readonly oldKh_dKH?: number;
  readonly khUncertainty_dKH: number;
}

describe("water with acids and bases other than those of CO2", () => {
  const temperature_degC = 25;
  const truth_mgPerL = 24;
  const ionicStrength_molPerL = 0.005;
  const dKH_meqPerL = alkalinityFromKh_meqPerL(1);

  const carbonatePh = (co2_mgPerL: number, alkalinity_meqPerL: number): number =>
    pHFromCarbonDioxide({ co2_mgPerL, alkalinity_meqPerL, temperature_degC, ionicStrength_molPerL });

  /** What a titration finds is kept as CO2 goes: bases that let go of their charge leave it to bicarbonate. */
  function degassedPh(titrated_meqPerL: number, bases: OtherBases): number {
    let low = 5;
    let high = 9.5;
    for (let halving = 0; halving < 50; halving += 1) {
      const pH = (low + high) / 2;
      const other_meqPerL = otherBases_meqPerL({ pH, temperature_degC, ionicStrength_molPerL }, bases);
      const carbonate_meqPerL = Math.max(titrated_meqPerL - other_meqPerL, 0.01);
      if (
        carbonatePh(airEquilibriumCo2_mgPerL({ temperature_degC, roomCo2_ppm: 420 }), carbonate_meqPerL) > pH
      )
        low = pH;
      else high = pH;
    }
    return (low + high) / 2;
  }

  function methodsIn({
    carbonate_dKH,
    bases,
    oldKh_dKH,
    khUncertainty_dKH,
  }: BlendedWater): readonly Co2Evidence[] {
    const pH = carbonatePh(truth_mgPerL, carbonate_dKH * dKH_meqPerL);
    const titrated_meqPerL =
      carbonate_dKH * dKH_meqPerL +
      otherBases_meqPerL({ pH, temperature_degC, ionicStrength_molPerL }, bases);
    return [
      hardnessEvidence({
        pH,
        kh_dKH: oldKh_dKH ?? titrated_meqPerL / dKH_meqPerL,
        temperature_degC,
        khUncertainty_dKH,
      }),
      phDropEvidence({
        pH,
        temperature_degC,
        baseline: { pH: degassedPh(titrated_meqPerL, bases), how: "aerated a day", roomCo2_ppm: 420 },
      }),
    ];
  }

  it.each<[BlendedWater, number, number, "methods agree" | "methods disagree", string]>([
    [{ carbonate_dKH: 4, bases: {}, khUncertainty_dKH: 0.5 }, 1, 1, "methods agree", "plain water"],
    [
      { carbonate_dKH: 3, bases: {}, oldKh_dKH: 6, khUncertainty_dKH: 0.5 },
      2,
      1,
      "methods disagree",
      "half of the tested hardness used up by acid since",
    ],
    [
      { carbonate_dKH: 0.6, bases: { dissolvedOrganicCarbon_mgPerL: 40 }, khUncertainty_dKH: 0.1 },
      1.56,
      0.87,
      "methods disagree",
      "soft water brown with tannins, a fine kit",
    ],
    [
      { carbonate_dKH: 0.6, bases: { dissolvedOrganicCarbon_mgPerL: 40 }, khUncertainty_dKH: 0.5 },
      1.56,
      0.87,
      "methods agree",
      "the same by an ordinary kit, whose own error is as large",
    ],
    [
      { carbonate_dKH: 4, bases: { phosphate_mgPerL: 95 }, khUncertainty_dKH: 0.5 },
      1.17,
      0.6,
      "methods disagree",
      "1 mmol/L of a phosphate buffer: the kit reads high and the drop low",
    ],
  ])(
    "%#: %j: hardness reads %d and drop %d times the truth; %s (%s)",
    (water, hardnessFactor, dropFactor, kind) => {
      const methods = methodsIn(water);
      const factors = methods.map(({ co2_mgPerL }) => co2_mgPerL / truth_mgPerL);
      expect(Math.abs((factors[0] ?? 0) / hardnessFactor - 1)).toBeLessThan(0.06);
      expect(Math.abs((factors[1] ?? 0) / dropFactor - 1)).toBeLessThan(0.06);
      const estimate = fused(methods);
      expect(estimate.agreement.kind).toBe(kind);
      if (kind === "methods disagree") expect(wordsOf(estimate)).toContain("tannins, phosphate");
      expect(estimate.co2Low80_mgPerL).toBeLessThan(truth_mgPerL);
      expect(estimate.co2High80_mgPerL).toBeGreaterThan(truth_mgPerL);
    },
  );
});
