import { describe, expect, it } from "vitest";
import { eveningFall, type EveningKnowledge } from "../../../../lib/tank/evening-fall.js";
import { fitBegins_h, fittedCo2_mgPerL, type FittedNight } from "../../../../lib/tank/night-fit.js";

const known: EveningKnowledge = {
  k_perH: 0.25,
  kSigma_ln: 0.1,
  settledCo2_mgPerL: 3,
  settledSigma_ln: 0.2,
  starts_mgPerL: [24, 26, 25],
};

/** The balance dC/dt = -k (C - rest) in steps of a second from where the fit begins. */
function co2AfterDark_mgPerL(hours: number): number {
  let co2_mgPerL = 25;
  for (let second = fitBegins_h * 3600; second < hours * 3600; second += 1) {
    co2_mgPerL += (known.k_perH * (known.settledCo2_mgPerL - co2_mgPerL)) / 3600;
  }
  return co2_mgPerL;
}

describe("the fall below the band after the gas", () => {
  it.each([20, 15, 8])("comes when the balance, taken in small steps, is at %s mg/L", (edge_mgPerL) => {
    const fall = eveningFall(known, edge_mgPerL);
    if (fall.kind !== "falls") throw new Error(fall.kind);
    expect(co2AfterDark_mgPerL(fall.after_h)).toBeCloseTo(edge_mgPerL, 2);
    expect(fall.afterLow80_h).toBeLessThan(fall.after_h);
    expect(fall.afterHigh80_h).toBeGreaterThan(fall.after_h);
  });

  it("is told more narrowly by several nights than by one", () => {
    const width = (starts_mgPerL: readonly number[]): number => {
      const fall = eveningFall({ ...known, starts_mgPerL }, 15);
      return fall.kind === "falls" ? (fall.afterHigh80_h ?? Infinity) - fall.afterLow80_h : Infinity;
    };
    expect(width([25, 25.2, 24.8, 25.1])).toBeLessThan(0.7 * width([25]));
  });

  it("is there at once where the day ends below the band", () => {
    expect(eveningFall({ ...known, starts_mgPerL: [12, 12] }, 15)).toMatchObject({
      kind: "falls",
      after_h: 0,
      afterLow80_h: 0,
    });
  });

  it("has no end in sight where the tank may come to rest inside the band, and never comes where it does", () => {
    const near = eveningFall({ ...known, settledCo2_mgPerL: 13 }, 15);
    expect(near).toMatchObject({ kind: "falls", afterHigh80_h: undefined });
    expect(eveningFall({ ...known, settledCo2_mgPerL: 17 }, 15)).toMatchObject({
      kind: "stays",
      settledCo2_mgPerL: 17,
    });
  });

  it("is not known before a night has been watched", () => {
    expect(eveningFall({ ...known, starts_mgPerL: [] }, 15).kind).toBe("not known");
  });
});

describe("the curve of a fitted night", () => {
  it("stands at the fit's start half an hour into the night, not at its beginning", () => {
    const fit = { k_perH: 0.25, startCo2_mgPerL: 25, settledCo2_mgPerL: 3 } as FittedNight;
    expect(fittedCo2_mgPerL(fit, 0.5)).toBeCloseTo(25, 9);
    expect(fittedCo2_mgPerL(fit, 4)).toBeCloseTo(co2AfterDark_mgPerL(4), 2);
  });
});
