import { describe, expect, it } from "vitest";
import { lightUptake } from "../../../../lib/tank/light-uptake.js";
import type { TankDynamics } from "../../../../lib/tank/lead-time.js";

const tank: TankDynamics = {
  k_perH: 0.15,
  kSigma_ln: 0.04,
  settledCo2_mgPerL: 2,
  settledSigma_ln: 0.1,
  dose_mgPerLPerH: 5,
  doseSigma_ln: 0.05,
  doseWithK: 0,
  doseWithSettled: 0,
};
const lit = { co2_mgPerL: 22, co2Sigma_ln: 0.02, change_mgPerLPerH: 0, changeSigma_mgPerLPerH: 0.05 };

describe("uptake in light", () => {
  it("is what the balance of a lit span leaves", () => {
    const found = lightUptake(tank, lit);
    if (found.kind !== "estimate") throw new Error(found.kind);
    // 5 - 0.15 x (22 - 2).
    expect(found.uptake_mgPerLPerH).toBeCloseTo(2, 1);
    expect(found.uptakeLow80_mgPerLPerH).toBeLessThan(1.8);
    expect(found.uptakeHigh80_mgPerLPerH).toBeGreaterThan(2.2);
  });

  it("counts a rise that still goes on", () => {
    const rising = lightUptake(tank, { ...lit, change_mgPerLPerH: 0.5 });
    if (rising.kind !== "estimate") throw new Error(rising.kind);
    expect(rising.uptake_mgPerLPerH).toBeCloseTo(1.5, 1);
  });

  it("is a bound where the plants' share lies within the rest's uncertainty", () => {
    const found = lightUptake({ ...tank, doseSigma_ln: 0.15 }, { ...lit, co2_mgPerL: 34 });
    if (found.kind !== "at most") throw new Error(found.kind);
    expect(found.uptakeAtMost_mgPerLPerH).toBeGreaterThan(0.2);
    expect(found.uptakeAtMost_mgPerLPerH).toBeLessThan(1.5);
    expect(found.because).toContain("uncertainty");
  });

  it("cannot be told before a morning has shown the dose", () => {
    expect(lightUptake(undefined, lit).kind).toBe("cannot be told");
  });
});
