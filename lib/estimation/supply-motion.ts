import { component as c, componentCount, type SupplyHypothesis } from "./supply-state.js";
import type { SupplyModel } from "./supply-model.js";
import { gaugeSpread, modelSpread, settlingSpread, temperatureSpread, useSpread } from "./supply-spreads.js";
import { addVariance, propagateRow } from "./symmetric-matrix.js";

/** What happened to the vessel over one span of time, as far as it is known. */
export interface SupplySpan {
  readonly elapsed_h: number;
  readonly open_h: number;
  readonly guessedOpen_h: number;
  readonly sensor_degC: number;
  /** How long ago the sensor was read; Infinity: never. */
  readonly sensorAge_h: number;
  /** Step in which the gauge is read; 0: not known. */
  readonly pressureStep_bar: number;
}

/** Inlet pressure to which the flow of the state belongs: that of an ordinary full charge. */
export const referenceInlet_bar = 15;

/** A flow through a needle does not turn round, nor does a small regulator double it. */
const multiplierSpan = { least: 0.5, most: 2 } as const;

/** Flow over the flow at the reference inlet, by the learnt supply-pressure effect. */
export function flowMultiplier(supplyEffect: number, inletGauge_bar: number): number {
  const multiplier = 1 + supplyEffect * (referenceInlet_bar - inletGauge_bar);
  return Math.min(multiplierSpan.most, Math.max(multiplierSpan.least, multiplier));
}

/**
 * One hypothesis carried over a span: what flowed while open leaves the vessel, a leak leaves all the time, the contents go
 * after the sensor with the hypothesis' lag, and everything that may drift becomes less sure.
 * @param inletGauge_bar at the start of the span
 */
export function moved(
  model: SupplyModel,
  from: SupplyHypothesis,
  span: SupplySpan,
  inletGauge_bar: number,
): { mean: number[]; covariance: number[] } {
  const mean = [...from.mean];
  const covariance = [...from.covariance];
  const value = (index: number): number => mean[index] ?? 0;
  const { elapsed_h, open_h, guessedOpen_h } = span;
  const days = elapsed_h / 24;

  const multiplier = flowMultiplier(value(c.supplyEffect), inletGauge_bar);
  const flow_gPerH = Math.max(0, value(c.flow));
  const used_g = flow_gPerH * multiplier * open_h;
  propagateRow(covariance, componentCount, {
    component: c.removed,
    from: [
      [c.removed, 1],
      [c.flow, multiplier * open_h],
      [c.supplyEffect, flow_gPerH * (referenceInlet_bar - inletGauge_bar) * open_h],
      [c.leak, elapsed_h],
    ],
  });
  mean[c.removed] = value(c.removed) + used_g + value(c.leak) * elapsed_h;

  const kept = Math.exp(-elapsed_h / from.lag_h);
  propagateRow(covariance, componentCount, {
    component: c.contents,
    from: [
      [c.contents, kept],
      [c.temperatureOffset, 1 - kept],
    ],
  });
  mean[c.contents] = value(c.contents) * kept + (span.sensor_degC + value(c.temperatureOffset)) * (1 - kept);

  const grow = (index: number, variance: number): void =>
    addVariance(covariance, componentCount, index, variance);
  const settling_h = model.charge.closedWith === "ice" ? settlingSpread.ice_h : settlingSpread.water_h;
  if (value(c.pending) > 0 || (covariance[c.pending * componentCount + c.pending] ?? 0) > 1e-9) {
    const waiting = Math.exp(-elapsed_h / settling_h);
    propagateRow(covariance, componentCount, { component: c.pending, from: [[c.pending, waiting]] });
    const before_g = Math.max(0, value(c.pending));
    mean[c.pending] = before_g * waiting;
    // The pace lasts: what it makes uncertain dies away with what waits, in one long step as in many short ones.
    grow(c.pending, (settlingSpread.pace_ratio * waiting * before_g) ** 2 * (elapsed_h / settling_h));
  }

  const dosingDay_h = Math.max(1, Math.min(24, model.spans.openPerDay_h));
  const measuredOpen_h = open_h - guessedOpen_h;
  // Chance is that of whole days: a span's share of it grows as its length does.
  grow(
    c.removed,
    (useSpread.useOfDay_ratio * flow_gPerH) ** 2 * measuredOpen_h * dosingDay_h +
      (useSpread.guessedUse_ratio * flow_gPerH) ** 2 * guessedOpen_h * dosingDay_h,
  );
  grow(c.flow, ((useSpread.flowPerDay_ratio * flow_gPerH) ** 2 * open_h) / dosingDay_h);
  if (from.leaks) grow(c.leak, useSpread.leakPerDay_gPerH ** 2 * days);
  const wanderKept = Math.exp(-elapsed_h / gaugeSpread.wander_h);
  propagateRow(covariance, componentCount, {
    component: c.gaugeWander,
    from: [[c.gaugeWander, wanderKept]],
  });
  mean[c.gaugeWander] = value(c.gaugeWander) * wanderKept;
  grow(
    c.gaugeWander,
    gaugeWanderVariance(model.charge.gaugeAccuracy_bar, span.pressureStep_bar) * (1 - wanderKept ** 2),
  );
  grow(c.gaugeBias, (gaugeSpread.driftPerDay_ratio * model.charge.gaugeAccuracy_bar) ** 2 * days);
  grow(c.pressureFactor, (modelSpread.pressureShape ** 2 * used_g) / model.map.co2Available_g);
  grow(c.temperatureOffset, temperatureSpread.offsetPerDay_K ** 2 * days);
  const unread_K = Math.min(
    temperatureSpread.unread_K,
    temperatureSpread.unreadPerHour_K * Math.max(0, span.sensorAge_h - 1),
  );
  grow(
    c.contents,
    temperatureSpread.atRest_K ** 2 * (1 - kept * kept) +
      (unread_K * (1 - kept)) ** 2 * Math.min(1, elapsed_h),
  );
  return { mean, covariance };
}

/** Of the gauge's error that comes and goes, at rest. Rounding to a step has a deviation of the
 * step over the root of 12; a step not seen yet may be as wide as the gauge is wrong. */
export function gaugeWanderVariance(gaugeAccuracy_bar: number, pressureStep_bar: number): number {
  const step_bar = pressureStep_bar > 0 ? pressureStep_bar : Math.min(0.5, 2 * gaugeAccuracy_bar);
  return (
    (gaugeSpread.wander_ratio * gaugeAccuracy_bar) ** 2 +
    gaugeSpread.leastWander_bar ** 2 +
    step_bar ** 2 / 12
  );
}
