import { describe, expect, it } from "vitest";
import { createRandomSource, drawNormal } from "../../../../lib/simulation/random-source.js";
import { doseEfficiency, fitMorningRise } from "../../../../lib/tank/morning-rise.js";
import type { MorningRise } from "../../../../lib/tank/morning-rise.js";
import type { Co2Reading } from "../../../../lib/tank/relaxation-fit.js";
import { integrate } from "../../../support/runge-kutta.js";

const openedAt_epochMs = Date.UTC(2026, 0, 6, 6);
const nights = { k_perH: 0.2, kSigma_ln: 0.05, settledCo2_mgPerL: 2, settledSigma_ln: 0.1 };

function riseReadings(rise: {
  readonly dose: (hour: number) => number;
  readonly lead_h: number;
  readonly factor?: number;
  readonly every_min?: number;
}): readonly Co2Reading[] {
  const random = createRandomSource(3);
  const readings: Co2Reading[] = [];
  for (let minute = 0; minute <= rise.lead_h * 60; minute += rise.every_min ?? 2) {
    const co2 = integrate(3, minute / 60, (c, hour) => rise.dose(hour) - 0.2 * (c - 2), 200);
    readings.push({
      at_epochMs: openedAt_epochMs + minute * 60_000,
      co2_mgPerL: co2 * (rise.factor ?? 1) * 10 ** (0.004 * drawNormal(random)),
    });
  }
  return readings;
}

function fitOf(rise: Parameters<typeof riseReadings>[0], known = nights): MorningRise {
  const until_epochMs = openedAt_epochMs + rise.lead_h * 3_600_000;
  return fitMorningRise({ openedAt_epochMs, until_epochMs, readings: riseReadings(rise) }, known);
}

function fitted(rise: MorningRise): Extract<MorningRise, { kind: "fitted" }> {
  if (rise.kind !== "fitted") throw new Error(rise.because);
  return rise;
}

describe("the rise of the morning", () => {
  it.each([
    { dose: 3, lead_h: 2, because: "ordinary" },
    { dose: 8, lead_h: 1, because: "strong and short" },
    { dose: 1.5, lead_h: 3, because: "weak and long" },
  ])("gives back the dose that made it: $because", ({ dose, lead_h }) => {
    const rise = fitted(fitOf({ dose: () => dose, lead_h }));
    expect(Math.abs(rise.dose_mgPerLPerH / dose - 1)).toBeLessThan(0.08);
    expect(rise.doseLow80_mgPerLPerH).toBeLessThan(dose);
    expect(rise.doseHigh80_mgPerLPerH).toBeGreaterThan(dose);
  });

  it("scales with the readings' common factor", () => {
    const scaled = { ...nights, settledCo2_mgPerL: 2 * 1.4 };
    const plain = fitted(fitOf({ dose: () => 3, lead_h: 2 }));
    const wrong = fitted(fitOf({ dose: () => 3, lead_h: 2, factor: 1.4 }, scaled));
    expect(wrong.dose_mgPerLPerH / plain.dose_mgPerLPerH).toBeCloseTo(1.4, 2);
  });

  it("is less sure the less k is", () => {
    const sure = fitted(fitOf({ dose: () => 3, lead_h: 3 }));
    const unsure = fitted(fitOf({ dose: () => 3, lead_h: 3 }, { ...nights, kSigma_ln: 0.4 }));
    expect(unsure.doseSigma_ln).toBeGreaterThan(1.3 * sure.doseSigma_ln);
    expect(unsure.doseWithK).toBeGreaterThan(0.5);
    expect(unsure.doseWithSettled).toBeLessThan(0);
  });

  it.each([
    { reason: "too short", lead_h: 0.7, dose: () => 3, because: "gas opens with the lights" },
    { reason: "too few readings", lead_h: 2, dose: () => 3, every_min: 50, because: "a slow probe" },
    { reason: "no rise", lead_h: 2, dose: () => 0, because: "the gas did not come" },
    {
      reason: "no steady rise",
      lead_h: 4,
      dose: (hour: number) => (hour < 2 ? 10 : 0),
      because: "the vessel ran out half way",
    },
  ])("is rejected as $reason: $because", ({ reason, because, ...rise }) => {
    const fit = fitOf(rise);
    expect(fit.kind === "rejected" ? fit.reason : because).toBe(reason);
  });
});

describe("the share of the gas that dissolves", () => {
  const rise = {
    kind: "fitted",
    dose_mgPerLPerH: 3,
    doseSigma_ln: 0.06,
    doseWithK: 0.3,
    doseWithSettled: 0,
    doseLow80_mgPerLPerH: 2.8,
    doseHigh80_mgPerLPerH: 3.2,
    span_h: 1.5,
  } as const;
  const tank = { volume_L: 100, volumeSigma_ln: 0.05, factorSigma_ln: 0.15 };

  it("is dose by volume over flow, with every uncertainty in it", () => {
    const found = doseEfficiency(rise, { flow_gPerH: 0.6, flowSigma_ln: 0.1 }, tank);
    expect(found.efficiency_ratio).toBeCloseTo(0.5, 9);
    expect(found.efficiencySigma_ln).toBeCloseTo(Math.hypot(0.06, 0.1, 0.05, 0.15), 9);
    expect(found.efficiencyLow80_ratio).toBeLessThan(0.41);
    expect(found.efficiencyHigh80_ratio).toBeGreaterThan(0.6);
    expect(found.impossible).toBe(false);
  });

  it("is called impossible where more dissolves than flows", () => {
    expect(doseEfficiency(rise, { flow_gPerH: 0.2, flowSigma_ln: 0.1 }, tank).impossible).toBe(true);
    expect(doseEfficiency(rise, { flow_gPerH: 0.25, flowSigma_ln: 0.47 }, tank).impossible).toBe(false);
  });
});
