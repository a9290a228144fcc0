import { normalSpread } from "../numerics/normal-spread.js";
import type { FittedNight } from "./night-fit.js";

/** CO2 that animals, plants and bacteria give off in the dark. */
export type DarkRespiration =
  | {
      readonly kind: "estimate";
      readonly respiration_mgPerLPerH: number;
      readonly respirationLow80_mgPerLPerH: number;
      readonly respirationHigh80_mgPerLPerH: number;
    }
  | { readonly kind: "at most"; readonly respirationAtMost_mgPerLPerH: number };

/**
 * Respiration from where a night's CO2 comes to rest: R = k (Csettled - Cair). Here the readings' common factor does not
 * cancel, so its uncertainty goes in. Where the settled CO2 cannot be told from the air's, a 90 % upper bound only.
 * @param air.factorSigma_ln of all readings together: hardness test and probe offset; 10 % and 0.05 pH make 0.15
 */
export function darkRespiration(
  night: FittedNight,
  air: {
    readonly airCo2_mgPerL: number;
    readonly airSigma_mgPerL: number;
    readonly factorSigma_ln: number;
  },
): DarkRespiration {
  const own = Math.sqrt(Math.max(0, 1 - night.correlation ** 2));
  const spread = normalSpread(4, ([a = 0, b = 0, c = 0, d = 0]) => {
    const k_perH = night.k_perH * Math.exp(night.kSigma_ln * a);
    const settled_mgPerL =
      night.settledCo2_mgPerL *
      Math.exp(night.settledSigma_ln * (night.correlation * a + own * b) - air.factorSigma_ln * c);
    return k_perH * (settled_mgPerL - air.airCo2_mgPerL - air.airSigma_mgPerL * d);
  });
  const low = spread.quantile(0.1);
  return low > 0
    ? {
        kind: "estimate",
        respiration_mgPerLPerH: spread.quantile(0.5),
        respirationLow80_mgPerLPerH: low,
        respirationHigh80_mgPerLPerH: spread.quantile(0.9),
      }
    : { kind: "at most", respirationAtMost_mgPerLPerH: Math.max(0, spread.quantile(0.9)) };
}
