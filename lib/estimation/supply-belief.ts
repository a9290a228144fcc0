import type { SupplyModel } from "./supply-model.js";
import { expectedGauge, reactedAtInlet_g, reactedCo2_g } from "./supply-observation.js";
import { component as c, componentCount, type SupplyState } from "./supply-state.js";
import { varianceAlong } from "./symmetric-matrix.js";

/** All hypotheses of a state as one: mean and covariance of the weighed mixture. */
export interface SupplyBelief {
  readonly mean: readonly number[];
  readonly covariance: readonly number[];
  /** Weight of each lag, in the order of the hypotheses; their sum is 1. */
  readonly weights: readonly number[];
}

/** A value with its standard deviation. */
export interface Believed {
  readonly value: number;
  readonly deviation: number;
}

export function supplyBelief(state: SupplyState): SupplyBelief {
  const heaviest = Math.max(...state.hypotheses.map(({ logWeight }) => logWeight));
  const raw = state.hypotheses.map(({ logWeight }) => Math.exp(logWeight - heaviest));
  const total = raw.reduce((sum, weight) => sum + weight, 0);
  const weights = raw.map((weight) => weight / total);
  const mean = new Float64Array(componentCount);
  const covariance = new Float64Array(componentCount * componentCount);
  state.hypotheses.forEach((hypothesis, k) => {
    const weight = weights[k] ?? 0;
    for (let i = 0; i < componentCount; i += 1) {
      mean[i] = (mean[i] ?? 0) + weight * (hypothesis.mean[i] ?? 0);
    }
  });
  state.hypotheses.forEach((hypothesis, k) => {
    const weight = weights[k] ?? 0;
    if (weight < 1e-12) return;
    for (let i = 0; i < componentCount; i += 1) {
      const away = (hypothesis.mean[i] ?? 0) - (mean[i] ?? 0);
      for (let j = 0; j < componentCount; j += 1) {
        const at = i * componentCount + j;
        const spread = (hypothesis.covariance[at] ?? 0) + away * ((hypothesis.mean[j] ?? 0) - (mean[j] ?? 0));
        covariance[at] = (covariance[at] ?? 0) + weight * spread;
      }
    }
  });
  return { mean: Array.from(mean), covariance: Array.from(covariance), weights };
}

export function believedComponent(belief: SupplyBelief, index: number): Believed {
  return {
    value: belief.mean[index] ?? 0,
    deviation: Math.sqrt(Math.max(0, belief.covariance[index * componentCount + index] ?? 0)),
  };
}

/** CO2 that has not left: gas, dissolved, and what bicarbonate and acid can still give, g. What escaped before closing has left. */
export function believedRemaining(model: SupplyModel, belief: SupplyBelief): Believed {
  const gradient = new Array<number>(componentCount).fill(0);
  gradient[c.removed] = -1;
  gradient[c.lost] = -1;
  return {
    value: model.map.co2Available_g - (belief.mean[c.removed] ?? 0) - (belief.mean[c.lost] ?? 0),
    deviation: Math.sqrt(varianceAlong(belief.covariance, componentCount, gradient)),
  };
}

/**
 * CO2 that can leave before the pressure is at the working pressure at the contents' temperature, g; what waits in crystals counts
 * as reacted. Below zero when it is under it already. The pressure is the true one, which the regulator has: what the gauge may be
 * wrong by makes the interval wider.
 */
export function believedDeliverable(model: SupplyModel, belief: SupplyBelief): Believed {
  const settled = [...belief.mean];
  settled[c.pending] = 0;
  const kept_g = reactedAtInlet_g(model, settled, model.charge.workingPressureGauge_bar);
  const { gradient } = expectedGauge(model, settled, kept_g);
  const bySlope = gradient[c.removed] ?? -1;
  // What is left less what is kept; along the working pressure the kept part moves with every error of the model.
  const along = gradient.map((slope, k) => {
    if (k === c.removed || k === c.pending) return k === c.removed ? -1 : 0;
    if (k === c.lost) return -1 - (slope - bySlope) / bySlope;
    if (k === c.gaugeBias || k === c.gaugeWander) return 0;
    return -slope / bySlope;
  });
  return {
    value: reactedCo2_g(model, settled) - kept_g,
    deviation: Math.sqrt(varianceAlong(belief.covariance, componentCount, along)),
  };
}
