import { supplyBelief } from "../../lib/estimation/supply-belief.js";
import type { SupplyWarning } from "../../lib/estimation/supply-estimate.js";
import type { SupplyModel } from "../../lib/estimation/supply-model.js";
import { expectedGauge } from "../../lib/estimation/supply-observation.js";
import { component as c, componentCount, type SupplyState } from "../../lib/estimation/supply-state.js";
import { bothWays } from "../../lib/told/plain-text.js";
import { grams, said } from "../../lib/told/said.js";
import { varianceAlong } from "../../lib/estimation/symmetric-matrix.js";

/** Why a weight says nothing of what is left. */
export type MassDoubt = SupplyWarning;

/** A hand on the vessel, a spanner left on it, a hose that pulls: what gas weighs changes by less. A judgement. */
const gate = { deviations: 6, least_g: 6 } as const;

/**
 * Undefined for a weight that the filter may take. The first one is taken as it is: it fixes the scale's zero. One that lies far
 * from what the gas could have changed is passed over for as long as it does; the pressure goes on.
 */
export function massDoubtOf(
  model: SupplyModel,
  state: SupplyState,
  vesselMass_g: number,
): MassDoubt | undefined {
  if (!state.hasScale) return undefined;
  const { mean, covariance } = supplyBelief(state);
  const { air_g } = expectedGauge(model, mean);
  const expected_g = (mean[c.fullMass] ?? 0) + air_g - (mean[c.removed] ?? 0);
  const along = new Array<number>(componentCount).fill(0);
  along[c.fullMass] = 1;
  along[c.removed] = -1;
  const deviation_g = Math.sqrt(Math.max(0, varianceAlong(covariance, componentCount, along)));
  const away_g = vesselMass_g - expected_g;
  if (Math.abs(away_g) <= Math.max(gate.least_g, gate.deviations * deviation_g)) return undefined;
  return {
    id: "weight-not-believed",
    ...bothWays(
      said`The scale is ${grams(Math.abs(away_g), 0)} ${away_g > 0 ? "above" : "below"} what the vessel should weigh: something leans on it, was put on or taken off, or the scale was set to zero. It is not used until it comes back.`,
    ),
  };
}
