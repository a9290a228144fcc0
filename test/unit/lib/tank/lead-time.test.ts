import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { flowNeeded, leadTime, predictedPlateau } from "../../../../lib/tank/lead-time.js";
import type { LeadTime, TankDynamics } from "../../../../lib/tank/lead-time.js";
import { integrate } from "../../../support/runge-kutta.js";

const tank: TankDynamics = {
  k_perH: 0.3,
  kSigma_ln: 0.08,
  settledCo2_mgPerL: 1.5,
  settledSigma_ln: 0.15,
  dose_mgPerLPerH: 8,
  doseSigma_ln: 0.08,
  doseWithK: 0,
  doseWithSettled: 0,
};
const exact = { ...tank, kSigma_ln: 0, settledSigma_ln: 0, doseSigma_ln: 0 };

function reached(lead: LeadTime): Extract<LeadTime, { kind: "reached" }> {
  if (lead.kind !== "reached") throw new Error(lead.kind);
  return lead;
}

describe("the lead before the lights", () => {
  it.each([
    { k_perH: 0.5, share_ratio: 0.63, hours: 2 },
    { k_perH: 0.5, share_ratio: 0.78, hours: 3 },
    { k_perH: 0.2, share_ratio: 0.9, hours: 11.5 },
  ])("is -ln(1 - share)/k from an empty start: $share_ratio at $k_perH", ({ k_perH, share_ratio, hours }) => {
    const empty = { ...exact, k_perH };
    const { lead_h } = reached(leadTime(empty, { kind: "share of the plateau", share_ratio }, 0));
    expect(lead_h).toBeCloseTo(-Math.log(1 - share_ratio) / k_perH, 9);
    expect(Math.abs(lead_h - hours)).toBeLessThan(0.05);
  });

  it("agrees with stepwise integration of the balance", () => {
    const { lead_h } = reached(leadTime(exact, { kind: "CO2", co2_mgPerL: 20 }, 2.5));
    expect(integrate(2.5, lead_h, (c) => 8 - 0.3 * (c - 1.5))).toBeCloseTo(20, 6);
  });

  it("has an interval around it, wider the nearer the target is to the plateau", () => {
    const near = reached(leadTime(tank, { kind: "CO2", co2_mgPerL: 25 }, 2));
    const far = reached(leadTime(tank, { kind: "CO2", co2_mgPerL: 12 }, 2));
    expect(far.leadLow80_h).toBeLessThan(far.lead_h);
    expect(far.leadHigh80_h).toBeGreaterThan(far.lead_h);
    expect(near.leadHigh80_h / near.leadLow80_h).toBeGreaterThan(far.leadHigh80_h / far.leadLow80_h);
  });

  it("has no upper end where the plateau may lie below the target", () => {
    const { leadHigh80_h } = reached(leadTime(tank, { kind: "CO2", co2_mgPerL: 27 }, 2));
    expect(leadHigh80_h).toBe(Infinity);
  });

  it("is out of reach above the plateau, and says where that is", () => {
    const lead = leadTime(tank, { kind: "CO2", co2_mgPerL: 40 }, 2);
    if (lead.kind !== "out of reach") throw new Error(lead.kind);
    expect(lead.plateau.plateau_mgPerL).toBeCloseTo(1.5 + 8 / 0.3, 6);
  });

  it("is nothing where the night left enough", () => {
    expect(reached(leadTime(tank, { kind: "CO2", co2_mgPerL: 15 }, 18)).lead_h).toBe(0);
  });

  it("of a share does not feel a common factor of the readings", () => {
    const scaled = {
      ...tank,
      settledCo2_mgPerL: 1.4 * tank.settledCo2_mgPerL,
      dose_mgPerLPerH: 1.4 * tank.dose_mgPerLPerH,
    };
    const target = { kind: "share of the plateau", share_ratio: 0.8 } as const;
    expect(reached(leadTime(scaled, target, 2.8)).lead_h).toBeCloseTo(
      reached(leadTime(tank, target, 2)).lead_h,
      9,
    );
  });

  it("refuses the whole of the plateau, which never stands", () => {
    const whole = { kind: "share of the plateau", share_ratio: 1 } as const;
    expect(() => leadTime(tank, whole, 2)).toThrow(OutOfValidRangeError);
  });
});

describe("the plateau and the flow for it", () => {
  it.each([
    { flow_ratio: 1, uptake_mgPerLPerH: 0, because: "dark" },
    { flow_ratio: 1, uptake_mgPerLPerH: 1.2, because: "light" },
    { flow_ratio: 0.5, uptake_mgPerLPerH: 0.6, because: "half the flow" },
  ])("is where stepwise integration comes to rest: $because", ({ flow_ratio, uptake_mgPerLPerH }) => {
    const { plateau_mgPerL } = predictedPlateau(exact, { flow_ratio, uptake_mgPerLPerH });
    const settled = integrate(0, 60, (c) => 8 * flow_ratio - uptake_mgPerLPerH - 0.3 * (c - 1.5));
    expect(plateau_mgPerL).toBeCloseTo(settled, 5);
  });

  it("is turned round by the flow needed", () => {
    const uptake_mgPerLPerH = 0.8;
    const { flow_ratio } = flowNeeded(tank, { co2_mgPerL: 22, uptake_mgPerLPerH });
    expect(predictedPlateau(tank, { flow_ratio, uptake_mgPerLPerH }).plateau_mgPerL).toBeCloseTo(22, 9);
  });

  it("carries the interval of k and dose", () => {
    const plateau = predictedPlateau(tank, { flow_ratio: 1, uptake_mgPerLPerH: 0 });
    // Dose over k by hand: 26.7 mg/L with sqrt(2) x 0.08 in the logarithm, 80 % within 1.28 of that: a factor of 1.156.
    expect(plateau.plateauHigh80_mgPerL).toBeCloseTo(1.5 + 26.67 * 1.156, 0);
    expect(plateau.plateauLow80_mgPerL).toBeCloseTo(1.5 + 26.67 / 1.156, 0);
    const flow = flowNeeded(tank, { co2_mgPerL: 22, uptake_mgPerLPerH: 0 });
    expect(flow.flowLow80_ratio).toBeLessThan(flow.flow_ratio);
    expect(flow.flowHigh80_ratio).toBeGreaterThan(flow.flow_ratio);
  });

  it("is surer where dose and k were learnt together, for their errors then cancel", () => {
    const at = { flow_ratio: 1, uptake_mgPerLPerH: 0 };
    const apart = predictedPlateau(tank, at);
    const together = predictedPlateau({ ...tank, doseWithK: 0.9 }, at);
    expect(together.plateauHigh80_mgPerL - together.plateauLow80_mgPerL).toBeLessThan(
      0.5 * (apart.plateauHigh80_mgPerL - apart.plateauLow80_mgPerL),
    );
  });

  it("needs no gas for a target below the rest of the night", () => {
    expect(flowNeeded(tank, { co2_mgPerL: 1, uptake_mgPerLPerH: 0 }).flow_ratio).toBe(0);
  });
});
