import { describe, expect, it } from "vitest";
import { createRandomSource, drawNormal } from "../../../../lib/simulation/random-source.js";
import { changeWater } from "../../../../lib/simulation/simulated-tank.js";
import { fitNight } from "../../../../lib/tank/night-fit.js";
import type { NightFit, NightRecord } from "../../../../lib/tank/night-fit.js";
import type { Co2Reading } from "../../../../lib/tank/relaxation-fit.js";
import { drawNight, nightStart_epochMs, runNight } from "../../../support/simulated-nights.js";
import type { SimulatedNight } from "../../../support/simulated-nights.js";

const hour_ms = 3_600_000;
const from_epochMs = Date.UTC(2026, 0, 5, 21);

/** A night of the law itself, C = rest + (start - rest) e^(-kt), every five minutes, with noise in pH. */
function lawfulNight(night: {
  readonly k_perH: number;
  readonly night_h: number;
  readonly start?: number;
  readonly rest?: number;
  readonly factor?: number;
  readonly noisePh?: number;
  readonly keep?: (hour: number) => boolean;
  readonly bend?: (hour: number) => number;
}): NightRecord {
  const { k_perH, night_h, start = 30, rest = 2.5, factor = 1, noisePh = 0.005 } = night;
  const random = createRandomSource(11);
  const readings: Co2Reading[] = [];
  for (let minute = 0; minute <= night_h * 60; minute += 5) {
    const hour = minute / 60;
    const noise = 10 ** (noisePh * drawNormal(random));
    const co2 = (rest + (start - rest) * Math.exp(-k_perH * hour)) * factor * noise;
    if (night.keep?.(hour) ?? true) {
      readings.push({
        at_epochMs: from_epochMs + minute * 60_000,
        co2_mgPerL: co2 * (night.bend?.(hour) ?? 1),
      });
    }
  }
  const until_epochMs = from_epochMs + night_h * hour_ms;
  return { from_epochMs, until_epochMs, readings, waterChanges_epochMs: [] };
}

function fitted(fit: NightFit): Extract<NightFit, { kind: "fitted" }> {
  if (fit.kind !== "fitted") throw new Error(`not fitted: ${fit.because}`);
  return fit;
}

function rejection(fit: NightFit): string {
  return fit.kind === "rejected" ? fit.reason : fit.kind;
}

