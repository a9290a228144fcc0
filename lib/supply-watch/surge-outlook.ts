import { believedComponent, type SupplyBelief } from "../estimation/supply-belief.js";
import type { SupplyModel } from "../estimation/supply-model.js";
import { flowMultiplier } from "../estimation/supply-motion.js";
import { expectedGauge } from "../estimation/supply-observation.js";
import { component as c } from "../estimation/supply-state.js";
import { normalQuantile80 } from "../numerics/normal-distribution.js";
import { surgeLimits } from "../vessel/surge.js";

/** Flow over what was set, with the interval that holds it in 80 of 100 cases. */
export interface FlowFactor {
  readonly value: number;
  readonly low80: number;
  readonly high80: number;
}

export interface SurgeOutlook {
  readonly inletGauge_bar: number;
  /** Of the full charge's flow: now, and at the working pressure. */
  readonly now: FlowFactor;
  readonly atEnd: FlowFactor;
  readonly verdict: "steady" | "creeps" | "surges";
  /**
   * The regulator's rise has come this near that the needle should be looked at before the tank shows it: a tenth above what was
   * set is within the interval now.
   */
  readonly early: boolean;
  /** Inlet pressure at which an end-of-charge closing is due, the gauge's own doubt included. */
  readonly closeBelowGauge_bar: number;
}

/**
 * What the supply-pressure effect does to the flow of a needle that nobody touches, by what has been learnt of it; until then
 * by the usual range of small regulators.
 * @see [Shapiro1953] for the flow; the supply-pressure effect is common practice
 */
export function surgeOutlook(model: SupplyModel, belief: SupplyBelief): SurgeOutlook {
  const effect = believedComponent(belief, c.supplyEffect);
  const { inletGauge_bar } = expectedGauge(model, belief.mean);
  const full = [...belief.mean];
  full[c.removed] = 0;
  full[c.pending] = 0;
  const fullGauge_bar = expectedGauge(model, full).inletGauge_bar;
  const working_bar = model.charge.workingPressureGauge_bar;
  const factorAt = (at_bar: number): FlowFactor => {
    const ratio = (perBar: number): number =>
      flowMultiplier(perBar, at_bar) / flowMultiplier(perBar, fullGauge_bar);
    const spread = normalQuantile80 * effect.deviation;
    const ends = [ratio(effect.value - spread), ratio(effect.value + spread)];
    return { value: ratio(effect.value), low80: Math.min(...ends), high80: Math.max(...ends) };
  };
  const now = factorAt(inletGauge_bar);
  const atEnd = factorAt(Math.min(working_bar, inletGauge_bar));
  const bias = believedComponent(belief, c.gaugeBias);
  return {
    inletGauge_bar,
    now,
    atEnd,
    verdict:
      atEnd.value >= surgeLimits.surge_ratio
        ? "surges"
        : atEnd.value >= surgeLimits.noticed_ratio
          ? "creeps"
          : "steady",
    early: now.high80 >= surgeLimits.noticed_ratio && now.value > 1.05,
    closeBelowGauge_bar: working_bar + Math.max(0, bias.value) + bias.deviation,
  };
}
