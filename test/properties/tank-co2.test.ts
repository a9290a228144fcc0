import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  alkalinityFromCarbonDioxide_meqPerL,
  carbonateSpeciation,
  pHFromCarbonDioxide,
} from "../../lib/chemistry/carbonate-speciation.js";
import { degassingMethods, dropCheckerColours } from "../../lib/journal/journal-entry.js";
import { createRandomSource, drawNormal } from "../../lib/simulation/random-source.js";
import { waterPh } from "../../lib/simulation/water-ph.js";
import { co2FromHardness, hardnessEvidence } from "../../lib/tank/co2-from-hardness.js";
import { co2FromPhDrop } from "../../lib/tank/co2-from-ph-drop.js";
import { dropCheckerColourAt } from "../../lib/tank/drop-checker-colour.js";
import { readDropChecker } from "../../lib/tank/drop-checker-reading.js";
import { advanceDropChecker, dropCheckerPh } from "../../lib/tank/drop-checker.js";
import { hardnessApart } from "../../lib/tank/other-bases.js";

const settings = { seed: 20_251_125, numRuns: 400 };
const between = (min: number, max: number): fc.Arbitrary<number> => fc.double({ min, max, noNaN: true });

const reading = fc.record({
  pH: between(5, 8.8),
  kh_dKH: between(0.3, 25),
  temperature_degC: between(4, 40),
  phUncertainty: between(0, 0.5),
  khUncertainty_dKH: between(0, 5),
});

const holds = <Value>(arbitrary: fc.Arbitrary<Value>, predicate: (value: Value) => void): void =>
  fc.assert(fc.property(arbitrary, predicate), settings);

describe("CO2 from pH and hardness, of any tank", () => {
  it("lies within its interval, whose ends are finite and above nothing", () => {
    holds(reading, (given) => {
      const { co2_mgPerL, co2Low80_mgPerL, co2High80_mgPerL } = co2FromHardness(given);
      expect(co2Low80_mgPerL).toBeGreaterThan(0);
      expect(co2Low80_mgPerL).toBeLessThan(co2_mgPerL);
      expect(co2High80_mgPerL).toBeGreaterThan(co2_mgPerL);
      expect(Number.isFinite(co2High80_mgPerL)).toBe(true);
    });
  });

  it("falls with pH, rises with hardness, falls with temperature", () => {
    holds(reading, (given) => {
      const { co2_mgPerL } = co2FromHardness(given);
      expect(co2FromHardness({ ...given, pH: given.pH + 0.05 }).co2_mgPerL).toBeLessThan(co2_mgPerL);
      expect(co2FromHardness({ ...given, kh_dKH: given.kh_dKH + 0.1 }).co2_mgPerL).toBeGreaterThan(
        co2_mgPerL,
      );
      const warmer = { ...given, temperature_degC: given.temperature_degC + 1 };
      expect(co2FromHardness(warmer).co2_mgPerL).toBeLessThan(co2_mgPerL);
    });
  });

  it("widens with every uncertainty", () => {
    holds(reading, (given) => {
      const width = (more: Partial<typeof given>): number => {
        const { co2Low80_mgPerL, co2High80_mgPerL } = co2FromHardness({ ...given, ...more });
        return co2High80_mgPerL / co2Low80_mgPerL;
      };
      const plain = width({});
      expect(width({ phUncertainty: given.phUncertainty + 0.1 })).toBeGreaterThan(plain);
      expect(width({ khUncertainty_dKH: given.khUncertainty_dKH + 0.1 })).toBeGreaterThan(plain);
    });
  });

  it("takes twice the hardness for twice the CO2, at a known conductivity and below pH 8", () => {
    const neutral = fc.record({
      pH: between(5.5, 8),
      kh_dKH: between(2, 12),
      temperature_degC: between(4, 40),
      conductivity_uSPerCm: between(1000, 3000),
    });
    holds(neutral, (given) => {
      const twice = co2FromHardness({ ...given, kh_dKH: 2 * given.kh_dKH }).co2_mgPerL;
      expect(Math.abs(twice / co2FromHardness(given).co2_mgPerL / 2 - 1)).toBeLessThan(0.01);
    });
  });

  it("says the same as evidence as it says by itself", () => {
    holds(reading, (given) => {
      const { co2_mgPerL, co2High80_mgPerL } = co2FromHardness(given);
      const evidence = hardnessEvidence(given);
      const spread = Math.hypot(evidence.ownSigma_ln, evidence.probeReading_lnPerPh * given.phUncertainty);
      expect(evidence.co2_mgPerL).toBe(co2_mgPerL);
      expect(evidence.co2_mgPerL * Math.exp(1.2815516 * spread)).toBeCloseTo(co2High80_mgPerL, 6);
    });
  });
});

