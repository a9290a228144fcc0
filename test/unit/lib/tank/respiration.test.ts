import { describe, expect, it } from "vitest";
import type { FittedNight } from "../../../../lib/tank/night-fit.js";
import { darkRespiration } from "../../../../lib/tank/respiration.js";

const night: FittedNight = {
  kind: "fitted",
  k_perH: 0.25,
  kLow80_perH: 0.24,
  kHigh80_perH: 0.26,
  kLow90_perH: 0.235,
  kHigh90_perH: 0.265,
  kSigma_ln: 0.04,
  settledCo2_mgPerL: 2.2,
  settledSigma_ln: 0.05,
  correlation: 0.6,
  startCo2_mgPerL: 30,
  temperature_degC: 25,
  night_h: 11,
  misfit_ratio: 1,
};
const room = { airCo2_mgPerL: 0.9, airSigma_mgPerL: 0.1, factorSigma_ln: 0.15 };

describe("respiration in the dark", () => {
  it("is what holds the rest above the air's CO2", () => {
    const found = darkRespiration(night, room);
    if (found.kind !== "estimate") throw new Error(found.kind);
    // 0.25 x (2.2 - 0.9).
    expect(found.respiration_mgPerLPerH).toBeCloseTo(0.325, 2);
    expect(found.respirationLow80_mgPerLPerH).toBeGreaterThan(0.2);
    expect(found.respirationHigh80_mgPerLPerH).toBeLessThan(0.48);
  });

  it("is less sure the less the hardness test is", () => {
    const sure = darkRespiration(night, { ...room, factorSigma_ln: 0.05 });
    const unsure = darkRespiration(night, { ...room, factorSigma_ln: 0.3 });
    if (sure.kind !== "estimate" || unsure.kind !== "estimate") throw new Error("no estimate");
    const width = (found: typeof sure): number =>
      found.respirationHigh80_mgPerLPerH - found.respirationLow80_mgPerLPerH;
    expect(width(unsure)).toBeGreaterThan(1.5 * width(sure));
  });

  it.each([
    { settledCo2_mgPerL: 1, atMost: 0.12, because: "a tank almost without life" },
    { settledCo2_mgPerL: 0.5, atMost: 0.01, because: "readings below the air's own" },
  ])("is an upper bound where the rest is the air's: $because", ({ settledCo2_mgPerL, atMost }) => {
    const found = darkRespiration({ ...night, settledCo2_mgPerL }, room);
    if (found.kind !== "at most") throw new Error(found.kind);
    expect(found.respirationAtMost_mgPerLPerH).toBeGreaterThanOrEqual(0);
    expect(found.respirationAtMost_mgPerLPerH).toBeLessThan(atMost);
  });
});
