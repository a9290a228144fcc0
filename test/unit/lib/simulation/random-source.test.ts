import { describe, expect, it } from "vitest";
import {
  createRandomSource,
  createRandomWordSource,
  drawNormal,
  randomWordsFromSeed,
} from "../../../../lib/simulation/random-source.js";

describe("xoshiro128**", () => {
  // First outputs of the authors' reference program xoshiro128starstar.c, version 1.1, from the state 1, 2, 3, 4.
  it("gives the outputs of the reference program", () => {
    const next = createRandomWordSource([1, 2, 3, 4]);
    const words = Array.from({ length: 10 }, next);
    expect(words).toEqual([
      11520, 0, 5927040, 70819200, 2031721883, 1637235492, 1287239034, 3734860849, 3729100597, 4258142804,
    ]);
  });

  // First outputs of the reference program splitmix64.c for the seed 1234567.
  it("is seeded by splitmix64", () => {
    const [a, b, c, d] = randomWordsFromSeed(1234567).map(BigInt);
    expect([(b! << 32n) | a!, (d! << 32n) | c!]).toEqual([6457827717110365317n, 3203168211198807973n]);
  });

  it("repeats its row for the same seed and not for another", () => {
    const row = (seed: number) => Array.from({ length: 5 }, createRandomSource(seed));
    expect(row(7)).toEqual(row(7));
    expect(row(7)).not.toEqual(row(8));
  });

  it("fills the interval from 0 to 1 evenly", () => {
    const random = createRandomSource(42);
    const tenths = new Array<number>(10).fill(0);
    for (let i = 0; i < 100_000; i += 1) tenths[Math.floor(random() * 10)]! += 1;
    // Chi-square with 9 degrees of freedom: 27.9 is passed by chance once in a thousand (statistical tables).
    const chiSquare = tenths.reduce((sum, count) => sum + (count - 10_000) ** 2 / 10_000, 0);
    expect(chiSquare).toBeLessThan(27.9);
  });
});

describe("the normal deviate", () => {
  it("has the mean, spread and tails of a standard normal distribution", () => {
    const random = createRandomSource(3);
    const count = 100_000;
    const draws = Array.from({ length: count }, () => drawNormal(random));
    const mean = draws.reduce((sum, x) => sum + x, 0) / count;
    const variance = draws.reduce((sum, x) => sum + (x - mean) ** 2, 0) / count;
    const beyondTwo = draws.filter((x) => Math.abs(x) > 1.959964).length / count;
    expect(Math.abs(mean)).toBeLessThan(4 / Math.sqrt(count));
    expect(Math.abs(variance - 1)).toBeLessThan(4 * Math.sqrt(2 / count));
    expect(Math.abs(beyondTwo - 0.05)).toBeLessThan(4 * Math.sqrt((0.05 * 0.95) / count));
  });

  it("stays finite when chance gives its extreme values", () => {
    expect(drawNormal(() => 0)).toBeCloseTo(0, 12);
    expect(Number.isFinite(drawNormal(() => 1 - 2 ** -32))).toBe(true);
  });
});
