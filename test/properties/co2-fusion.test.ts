import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { createRandomSource, drawNormal } from "../../lib/simulation/random-source.js";
import type { Co2Evidence } from "../../lib/tank/co2-evidence.js";
import { fuseCo2, type FusedCo2 } from "../../lib/tank/co2-fusion.js";

const settings = { seed: 20_260_314, numRuns: 300 };

const evidence: fc.Arbitrary<Co2Evidence> = fc
  .record({
    kind: fc.constantFrom("hardness", "drop", "checker"),
    co2_mgPerL: fc.double({ min: 1, max: 80, noNaN: true }),
    ownSigma_ln: fc.double({ min: 0.03, max: 0.8, noNaN: true }),
    bound: fc.constantFrom<Co2Evidence["reach"][]>("about", "about", "at least", "at most"),
  })
  .map(({ kind, co2_mgPerL, ownSigma_ln, bound }) => ({
    method: (
      {
        hardness: "carbonate hardness",
        drop: "pH drop",
        checker: "drop checker",
      } as const
    )[kind],
    co2_mgPerL,
    ownSigma_ln,
    probeOffset_lnPerPh: kind === "hardness" ? -Math.LN10 : 0,
    probeReading_lnPerPh: kind === "hardness" || kind === "drop" ? -Math.LN10 : 0,
    reach: kind === "checker" ? bound : "about",
  }));
const evidences = fc.array(evidence, { minLength: 1, maxLength: 5 });
const probe = fc.record({
  offsetPhSigma: fc.double({ min: 0, max: 0.3, noNaN: true }),
  readingPhSigma: fc.double({ min: 0, max: 0.1, noNaN: true }),
});

function fused(methods: readonly Co2Evidence[], spread: Parameters<typeof fuseCo2>[1]): FusedCo2 {
  const estimate = fuseCo2(methods, spread);
  if (estimate === undefined) throw new Error("nothing fused");
  return estimate;
}

describe("fused CO2, whatever the methods say", () => {
  it("lies inside its 80 % interval, that inside the 95 % one, with weights that add to 1 and none below 0", () => {
    fc.assert(
      fc.property(evidences, probe, (methods, spread) => {
        const estimate = fused(methods, spread);
        const points = [
          estimate.co2Low95_mgPerL,
          estimate.co2Low80_mgPerL,
          estimate.co2_mgPerL,
          estimate.co2High80_mgPerL,
          estimate.co2High95_mgPerL,
        ];
        expect(points).toEqual([...points].sort((a, b) => a - b));
        expect(points.every((point) => point > 0 && Number.isFinite(point))).toBe(true);
        const weights = estimate.weights.map(({ weight_ratio }) => weight_ratio);
        expect(Math.min(...weights)).toBeGreaterThanOrEqual(0);
        expect(weights.reduce((sum, weight) => sum + weight, 0)).toBeCloseTo(1, 9);
      }),
      settings,
    );
  });

  it("does not depend on the order of the methods", () => {
    fc.assert(
      fc.property(evidences, probe, (methods, spread) => {
        const there = fused(methods, spread);
        const back = fused([...methods].reverse(), spread);
        expect(back.co2_mgPerL / there.co2_mgPerL).toBeCloseTo(1, 5);
        expect(back.co2High80_mgPerL / there.co2High80_mgPerL).toBeCloseTo(1, 5);
        expect(back.agreement.kind).toBe(there.agreement.kind);
      }),
      settings,
    );
  });

  it("doubles when every method that gives a value doubles", () => {
    fc.assert(
      fc.property(evidences, probe, (methods, spread) => {
        fc.pre(methods.some(({ reach }) => reach === "about"));
        const doubled = methods.map((method) => ({ ...method, co2_mgPerL: 2 * method.co2_mgPerL }));
        const before = fused(methods, spread);
        // A bound left as the only member of a candidate leans on what tanks have, which does not double.
        fc.pre(before.agreement.kind !== "methods disagree");
        expect(fused(doubled, spread).co2_mgPerL / before.co2_mgPerL).toBeCloseTo(2, 5);
      }),
      settings,
    );
  });

  it("never has its upper end pulled down by the one method whose removal leaves the others in agreement", () => {
    let seen = 0;
    fc.assert(
      fc.property(evidences, probe, (methods, spread) => {
        const estimate = fused(methods, spread);
        if (estimate.agreement.kind !== "methods disagree") return;
        methods.forEach((_, index) => {
          const rest = methods.filter((__, other) => other !== index);
          const without = fused(rest, spread);
          if (without.agreement.kind === "methods disagree") return;
          seen += 1;
          expect(estimate.co2High80_mgPerL).toBeGreaterThanOrEqual(without.co2High80_mgPerL * (1 - 1e-6));
          expect(estimate.co2Low80_mgPerL).toBeLessThanOrEqual(without.co2Low80_mgPerL * (1 + 1e-6));
        });
      }),
      settings,
    );
    expect(seen).toBeGreaterThan(50);
  });

  it("never narrows below what the probe itself leaves open, however often it is read", () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 6 }), probe, (count, spread) => {
        const reading: Co2Evidence = {
          method: "carbonate hardness",
          co2_mgPerL: 25,
          ownSigma_ln: 0.05,
          probeOffset_lnPerPh: -Math.LN10,
          probeReading_lnPerPh: -Math.LN10,
          reach: "about",
        };
        const estimate = fused(
          Array.from({ length: count }, () => reading),
          spread,
        );
        const sigma = Math.log(estimate.co2High80_mgPerL / estimate.co2_mgPerL) / 1.28155;
        const probeSigma = Math.LN10 * Math.hypot(spread.offsetPhSigma, spread.readingPhSigma);
        expect(sigma).toBeGreaterThanOrEqual(probeSigma * (1 - 1e-4));
      }),
      settings,
    );
  });
});

