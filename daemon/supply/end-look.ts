import { believedComponent, supplyBelief } from "../../lib/estimation/supply-belief.js";
import type { SupplyModel } from "../../lib/estimation/supply-model.js";
import { expectedGauge } from "../../lib/estimation/supply-observation.js";
import { component as c, type SupplyState } from "../../lib/estimation/supply-state.js";
import type { SupplyReading } from "../../lib/estimation/supply-trace.js";
import type { EndLook } from "../../lib/supply-watch/end-of-charge.js";
import { surgeOutlook } from "../../lib/supply-watch/surge-outlook.js";

/** Above the working pressure by so much, nothing is near its end: that spares the reckoning at each reading. */
const farFromEnd_bar = 4;
/** Share of the charge that may be waiting when the low pressure is that of an end and no longer that of a beginning. */
const settled_ratio = 0.02;

/**
 * What a reading says of the end of a charge, once it was taken into the state. Undefined where it says nothing: no pressure,
 * one that the filter did not believe, a charge that still reacts, or far above.
 */
export function endLook(
  model: SupplyModel,
  state: SupplyState,
  { at_epochMs, pressureGauge_bar }: SupplyReading,
  isHeld: boolean,
): Omit<EndLook, "from"> | undefined {
  if (pressureGauge_bar === undefined || state.pressureRead_epochMs !== at_epochMs) return undefined;
  const { workingPressureGauge_bar } = model.charge;
  if (!isHeld && pressureGauge_bar > workingPressureGauge_bar + farFromEnd_bar) return undefined;
  const belief = supplyBelief(state);
  const pending = believedComponent(belief, c.pending);
  if (pending.value + pending.deviation > settled_ratio * model.map.co2Available_g) return undefined;
  const usual = [...belief.mean];
  usual[c.contents] = state.dosing_degC + (usual[c.temperatureOffset] ?? 0);
  const byWarmth_bar = expectedGauge(model, usual).gauge_bar - expectedGauge(model, belief.mean).gauge_bar;
  return {
    at_epochMs,
    gauge_bar: pressureGauge_bar + byWarmth_bar,
    closeBelowGauge_bar: surgeOutlook(model, belief).closeBelowGauge_bar,
  };
}
