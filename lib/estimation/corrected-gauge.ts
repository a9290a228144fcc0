import type { SupplyModel } from "./supply-model.js";
import { expectedGauge, reactedAtGauge_g } from "./supply-observation.js";
import { component as c } from "./supply-state.js";

/**
 * What a gauge would show with the same CO2 in the vessel at another temperature, bar: the CO2 that the charge must hold to show
 * what it does, and its pressure at the reference. Equilibrium, so that a contents' lag behind its sensor stays in it.
 * @param mean what is believed of the charge; its temperature is passed over
 * @param reading the gauge and the temperature of what is around the vessel
 * @param reference_degC 0 to 45
 */
export function correctedGauge_bar(
  model: SupplyModel,
  mean: readonly number[],
  reading: { readonly pressureGauge_bar: number; readonly temperature_degC: number },
  reference_degC: number,
): number {
  const then = [...mean];
  then[c.contents] = reading.temperature_degC + (mean[c.temperatureOffset] ?? 0);
  then[c.pending] = 0;
  const left_g = reactedAtGauge_g(model, then, reading.pressureGauge_bar);
  const away_bar = reading.pressureGauge_bar - expectedGauge(model, then, left_g).gauge_bar;
  then[c.contents] = reference_degC;
  // Beyond the span of the charge the nearest edge answered; what was missing is kept.
  return expectedGauge(model, then, left_g).gauge_bar + away_bar;
}
