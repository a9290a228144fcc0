import { describe, expect, it } from "vitest";
import { NoConvergenceError } from "../../../../lib/errors.js";
import { findRoot } from "../../../../lib/vessel/find-root.js";

const search = { quantity: "test", low: 0, high: 10, start: 1, slope: 1, tolerance: 1e-12 };

describe("a safeguarded search for a root", () => {
  it.each<readonly [string, (at: number) => number, number]>([
    ["a line", (at) => 3 * at - 4.5, 1.5],
    ["a cube, flat at its root", (at) => (at - 2) ** 3, 2],
    ["a kink", (at) => (at < 4 ? at - 3.9 : 50 * (at - 4) + 0.1), 3.9],
    ["an exponential, steep at the far end", (at) => Math.exp(at) - 20, Math.log(20)],
    ["a root at the low end", (at) => at, 0],
    ["a root at the high end", (at) => at - 10, 10],
    ["a first slope that is wrong by a thousand", (at) => 1000 * (at - 6.5), 6.5],
  ])("finds %s", (_name, rising, root) => {
    const outcome = findRoot(search, rising);
    expect(outcome.kind).toBe("found");
    if (outcome.kind === "found") expect(Math.abs(outcome.at - root)).toBeLessThan(2e-4);
    if (outcome.kind === "found") expect(Math.abs(rising(outcome.at))).toBeLessThanOrEqual(1e-12);
  });

  it("says when the function is still negative at the high end, and already positive at the low end", () => {
    expect(findRoot(search, (at) => at - 11)).toEqual({ kind: "above-high" });
    expect(findRoot(search, (at) => at + 1)).toEqual({ kind: "below-low" });
  });

  it("throws with its bracket when the function jumps over zero", () => {
    const jump = (at: number): number => (at < 3 ? -1 : 1);
    expect(() => findRoot(search, jump)).toThrow(NoConvergenceError);
    expect(() => findRoot(search, jump)).toThrow(/between 2\.99.* and 3/);
  });
});
