import { describe, expect, it } from "vitest";
import { createRandomSource, drawNormal } from "../../../../lib/simulation/random-source.js";
import type { FittedNight, NightFit } from "../../../../lib/tank/night-fit.js";
import { runningExchange } from "../../../../lib/tank/running-exchange.js";
import type { DatedNight, RunningExchange } from "../../../../lib/tank/running-exchange.js";

const day_ms = 86_400_000;
const start_epochMs = Date.UTC(2026, 0, 5);

function night(index: number, k_perH: number, sigma_ln = 0.05, temperature_degC = 25): DatedNight {
  const fit: FittedNight = {
    kind: "fitted",
    k_perH,
    kLow80_perH: k_perH * Math.exp(-1.28 * sigma_ln),
    kHigh80_perH: k_perH * Math.exp(1.28 * sigma_ln),
    kLow90_perH: k_perH * Math.exp(-1.64 * sigma_ln),
    kHigh90_perH: k_perH * Math.exp(1.64 * sigma_ln),
    kSigma_ln: sigma_ln,
    settledCo2_mgPerL: 2,
    settledSigma_ln: 0.1,
    correlation: 0.8,
    startCo2_mgPerL: 30,
    temperature_degC,
    night_h: 11,
    misfit_ratio: 1,
  };
  return { at_epochMs: start_epochMs + index * day_ms, fit };
}

function other(index: number, fit: NightFit): DatedNight {
  return { at_epochMs: start_epochMs + index * day_ms, fit };
}

function estimate(nights: readonly DatedNight[]): RunningExchange {
  const record = runningExchange(nights);
  if (record.kind !== "estimate") throw new Error(record.kind);
  return record;
}

describe("gas exchange over the nights", () => {
  it("is the mean of the logarithms, narrower than one night but not below the nights' own scatter", () => {
    const record = estimate([0.19, 0.2, 0.21, 0.2, 0.2, 0.195, 0.205].map((k, i) => night(i, k)));
    expect(record.k_perH).toBeCloseTo(0.2, 3);
    expect(record.nights).toBe(7);
    expect(record.nextNightSigma_ln).toBeGreaterThan(0.04);
    expect(record.nextNightSigma_ln).toBeLessThan(0.07);
    expect(record.change).toBeUndefined();
  });

  it("holds the next night's k in nine of ten intervals", () => {
    const random = createRandomSource(42);
    let held = 0;
    for (let trial = 0; trial < 400; trial += 1) {
      const draw = (): number => 0.2 * Math.exp(0.08 * drawNormal(random));
      const record = estimate(
        Array.from({ length: 10 }, (_, i) => night(i, draw() * Math.exp(0.05 * drawNormal(random)))),
      );
      const next = draw();
      if (next > record.kLow90_perH && next < record.kHigh90_perH) held += 1;
    }
    expect(held / 400).toBeGreaterThan(0.84);
    expect(held / 400).toBeLessThan(0.95);
  });

  it("sets one odd night aside and says which", () => {
    const nights = [0.2, 0.21, 0.19, 0.2, 0.45, 0.2].map((k, i) => night(i, k));
    const record = estimate(nights);
    expect(record.oddNights_epochMs).toEqual([start_epochMs + 4 * day_ms]);
    expect(Math.abs(record.k_perH - 0.2)).toBeLessThan(0.01);
    expect(record.change).toBeUndefined();
  });

  it("does not take a last odd night for a change", () => {
    expect(estimate([0.2, 0.21, 0.19, 0.2, 0.08].map((k, i) => night(i, k))).change).toBeUndefined();
  });

  it.each([
    { ks: [0.2, 0.21, 0.19, 0.2, 0.1, 0.11], kind: "slower", now: 0.105, because: "film" },
    { ks: [0.2, 0.21, 0.19, 0.2, 0.36, 0.35, 0.34], kind: "faster", now: 0.35, because: "new filter" },
  ])("notices a $because from two nights on and starts anew", ({ ks, kind, now }) => {
    const record = estimate(ks.map((k, i) => night(i, k)));
    expect(record.change?.kind).toBe(kind);
    expect(record.change?.since_epochMs).toBe(start_epochMs + 4 * day_ms);
    expect(record.change?.usualCauses).toContain(kind === "slower" ? "film" : "filter");
    expect(record.k_perH).toBeCloseTo(now, 2);
  });

  it("cries no change for nights that scatter as nights do", () => {
    const random = createRandomSource(7);
    let changes = 0;
    for (let trial = 0; trial < 300; trial += 1) {
      const nights = Array.from({ length: 14 }, (_, i) =>
        night(i, 0.2 * Math.exp(0.08 * drawNormal(random))),
      );
      if (estimate(nights).change !== undefined) changes += 1;
    }
    expect(changes / 300).toBeLessThan(0.05);
  });

  it("compares nights at one temperature", () => {
    // 1.024 a kelvin: 0.2 at 25 degC is 0.178 at 20 degC.
    const record = estimate([night(0, 0.2), night(1, 0.1776, 0.05, 20), night(2, 0.2252, 0.05, 30)]);
    expect(record.k_perH).toBeCloseTo(0.2, 3);
    expect(record.temperature_degC).toBe(25);
  });

  it("passes over rejected nights, and keeps to a bound where no night gave a number", () => {
    const lost: NightFit = { kind: "rejected", reason: "water change", because: "water was changed" };
    const short = (kAtMost_perH: number): NightFit => ({
      kind: "bounded",
      kAtLeast_perH: 0.03,
      kAtMost_perH,
      temperature_degC: 25,
      night_h: 9,
      because: "short",
    });
    expect(estimate([night(0, 0.2), other(1, lost)]).nights).toBe(1);
    expect(runningExchange([other(0, short(0.1)), other(1, short(0.14)), other(2, short(0.12))])).toEqual({
      kind: "bounded",
      kAtMost_perH: 0.12,
      nights: 3,
    });
    expect(runningExchange([other(0, lost)])).toEqual({ kind: "none" });
  });

  it("takes nights in any order", () => {
    const nights = [0.2, 0.21, 0.19, 0.2, 0.1, 0.11].map((k, i) => night(i, k));
    expect(runningExchange([...nights].reverse())).toEqual(runningExchange(nights));
  });
});