describe("the 80 % interval of CO2 from pH and hardness, over 4000 tanks read with the stated errors", () => {
  it.each([
    { kh_dKH: 12, because: "hard water, where the pH decides" },
    { kh_dKH: 4, because: "an ordinary tank" },
    { kh_dKH: 2, because: "the kit's error is a quarter" },
    { kh_dKH: 1, because: "the kit's error is a half" },
  ])("holds the truth in about 80 % at $kh_dKH dKH: $because", ({ kh_dKH }) => {
    const random = createRandomSource(20_251_125);
    let held = 0;
    let above = 0;
    let count = 0;
    while (count < 4000) {
      const co2_mgPerL = 10 + 30 * random();
      const truePh = waterPh({ co2_mgPerL, kh_dKH, temperature_degC: 25, ionicStrength_molPerL: 0.005 });
      const shownKh_dKH = kh_dKH + 0.5 * drawNormal(random);
      const pH = truePh + 0.05 * drawNormal(random);
      if (shownKh_dKH < 0.1) continue;
      count += 1;
      const estimate = co2FromHardness({ pH, kh_dKH: shownKh_dKH, temperature_degC: 25 });
      if (co2_mgPerL > estimate.co2High80_mgPerL) above += 1;
      else if (co2_mgPerL >= estimate.co2Low80_mgPerL) held += 1;
    }
    expect(held / count).toBeGreaterThan(0.78);
    expect(held / count).toBeLessThan(0.88);
    // More CO2 than the upper end is what harms.
    expect(above / count).toBeLessThan(0.135);
  });
});

describe("the carbonate equilibrium turned round", () => {
  it("gives back the alkalinity and the pH it was made from", () => {
    const water = fc.record({
      co2_mgPerL: between(0.3, 200),
      alkalinity_meqPerL: between(0.05, 10),
      temperature_degC: between(0, 45),
      ionicStrength_molPerL: between(0.0005, 0.1),
    });
    holds(water, (given) => {
      const pH = pHFromCarbonDioxide(given);
      fc.pre(pH > 4 && pH < 10);
      const { co2_mgPerL, temperature_degC, ionicStrength_molPerL } = given;
      const alkalinity_meqPerL = alkalinityFromCarbonDioxide_meqPerL({
        pH,
        co2_mgPerL,
        temperature_degC,
        ionicStrength_molPerL,
      });
      expect(Math.abs(alkalinity_meqPerL / given.alkalinity_meqPerL - 1)).toBeLessThan(1e-6);
      const again = carbonateSpeciation({ pH, alkalinity_meqPerL, temperature_degC, ionicStrength_molPerL });
      expect(Math.abs(again.co2_mgPerL / co2_mgPerL - 1)).toBeLessThan(1e-6);
    });
  });
});

describe("CO2 from the pH drop, of any tank", () => {
  const drop = fc.record({
    pH: between(5.8, 7.4),
    temperature_degC: between(10, 35),
    baseline: fc.record({
      pH: between(7.4, 8.4),
      how: fc.constantFrom(...degassingMethods),
      roomCo2_ppm: between(400, 1500),
    }),
  });

  it("lies within its interval and rises with the drop by nearly a tenfold a pH, never more", () => {
    holds(drop, (given) => {
      const estimate = co2FromPhDrop(given);
      expect(estimate.co2Low80_mgPerL).toBeLessThan(estimate.co2_mgPerL);
      expect(estimate.co2High80_mgPerL).toBeGreaterThan(estimate.co2_mgPerL);
      const lower = co2FromPhDrop({ ...given, pH: given.pH - 0.5 });
      const slope = Math.log10(lower.co2_mgPerL / estimate.co2_mgPerL) / 0.5;
      expect(slope).toBeGreaterThan(0.95);
      expect(slope).toBeLessThan(1.05);
    });
  });

  it("never exceeds the ratio of the hydrogen ions by more than carbonate in the sample allows", () => {
    holds(drop, (given) => {
      const { co2_mgPerL, degassedCo2_mgPerL, phDrop } = co2FromPhDrop(given);
      expect(Math.abs(Math.log(co2_mgPerL / (degassedCo2_mgPerL * 10 ** phDrop)))).toBeLessThan(0.12);
    });
  });
});

