import { normalSpread } from "../numerics/normal-spread.js";
import { assertInRange } from "../quantities/valid-range.js";
import { hoursUntilCo2_h } from "./gas-exchange.js";

export interface Overdose {
  /** Estimate of the CO2 now, and the standard deviation of its logarithm: here the common factor counts. */
  readonly co2_mgPerL: number;
  readonly co2Sigma_ln: number;
  readonly limit_mgPerL: number;
  readonly k_perH: number;
  readonly kSigma_ln: number;
  readonly settledCo2_mgPerL: number;
  readonly settledSigma_ln: number;
}

export interface HoursToLimit {
  /** Central; 0 where the limit is not passed, infinite where the tank rests above it. */
  readonly hours_h: number;
  readonly hoursLow80_h: number;
  readonly hoursHigh80_h: number;
}

/**
 * What an air pump and more movement of the surface do to the gas exchange: a factor of 3 to 10, taken as 5 by a
 * factor of 1.6 either way. Common practice, no source.
 */
const aeration = { factor: 5, sigma_ln: 0.47 };

function hoursWith(overdose: Overdose, factor: number, factorSigma_ln: number): HoursToLimit {
  const hours = ([a = 0, b = 0, c = 0, d = 0]: readonly number[]): number => {
    const startCo2_mgPerL = overdose.co2_mgPerL * Math.exp(overdose.co2Sigma_ln * a);
    if (startCo2_mgPerL <= overdose.limit_mgPerL) return 0;
    const quicker = factor * Math.exp(factorSigma_ln * c);
    const settled_mgPerL = overdose.settledCo2_mgPerL * Math.exp(overdose.settledSigma_ln * d);
    return hoursUntilCo2_h(
      {
        k_perH: overdose.k_perH * Math.exp(overdose.kSigma_ln * b) * quicker,
        startCo2_mgPerL,
        // Respiration weighs less against a quicker exchange; a tenth of the rest is taken as the air's own.
        settledCo2_mgPerL: settled_mgPerL * (0.1 + 0.9 / quicker),
      },
      overdose.limit_mgPerL,
    );
  };
  const spread = normalSpread(4, hours);
  return {
    hours_h: hours([]),
    hoursLow80_h: spread.quantile(0.1),
    hoursHigh80_h: spread.quantile(0.9),
  };
}

/**
 * Hours from the closing of the gas until the CO2 is below the alarm limit, in the dark, as it is and under an air pump.
 * Plants in light shorten it. A range to plan by, not a reason to wait: at signs of distress aerate and change water at once.
 * @param overdose.limit_mgPerL 1 to 200
 * @see lib/tank/gas-exchange.ts for the decay
 */
export function hoursToLimit(overdose: Overdose): {
  readonly asItIs: HoursToLimit;
  readonly aerated: HoursToLimit;
} {
  assertInRange(overdose.limit_mgPerL, { quantity: "alarm limit", unit: "mg/L", minimum: 1, maximum: 200 });
  assertInRange(overdose.co2_mgPerL, { quantity: "CO2", unit: "mg/L", minimum: 0, maximum: 2000 });
  return {
    asItIs: hoursWith(overdose, 1, 0),
    aerated: hoursWith(overdose, aeration.factor, aeration.sigma_ln),
  };
}
