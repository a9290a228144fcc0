import { believedDeliverable, type SupplyBelief } from "../estimation/supply-belief.js";
import type { SupplyModel } from "../estimation/supply-model.js";
import { flowMultiplier, referenceInlet_bar } from "../estimation/supply-motion.js";
import { reactedAtGauge_g, reactedCo2_g } from "../estimation/supply-observation.js";
import { component as c } from "../estimation/supply-state.js";
import { surgeLimits } from "../vessel/surge.js";
import type { SurgeOutlook } from "./surge-outlook.js";

/**
 * Days until the flow is a third above what was set, by the median forecast: the share of the deliverable gas that goes until
 * then, of the time that is left. Undefined where it never comes to that.
 */
export function untilSurge_days(
  model: SupplyModel,
  belief: SupplyBelief,
  outlook: SurgeOutlook,
  dosingLeft_days: number,
): number | undefined {
  if (outlook.atEnd.value < surgeLimits.surge_ratio) return undefined;
  if (outlook.now.value >= surgeLimits.surge_ratio) return 0;
  const effect = belief.mean[c.supplyEffect] ?? 0;
  if (!(effect > 0)) return undefined;
  const full = flowMultiplier(effect, outlook.inletGauge_bar) / outlook.now.value;
  const at_bar = referenceInlet_bar - (surgeLimits.surge_ratio * full - 1) / effect;
  const deliverable_g = believedDeliverable(model, belief).value;
  if (!(deliverable_g > 0)) return 0;
  const settled = [...belief.mean];
  settled[c.pending] = 0;
  const goes_g = reactedCo2_g(model, settled) - reactedAtGauge_g(model, settled, at_bar);
  return Math.min(1, Math.max(0, goes_g / deliverable_g)) * dosingLeft_days;
}
