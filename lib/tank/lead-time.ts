import { normalSpread } from "../numerics/normal-spread.js";
import { assertInRange } from "../quantities/valid-range.js";
import { hoursUntilCo2_h } from "./gas-exchange.js";

/** What nights and mornings taught of a tank, all on the scale of its readings: medians and standard deviations of logarithms. */
export interface TankDynamics {
  readonly k_perH: number;
  readonly kSigma_ln: number;
  /** CO2 at rest without gas and light. */
  readonly settledCo2_mgPerL: number;
  readonly settledSigma_ln: number;
  readonly dose_mgPerLPerH: number;
  readonly doseSigma_ln: number;
  /** Correlations of ln(dose) with ln k and with ln of the settled CO2, from the morning that taught it. */
  readonly doseWithK: number;
  readonly doseWithSettled: number;
}

/** One possible dose for three standard normal values: that of k, that of the settled CO2 and its own. */
export function possibleDose_mgPerLPerH(tank: TankDynamics, z: readonly number[]): number {
  const [k = 0, settled = 0, own = 0] = z;
  const left = Math.max(0, 1 - tank.doseWithK ** 2 - tank.doseWithSettled ** 2);
  const moved = tank.doseWithK * k + tank.doseWithSettled * settled + Math.sqrt(left) * own;
  return tank.dose_mgPerLPerH * Math.exp(tank.doseSigma_ln * moved);
}

export interface Plateau {
  readonly plateau_mgPerL: number;
  readonly plateauLow80_mgPerL: number;
  readonly plateauHigh80_mgPerL: number;
}

interface DrawnDynamics {
  readonly k_perH: number;
  readonly settled_mgPerL: number;
  readonly plateau_mgPerL: number;
}

/** One possible tank, for three standard normal values. */
function drawn(
  tank: TankDynamics,
  dose_ratio: number,
  uptake_mgPerLPerH: number,
  z: readonly number[],
): DrawnDynamics {
  const [a = 0, b = 0] = z;
  const k_perH = tank.k_perH * Math.exp(tank.kSigma_ln * a);
  const settled_mgPerL = tank.settledCo2_mgPerL * Math.exp(tank.settledSigma_ln * b);
  const dose_mgPerLPerH = dose_ratio * possibleDose_mgPerLPerH(tank, z);
  return {
    k_perH,
    settled_mgPerL,
    plateau_mgPerL: Math.max(0, settled_mgPerL + (dose_mgPerLPerH - uptake_mgPerLPerH) / k_perH),
  };
}

const flowRange = { quantity: "flow over today's", unit: "", minimum: 0, maximum: 50 };
const uptakeRange = { quantity: "uptake", unit: "mg/L/h", minimum: 0, maximum: 100 };

/**
 * CO2 at which the tank comes to rest if the gas stays on, mg/L.
 * @param at.flow_ratio the flow asked about over the one that the dose was learnt at
 * @param at.uptake_mgPerLPerH of the plants in light; 0 for the dark, which is the upper end
 */
export function predictedPlateau(
  tank: TankDynamics,
  at: { readonly flow_ratio: number; readonly uptake_mgPerLPerH: number },
): Plateau {
  assertInRange(at.flow_ratio, flowRange);
  assertInRange(at.uptake_mgPerLPerH, uptakeRange);
  const spread = normalSpread(3, (z) => drawn(tank, at.flow_ratio, at.uptake_mgPerLPerH, z).plateau_mgPerL);
  return {
    plateau_mgPerL: drawn(tank, at.flow_ratio, at.uptake_mgPerLPerH, []).plateau_mgPerL,
    plateauLow80_mgPerL: spread.quantile(0.1),
    plateauHigh80_mgPerL: spread.quantile(0.9),
  };
}

export interface FlowNeeded {
  /** Over the flow that the dose was learnt at. */
  readonly flow_ratio: number;
  readonly flowLow80_ratio: number;
  readonly flowHigh80_ratio: number;
}

/**
 * Flow at which the plateau is the target, as a share of today's: (k (Ctarget - Csettled) + uptake) / dose. Open by small
 * steps and watch the fish: the upper end of the interval may be an overdose.
 */
export function flowNeeded(
  tank: TankDynamics,
  target: { readonly co2_mgPerL: number; readonly uptake_mgPerLPerH: number },
): FlowNeeded {
  assertInRange(target.co2_mgPerL, { quantity: "target CO2", unit: "mg/L", minimum: 0, maximum: 100 });
  assertInRange(target.uptake_mgPerLPerH, uptakeRange);
  const needed = (z: readonly number[]): number => {
    const { k_perH, settled_mgPerL } = drawn(tank, 0, 0, z);
    const dose_mgPerLPerH = possibleDose_mgPerLPerH(tank, z);
    const gain_mgPerLPerH = k_perH * (target.co2_mgPerL - settled_mgPerL) + target.uptake_mgPerLPerH;
    return Math.max(0, gain_mgPerLPerH / dose_mgPerLPerH);
  };
  const spread = normalSpread(3, needed);
  return {
    flow_ratio: needed([]),
    flowLow80_ratio: spread.quantile(0.1),
    flowHigh80_ratio: spread.quantile(0.9),
  };
}

export type LeadTarget =
  | { readonly kind: "share of the plateau"; readonly share_ratio: number }
  | { readonly kind: "CO2"; readonly co2_mgPerL: number };

export type LeadTime =
  | {
      readonly kind: "reached";
      readonly lead_h: number;
      readonly leadLow80_h: number;
      /** Infinite where the plateau may lie below the target. */
      readonly leadHigh80_h: number;
    }
  | { readonly kind: "out of reach"; readonly plateau: Plateau };

/**
 * Hours before the lights at which the gas must open so that the target stands when they come on:
 * t = ln((Cplateau - Cstart) / (Cplateau - Ctarget)) / k in the dark. A share of the plateau does not feel the readings'
 * common factor. From an empty start this is -ln(1 - share)/k.
 * @param target.share_ratio above 0, below 1
 * @param startCo2_mgPerL where the night leaves the tank; the settled CO2 if it was long enough
 */
export function leadTime(tank: TankDynamics, target: LeadTarget, startCo2_mgPerL: number): LeadTime {
  if (target.kind === "share of the plateau") {
    assertInRange(target.share_ratio, {
      quantity: "share of the plateau",
      unit: "",
      minimum: 0.01,
      maximum: 0.99,
    });
  }
  const lead_h = (z: readonly number[]): number => {
    const { k_perH, plateau_mgPerL } = drawn(tank, 1, 0, z);
    const target_mgPerL = target.kind === "CO2" ? target.co2_mgPerL : target.share_ratio * plateau_mgPerL;
    if (startCo2_mgPerL >= target_mgPerL) return 0;
    const way = { k_perH, startCo2_mgPerL, settledCo2_mgPerL: plateau_mgPerL };
    return hoursUntilCo2_h(way, target_mgPerL);
  };
  const central_h = lead_h([]);
  if (!Number.isFinite(central_h)) {
    return {
      kind: "out of reach",
      plateau: predictedPlateau(tank, { flow_ratio: 1, uptake_mgPerLPerH: 0 }),
    };
  }
  const spread = normalSpread(3, lead_h);
  return {
    kind: "reached",
    lead_h: central_h,
    leadLow80_h: spread.quantile(0.1),
    leadHigh80_h: spread.quantile(0.9),
  };
}
