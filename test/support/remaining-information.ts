import { createSupplyModel } from "../../lib/estimation/supply-model.js";
import { expectedGauge } from "../../lib/estimation/supply-observation.js";
import { component as c, componentCount } from "../../lib/estimation/supply-state.js";
import { correct, diagonalMatrix, varianceAlong } from "../../lib/estimation/symmetric-matrix.js";
import type { SimulatedCharge, SupplyTruth } from "../../lib/simulation/simulated-charge.js";

/** Standard deviations with which `drawCharge` draws what no estimator is told; a flat span has 0.29 of its width. */
const drawnSpread = {
  pressureFactor: 0.04,
  retained_ratio: 0.25,
  lost_ratio: 0.08 / Math.sqrt(12),
  air_ratio: 1 / Math.sqrt(12),
  airHaste: 0.6 / Math.sqrt(12),
  bias_ofClass: 0.5,
  thermometer_K: 0.3,
} as const;

/** The unknown: what is used in all over what is believed, and the drawn errors. */
const unknowns = 8;

/**
 * Standard deviation, g, with which grams left can be known at an instant at best from the gauge: by an estimator that is told the
 * true physics, the course of the flow but for its scale, the temperature but for the thermometer's zero, and the size of every
 * drawn error, and that starts at the true values. Of the gauge only the pointer's friction and its step are left, new at every full
 * hour, and its zero. Linear Gaussian: the Cramer-Rao bound with these priors. Every other thing that is not known makes it worse.
 * @see Van Trees, Detection, Estimation and Modulation Theory I (1968), section 2.4
 */
export function leastRemainingDeviation_g(charge: SimulatedCharge, until: SupplyTruth): number {
  const { drawn } = charge;
  const model = createSupplyModel(drawn.told);
  const available_g = model.map.co2Available_g;
  const rows = charge.truth.filter(
    ({ at_epochMs }) => at_epochMs >= drawn.dosingFrom_epochMs && at_epochMs <= until.at_epochMs,
  );
  const [first] = rows;
  if (first === undefined) return NaN;
  const covariance = diagonalMatrix([
    1,
    drawnSpread.bias_ofClass * drawn.told.gaugeAccuracy_bar,
    drawnSpread.pressureFactor,
    drawnSpread.retained_ratio,
    drawnSpread.lost_ratio * available_g,
    drawnSpread.air_ratio,
    drawnSpread.airHaste,
    drawnSpread.thermometer_K,
  ]);
  const noise_bar = Math.hypot(drawn.gauge.stiction_bar, drawn.gauge.resolution_bar) / Math.sqrt(12);
  const mean = new Array<number>(unknowns).fill(0);
  const truth = new Array<number>(componentCount).fill(0);
  truth[c.pressureFactor] = drawn.errors.co2Pressure_ratio;
  truth[c.retained] = drawn.errors.retainedBicarbonate_ratio;
  truth[c.lost] = drawn.errors.lostBeforeClosing_ratio * available_g;
  truth[c.air] = drawn.errors.trappedAir_ratio;
  truth[c.airHaste] = drawn.pace.airFirst_ratio;
  for (const row of rows) {
    truth[c.contents] = row.contents_degC;
    const { gradient } = expectedGauge(model, truth, row.co2Remaining_g);
    const slope = (index: number): number => gradient[index] ?? 0;
    const used_g = first.co2Remaining_g - row.co2Remaining_g;
    correct(mean, covariance, unknowns, {
      innovation: 0,
      gradient: [
        used_g * slope(c.removed),
        1,
        slope(c.pressureFactor),
        slope(c.retained),
        slope(c.lost),
        slope(c.air),
        slope(c.airHaste),
        slope(c.contents),
      ],
      noiseVariance: noise_bar ** 2,
    });
  }
  const usedInAll_g = first.co2Remaining_g - until.co2Remaining_g;
  return Math.sqrt(varianceAlong(covariance, unknowns, [-usedInAll_g, 0, 0, 0, -1, 0, 0, 0]));
}
