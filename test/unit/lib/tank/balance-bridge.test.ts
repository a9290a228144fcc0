import { describe, expect, it } from "vitest";
import { createRandomSource, drawNormal } from "../../../../lib/simulation/random-source.js";
import { bridgedCo2, type BridgeKnowledge, type BridgedSpan } from "../../../../lib/tank/balance-bridge.js";

const hour_ms = 3_600_000;
const last = { at_epochMs: 0, co2_mgPerL: 20, co2Sigma_ln: 0.1 };
const nights = { k_perH: 0.25, kSigma_ln: 0.12, settledCo2_mgPerL: 2.5, settledSigma_ln: 0.2 };
const known: BridgeKnowledge = {
  nights: { off: nights, running: undefined },
  dose: { dose_mgPerLPerH: 5, doseSigma_ln: 0.1 },
  uptake: undefined,
};
const after = (hours: number, gas: BridgedSpan["gas"], lightsAreOn = false): BridgedSpan => ({
  until_epochMs: hours * hour_ms,
  gas,
  lightsAreOn,
  aeration: "off",
});

function told(spans: readonly BridgedSpan[], by = known) {
  const bridged = bridgedCo2(last, spans, by);
  if (bridged.kind !== "by balance") throw new Error(bridged.because);
  return bridged;
}

describe("CO2 by balance while the probe is silent", () => {
  it("follows the tank's own fall, with a spread that grows", () => {
    const soon = told([after(0.2, "off")]);
    const late = told([after(3, "off")]);
    expect(soon.co2_mgPerL).toBeCloseTo(2.5 + 17.5 * Math.exp(-0.05), 0);
    expect(late.co2_mgPerL / (2.5 + 17.5 * Math.exp(-0.75))).toBeCloseTo(1, 1);
    const width = (one: typeof soon): number => one.co2High80_mgPerL / one.co2Low80_mgPerL;
    expect(width(soon)).toBeGreaterThan(Math.exp(2 * 1.28 * 0.1) - 0.02);
    expect(width(late)).toBeGreaterThan(1.2 * width(soon));
  });

  it("holds the truth in four of five cases, k, rest, dose, plants and start as uncertain as they are said to be", () => {
    const random = createRandomSource(4);
    const spans = [after(1, "on", true), after(2.5, "off", true), after(4, "off")];
    const { co2Low80_mgPerL, co2High80_mgPerL } = told(spans);
    const { dose } = known;
    let held = 0;
    for (let trial = 0; trial < 400; trial += 1) {
      const k_perH = nights.k_perH * Math.exp(nights.kSigma_ln * drawNormal(random));
      const settled_mgPerL = nights.settledCo2_mgPerL * Math.exp(nights.settledSigma_ln * drawNormal(random));
      const gas_mgPerLPerH = dose!.dose_mgPerLPerH * Math.exp(dose!.doseSigma_ln * drawNormal(random));
      // 0.6 mg/L an hour by a factor of two, and a body that is off by 5 % an hour.
      const plants_mgPerLPerH = 0.6 * Math.exp(0.7 * drawNormal(random));
      const misfit_ratio = Math.exp(0.05 * 4 * drawNormal(random));
      let co2_mgPerL = last.co2_mgPerL * Math.exp(last.co2Sigma_ln * drawNormal(random));
      for (let minute = 0; minute < 240; minute += 1) {
        const gain_mgPerLPerH = (minute < 60 ? gas_mgPerLPerH : 0) - (minute < 150 ? plants_mgPerLPerH : 0);
        co2_mgPerL += (gain_mgPerLPerH - k_perH * (co2_mgPerL - settled_mgPerL)) / 60;
      }
      const truth_mgPerL = co2_mgPerL * misfit_ratio;
      if (truth_mgPerL >= co2Low80_mgPerL && truth_mgPerL <= co2High80_mgPerL) held += 1;
    }
    expect(held / 400).toBeGreaterThan(0.74);
    expect(held / 400).toBeLessThan(0.87);
  });

  it("spans both where it is not known whether gas flowed", () => {
    const unknown = told([after(2, "not known")]);
    expect(unknown.co2High80_mgPerL).toBe(told([after(2, "on")]).co2High80_mgPerL);
    expect(unknown.co2Low80_mgPerL).toBe(told([after(2, "off")]).co2Low80_mgPerL);
  });

  it("says nothing after six hours, nor of gas of which no morning has taught the dose", () => {
    expect(bridgedCo2(last, [after(6.1, "off")], known)).toMatchObject({ kind: "cannot be told" });
    const noDose = { ...known, dose: undefined };
    expect(bridgedCo2(last, [after(1, "on")], noDose)).toMatchObject({
      kind: "cannot be told",
      because: expect.stringContaining("no morning has taught") as string,
    });
    expect(bridgedCo2(last, [after(1, "off")], noDose).kind).toBe("by balance");
    const pumped = { ...after(1, "off"), aeration: "running" } as const;
    expect(bridgedCo2(last, [pumped], known)).toMatchObject({
      kind: "cannot be told",
      because: "no night has taught yet how fast the tank loses CO2",
    });
  });
});