describe("any drop checker", () => {
  const checker = fc.record({ referenceKh_dKH: between(1, 10), timeConstant_h: between(0.5, 6) });

  it("stays between what it held and what the tank holds, and gets nearer", () => {
    holds(
      fc.tuple(checker, between(0, 100), between(0, 100), between(0.001, 20)),
      ([spec, liquidCo2_mgPerL, tankCo2_mgPerL, duration_h]) => {
        const after = advanceDropChecker(spec, { liquidCo2_mgPerL }, { tankCo2_mgPerL, duration_h });
        const low = Math.min(liquidCo2_mgPerL, tankCo2_mgPerL) - 1e-9;
        const high = Math.max(liquidCo2_mgPerL, tankCo2_mgPerL) + 1e-9;
        expect(after.liquidCo2_mgPerL).toBeGreaterThanOrEqual(low);
        expect(after.liquidCo2_mgPerL).toBeLessThanOrEqual(high);
        expect(Math.abs(after.liquidCo2_mgPerL - tankCo2_mgPerL)).toBeLessThanOrEqual(
          Math.abs(liquidCo2_mgPerL - tankCo2_mgPerL),
        );
      },
    );
  });

  it("turns towards yellow with more CO2, never back", () => {
    holds(fc.tuple(checker, between(1, 90), between(1.01, 3), between(10, 35)), ([spec, co2, times, t]) => {
      const pH = (liquidCo2_mgPerL: number): number =>
        dropCheckerPh(spec, { liquidCo2_mgPerL, temperature_degC: t });
      expect(pH(co2 * times)).toBeLessThan(pH(co2));
      const before = dropCheckerColours.indexOf(dropCheckerColourAt(pH(co2)));
      expect(dropCheckerColours.indexOf(dropCheckerColourAt(pH(co2 * times)))).toBeGreaterThanOrEqual(before);
    });
  });

  it("read by the colour it shows, agrees with the CO2 of its liquid within two standard deviations", () => {
    holds(fc.tuple(checker, between(3, 120), between(15, 32)), ([spec, co2_mgPerL, temperature_degC]) => {
      const colour = dropCheckerColourAt(
        dropCheckerPh(spec, { liquidCo2_mgPerL: co2_mgPerL, temperature_degC }),
      );
      const model = { tankCo2_mgPerL: co2_mgPerL, liquidCo2_mgPerL: co2_mgPerL };
      const { evidence } = readDropChecker({ ...spec, colour, temperature_degC, model });
      const off = Math.log(co2_mgPerL / evidence.co2_mgPerL) / evidence.ownSigma_ln;
      if (evidence.reach !== "at least") expect(off).toBeLessThan(2);
      if (evidence.reach !== "at most") expect(off).toBeGreaterThan(-2);
    });
  });
});

describe("any hardness with other bases", () => {
  it("reads high by the more the more of them there is, never low", () => {
    const brown = fc.record({
      kh_dKH: between(2, 15),
      pH: between(5.5, 8),
      temperature_degC: between(10, 35),
      phosphate_mgPerL: between(0, 30),
      dissolvedOrganicCarbon_mgPerL: between(0, 20),
    });
    holds(brown, ({ phosphate_mgPerL, dissolvedOrganicCarbon_mgPerL, ...water }) => {
      const bases = { phosphate_mgPerL, dissolvedOrganicCarbon_mgPerL };
      const { co2Excess_ratio } = hardnessApart({ ...water, bases });
      expect(co2Excess_ratio).toBeGreaterThanOrEqual(0);
      const more = { phosphate_mgPerL: phosphate_mgPerL + 1, dissolvedOrganicCarbon_mgPerL };
      expect(hardnessApart({ ...water, bases: more }).co2Excess_ratio).toBeGreaterThan(co2Excess_ratio);
    });
  });
});