describe("a night's fall", () => {
  it.each([
    { k_perH: 0.15, night_h: 13, because: "k times the night 2" },
    { k_perH: 0.3, night_h: 10, because: "3" },
    { k_perH: 0.6, night_h: 10, because: "6: rest is seen" },
  ])("gives back the k, start and rest that made it: $because", ({ k_perH, night_h }) => {
    const fit = fitted(fitNight(lawfulNight({ k_perH, night_h, noisePh: 0.001 })));
    expect(Math.abs(fit.k_perH / k_perH - 1)).toBeLessThan(0.02);
    expect(fit.kLow80_perH).toBeLessThan(k_perH);
    expect(fit.kHigh80_perH).toBeGreaterThan(k_perH);
    expect(fit.kLow90_perH).toBeLessThan(fit.kLow80_perH);
    expect(fit.kHigh90_perH).toBeGreaterThan(fit.kHigh80_perH);
    expect(Math.abs(fit.settledCo2_mgPerL / 2.5 - 1)).toBeLessThan(0.12);
  });

  it.each([
    { factor: 0.6, because: "hardness test far too low" },
    { factor: 1.6, because: "probe 0.2 low" },
  ])("has the same k when all readings are wrong by a factor: $because", ({ factor }) => {
    const plain = fitted(fitNight(lawfulNight({ k_perH: 0.2, night_h: 11 })));
    const scaled = fitted(fitNight(lawfulNight({ k_perH: 0.2, night_h: 11, factor })));
    expect(Math.abs(scaled.k_perH / plain.k_perH - 1)).toBeLessThan(0.03);
    expect(scaled.settledCo2_mgPerL / plain.settledCo2_mgPerL).toBeCloseTo(factor, 0);
  });

  it("bears spikes, as a pump that sparks makes them", () => {
    const spiked = lawfulNight({
      k_perH: 0.25,
      night_h: 10,
      bend: (hour) => (Math.round(hour * 12) % 17 === 3 ? 2 : 1),
    });
    expect(Math.abs(fitted(fitNight(spiked)).k_perH / 0.25 - 1)).toBeLessThan(0.05);
  });

  it("bears a gap of two hours", () => {
    const gap = lawfulNight({ k_perH: 0.25, night_h: 10, keep: (hour) => hour < 4 || hour > 6 });
    expect(Math.abs(fitted(fitNight(gap)).k_perH / 0.25 - 1)).toBeLessThan(0.05);
  });

  it("gives bounds that hold, and no number, where the night is shorter than 1.3 / k", () => {
    const fit = fitNight(lawfulNight({ k_perH: 0.08, night_h: 10 }));
    if (fit.kind !== "bounded") throw new Error(fit.kind);
    expect(fit.kAtLeast_perH).toBeLessThan(0.08);
    expect(fit.kAtMost_perH).toBeGreaterThan(0.08);
    expect(fit.because).toContain("shorter than 1.3 / k");
    expect(fit).not.toHaveProperty("k_perH");
  });

  it("widens its interval for a noisier probe", () => {
    const quiet = fitted(fitNight(lawfulNight({ k_perH: 0.25, night_h: 10 })));
    const noisy = fitted(fitNight(lawfulNight({ k_perH: 0.25, night_h: 10, noisePh: 0.05 })));
    expect(noisy.kSigma_ln).toBeGreaterThan(1.3 * quiet.kSigma_ln);
  });

  it.each([
    {
      reason: "water change",
      night: {
        ...lawfulNight({ k_perH: 0.25, night_h: 10 }),
        waterChanges_epochMs: [from_epochMs + 3 * hour_ms],
      },
      because: "the keeper entered it",
    },
    {
      reason: "too few readings",
      night: lawfulNight({ k_perH: 0.25, night_h: 10, keep: (hour) => hour < 3 }),
      because: "a probe that fell silent",
    },
    {
      reason: "gap in the readings",
      night: lawfulNight({ k_perH: 0.25, night_h: 12, keep: (hour) => hour < 4 || hour > 9 }),
      because: "five of twelve hours are missing",
    },
    {
      reason: "sudden fall",
      night: lawfulNight({ k_perH: 0.2, night_h: 12, bend: (hour) => (hour > 5 ? 0.7 : 1) }),
      because: "a third of the water at five in the night",
    },
    {
      reason: "sudden rise",
      night: lawfulNight({ k_perH: 0.2, night_h: 12, bend: (hour) => (hour > 5 ? 1.4 : 1) }),
      because: "gas for a minute, or the probe moved",
    },
    {
      reason: "little fall",
      night: lawfulNight({ k_perH: 0.2, night_h: 12, start: 30, rest: 30 }),
      because: "the gas went on",
    },
    {
      reason: "little fall",
      night: lawfulNight({ k_perH: 0.2, night_h: 12, start: 2.6, rest: 2.5 }),
      because: "at rest already",
    },
  ])("is rejected as $reason: $because", ({ night, reason }) => {
    const fit = fitNight(night);
    expect(rejection(fit)).toBe(reason);
    if (fit.kind === "rejected") expect(fit.because.length).toBeGreaterThan(20);
  });
});

describe("a night of the finer simulation", () => {
  const { night: plain } = drawNight(77);
  const base: SimulatedNight = {
    ...plain,
    night_h: 11,
    startCo2_mgPerL: 30,
    tank: { ...plain.tank, gasExchange_perH: 0.25, respiration_mgPerLPerH: 0.3 },
    probe: { ...plain.probe, interval_min: 5, noisePh: 0.008, wanderPh: 0.004, drift_pHPerDay: 0.005 },
  };
  const fitOf = (night: SimulatedNight): { readonly fit: NightFit; readonly k_perH: number } => {
    const { readings, truth } = runNight(night, createRandomSource(5));
    const until_epochMs = nightStart_epochMs + night.night_h * hour_ms;
    const record = { from_epochMs: nightStart_epochMs, until_epochMs, readings, waterChanges_epochMs: [] };
    return { fit: fitNight(record), k_perH: truth.k_perH };
  };

  it("is fitted as it was run", () => {
    const { fit, k_perH } = fitOf(base);
    expect(Math.abs(fitted(fit).k_perH / k_perH - 1)).toBeLessThan(0.1);
  });

  it("shows a water change that nobody entered", () => {
    const { fit } = fitOf({
      ...base,
      change: (hour, state) =>
        Math.abs(hour - 4) < 1e-9
          ? changeWater(state, { share_ratio: 0.35, co2_mgPerL: 1, temperature_degC: 22 })
          : state,
    });
    expect(rejection(fit)).toBe("sudden fall");
  });

  it("shows a burst of breathing", () => {
    const { fit } = fitOf({
      ...base,
      step: (hour) => (hour > 4 && hour < 5 ? { extraRespiration_mgPerLPerH: 6 } : {}),
    });
    expect(["sudden rise", "no exponential fall"]).toContain(rejection(fit));
  });

  it("is not thrown off by a heater that fails and lets the tank cool", () => {
    const cold = { ...base.tank.heater, power_W: 0 };
    const { fit, k_perH } = fitOf({ ...base, tank: { ...base.tank, heater: cold } });
    expect(Math.abs(fitted(fit).k_perH / k_perH - 1)).toBeLessThan(0.1);
  });
});
