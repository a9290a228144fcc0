import { gaugeFromAbsolute_bar } from "../quantities/units.js";
import type { CausedPressure } from "./charge-pressure-map.js";
import type { SupplyModel } from "./supply-model.js";
import { component as c } from "./supply-state.js";

/** What the gauge should show under a belief, and how that changes with each component. */
export interface ExpectedGauge {
  readonly gauge_bar: number;
  /** Without the gauge's own error: what the regulator sees. */
  readonly inletGauge_bar: number;
  readonly air_g: number;
  readonly gradient: readonly number[];
}

/** CO2 that has reacted and is still there, under a belief, g. */
export function reactedCo2_g(model: SupplyModel, mean: readonly number[]): number {
  return model.map.co2Available_g - (mean[c.lost] ?? 0) - (mean[c.removed] ?? 0) - (mean[c.pending] ?? 0);
}

function causedPressure(model: SupplyModel, mean: readonly number[], reacted_g: number): CausedPressure {
  return model.map.pressureOf({
    reacted_g,
    atFirst_g: model.map.co2Available_g - (mean[c.lost] ?? 0),
    temperature_degC: mean[c.contents] ?? 0,
    retained_ratio: Math.max(0, mean[c.retained] ?? 1),
    air_ratio: Math.max(0, mean[c.air] ?? 0),
    airHaste_ratio: Math.max(0.2, mean[c.airHaste] ?? 1),
  });
}

/** The gauge under a belief; `reacted_g` other than the belief's own asks what it would show with so much left. */
export function expectedGauge(
  model: SupplyModel,
  mean: readonly number[],
  reacted_g: number = reactedCo2_g(model, mean),
): ExpectedGauge {
  const { pressureAbsolute_bar, air_g, slopes } = causedPressure(model, mean, reacted_g);
  const factor = mean[c.pressureFactor] ?? 1;
  // In the order of the components: removed, flow, leak, gauge bias, pressure factor, retained, lost, air, temperature
  // offset, supply effect, contents, pending, full mass, gauge wander, air haste. A literal, for speed.
  const gradient = [
    -factor * slopes.reacted,
    0,
    0,
    1,
    pressureAbsolute_bar,
    factor * slopes.retained,
    -factor * (slopes.reacted + slopes.atFirst),
    factor * slopes.air,
    0,
    0,
    factor * slopes.temperature,
    -factor * slopes.reacted,
    0,
    1,
    factor * slopes.airHaste,
  ];
  const inletGauge_bar = gaugeFromAbsolute_bar(factor * pressureAbsolute_bar);
  return {
    gauge_bar: inletGauge_bar + (mean[c.gaugeBias] ?? 0) + (mean[c.gaugeWander] ?? 0),
    inletGauge_bar,
    air_g,
    gradient,
  };
}

/** What the regulator sees with so much CO2 left, and its change with that, bar and bar for each gram. */
export function inletAt(
  model: SupplyModel,
  mean: readonly number[],
  reacted_g: number,
): { readonly inletGauge_bar: number; readonly barPerGram: number } {
  const { pressureAbsolute_bar, slopes } = causedPressure(model, mean, reacted_g);
  const factor = mean[c.pressureFactor] ?? 1;
  return {
    inletGauge_bar: gaugeFromAbsolute_bar(factor * pressureAbsolute_bar),
    barPerGram: factor * slopes.reacted,
  };
}

/** CO2 left in the vessel when the regulator sees a pressure, under a belief at its temperature, g; 0 or more. */
export function reactedAtInlet_g(
  model: SupplyModel,
  mean: readonly number[],
  inletGauge_bar: number,
): number {
  let low_g = 0;
  let high_g = model.map.co2Available_g * 1.05;
  let at_g = Math.min(high_g, 0.3 * high_g);
  for (let pass = 0; pass < 40; pass += 1) {
    const inlet = inletAt(model, mean, at_g);
    const miss_bar = inlet.inletGauge_bar - inletGauge_bar;
    if (Math.abs(miss_bar) < 1e-4) break;
    if (miss_bar > 0) high_g = at_g;
    else low_g = at_g;
    const next_g = at_g - miss_bar / inlet.barPerGram;
    at_g = next_g > low_g && next_g < high_g ? next_g : (low_g + high_g) / 2;
    if (high_g - low_g < 1e-6) break;
  }
  return at_g;
}

/** The same when the gauge, with its error under that belief, shows a pressure. */
export function reactedAtGauge_g(model: SupplyModel, mean: readonly number[], gauge_bar: number): number {
  return reactedAtInlet_g(model, mean, gauge_bar - (mean[c.gaugeBias] ?? 0) - (mean[c.gaugeWander] ?? 0));
}
