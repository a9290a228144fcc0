import { normalSpread } from "../numerics/normal-spread.js";
import { possibleDose_mgPerLPerH } from "./lead-time.js";
import type { TankDynamics } from "./lead-time.js";

/** What the plants take in light. */
export type LightUptake =
  | {
      readonly kind: "estimate";
      readonly uptake_mgPerLPerH: number;
      readonly uptakeLow80_mgPerLPerH: number;
      readonly uptakeHigh80_mgPerLPerH: number;
    }
  /** It cannot be told from none: a 90 % upper bound. */
  | { readonly kind: "at most"; readonly uptakeAtMost_mgPerLPerH: number; readonly because: string }
  | { readonly kind: "cannot be told"; readonly because: string };

/** Some hours with gas and light on, on the scale of the readings and without their common factor. */
export interface LitHours {
  readonly co2_mgPerL: number;
  /** Of the mean: wander and drift of the probe since the night. */
  readonly co2Sigma_ln: number;
  readonly change_mgPerLPerH: number;
  readonly changeSigma_mgPerLPerH: number;
}

/**
 * Uptake in light from the balance of a lit span: U = dose - k (C - Csettled) - dC/dt. The dose must have been learnt
 * before the lights, or it holds the uptake already. The readings' common factor scales the result.
 * @param tank undefined while k or the dose is not known
 */
export function lightUptake(tank: TankDynamics | undefined, lit: LitHours): LightUptake {
  if (tank === undefined) {
    return {
      kind: "cannot be told",
      because:
        "it needs k from a night, and the dose from a morning on which gas flowed an hour before the lights",
    };
  }
  const spread = normalSpread(5, ([a = 0, b = 0, c = 0, d = 0, e = 0]) => {
    const k_perH = tank.k_perH * Math.exp(tank.kSigma_ln * a);
    const settled_mgPerL = tank.settledCo2_mgPerL * Math.exp(tank.settledSigma_ln * b);
    const dose_mgPerLPerH = possibleDose_mgPerLPerH(tank, [a, b, c]);
    const lost_mgPerLPerH = k_perH * (lit.co2_mgPerL * Math.exp(lit.co2Sigma_ln * d) - settled_mgPerL);
    return dose_mgPerLPerH - lost_mgPerLPerH - lit.change_mgPerLPerH - lit.changeSigma_mgPerLPerH * e;
  });
  const low = spread.quantile(0.1);
  if (low > 0) {
    return {
      kind: "estimate",
      uptake_mgPerLPerH: spread.quantile(0.5),
      uptakeLow80_mgPerLPerH: low,
      uptakeHigh80_mgPerLPerH: spread.quantile(0.9),
    };
  }
  return {
    kind: "at most",
    uptakeAtMost_mgPerLPerH: Math.max(0, spread.quantile(0.9)),
    because:
      "dose and loss through the surface are nearly equal: the plants' share lies within their uncertainty",
  };
}