interface Trial {
  readonly truth_mgPerL: number;
  readonly methods: readonly Co2Evidence[];
}

/** Tanks whose errors are as stated: the probe's offset and its reading are drawn once and enter every method that uses them. */
function drawTrial(random: () => number, spread: Parameters<typeof fuseCo2>[1], withChecker: boolean): Trial {
  const truth_mgPerL = 5 * 8 ** random();
  const offset = spread.offsetPhSigma * drawNormal(random);
  const reading = spread.readingPhSigma * drawNormal(random);
  const methodOf = (
    method: Co2Evidence["method"],
    ownSigma_ln: number,
    usesOffset: boolean,
    usesReading: boolean,
  ): Co2Evidence => {
    const probeOffset_lnPerPh = usesOffset ? -Math.LN10 : 0;
    const probeReading_lnPerPh = usesReading ? -Math.LN10 : 0;
    const error =
      ownSigma_ln * drawNormal(random) + probeOffset_lnPerPh * offset + probeReading_lnPerPh * reading;
    return {
      method,
      co2_mgPerL: truth_mgPerL * Math.exp(error),
      ownSigma_ln,
      probeOffset_lnPerPh,
      probeReading_lnPerPh,
      reach: "about",
    };
  };
  const methods = [
    methodOf("carbonate hardness", 0.12, true, true),
    methodOf("pH drop", 0.15, false, true),
    ...(withChecker ? [methodOf("drop checker", 0.35, false, false)] : []),
  ];
  // The end of a checker's scale: at 30 mg/L and above the colour says "at least 30".
  const capped = methods.map((method): Co2Evidence =>
    method.method === "drop checker" && method.co2_mgPerL > 30
      ? { ...method, co2_mgPerL: 30, reach: "at least" }
      : method,
  );
  return { truth_mgPerL, methods: capped };
}

/** As if every method had a probe of its own. */
function apart(
  methods: readonly Co2Evidence[],
  spread: Parameters<typeof fuseCo2>[1],
): readonly Co2Evidence[] {
  return methods.map((method) => ({
    ...method,
    ownSigma_ln: Math.hypot(
      method.ownSigma_ln,
      method.probeOffset_lnPerPh * spread.offsetPhSigma,
      method.probeReading_lnPerPh * spread.readingPhSigma,
    ),
    probeOffset_lnPerPh: 0,
    probeReading_lnPerPh: 0,
  }));
}

const trials = 3000;

function coverageOf(
  seed: number,
  spread: Parameters<typeof fuseCo2>[1],
  withChecker: boolean,
  view: (methods: readonly Co2Evidence[]) => readonly Co2Evidence[],
): { readonly inside80: number; readonly inside95: number; readonly disagree: number } {
  const random = createRandomSource(seed);
  let inside80 = 0;
  let inside95 = 0;
  let disagree = 0;
  for (let trial = 0; trial < trials; trial += 1) {
    const { truth_mgPerL, methods } = drawTrial(random, spread, withChecker);
    const estimate = fused(view(methods), spread);
    if (truth_mgPerL >= estimate.co2Low80_mgPerL && truth_mgPerL <= estimate.co2High80_mgPerL) inside80 += 1;
    if (truth_mgPerL >= estimate.co2Low95_mgPerL && truth_mgPerL <= estimate.co2High95_mgPerL) inside95 += 1;
    if (estimate.agreement.kind === "methods disagree") disagree += 1;
  }
  return { inside80: inside80 / trials, inside95: inside95 / trials, disagree: disagree / trials };
}

describe("intervals of the fused CO2 over tanks whose errors are as stated", () => {
  it.each([
    [{ offsetPhSigma: 0.05, readingPhSigma: 0.02 }, false, "a fresh probe"],
    [{ offsetPhSigma: 0.13, readingPhSigma: 0.05 }, false, "a probe four weeks from its calibration"],
    [{ offsetPhSigma: 0.03, readingPhSigma: 0.1 }, false, "a probe that drifted since the baseline"],
    [{ offsetPhSigma: 0.1, readingPhSigma: 0.05 }, true, "with a drop checker whose scale ends at 30 mg/L"],
  ])("cover 80 +- 4 of a hundred, and 95 +- 3, with %j, checker %j (%s)", (spread, withChecker) => {
    const { inside80, inside95, disagree } = coverageOf(
      20_260_401,
      spread,
      withChecker,
      (methods) => methods,
    );
    expect(inside80).toBeGreaterThan(0.76);
    expect(inside80).toBeLessThan(0.84);
    expect(inside95).toBeGreaterThan(0.92);
    expect(inside95).toBeLessThan(0.98);
    // A test at 95 % says "disagree" of one honest pair in twenty.
    expect(disagree).toBeLessThan(0.09);
  });

  it("would cover far too little if a shared probe were taken for two", () => {
    const spread = { offsetPhSigma: 0.03, readingPhSigma: 0.1 };
    const naive = coverageOf(20_260_401, spread, false, (methods) => apart(methods, spread));
    expect(naive.inside80).toBeLessThan(0.72);
  });
});
