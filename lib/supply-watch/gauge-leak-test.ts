import type { ChargePressureMap } from "../estimation/charge-pressure-map.js";
import { normalQuantile95 } from "../numerics/normal-distribution.js";
import { slopesAt } from "./closed-loss.js";
import { longestTest_h, type LeakTestVerdict, type TemperatureEffect } from "./leak-test.js";

/** A gauge that a person read while the vessel was held closed. */
export interface GaugeLook {
  readonly at_epochMs: number;
  readonly pressureGauge_bar: number;
  /** Of the vessel, or of its room. */
  readonly temperature_degC?: number;
}

export interface GaugeLeakTest {
  /** The loss below which the vessel passes. */
  readonly matters_gPerDay: number;
  /** How far one look may be off from another at the same pressure: half a division of the dial and its friction. */
  readonly accuracy_bar: number;
}

const hour_ms = 3_600_000;
const leastClosed_h = 1;
/** How far the contents may be from a thermometer beside them, and from one look to the next where none was read. Judgements. */
const contents_K = { told: 0.7, untold: 2 } as const;
const usual_degC = 20;

/**
 * The verdict on a vessel held closed whose gauge was read by eye: CO2 by each look, with the temperature taken out, about their
 * mean, and a straight line through them. What is common to all looks, as the gauge's zero, cancels. A look is off by up to the accuracy
 * in either direction, any error within it alike: standard deviation accuracy / sqrt(3).
 * @param looks in any order; two are the least
 * @see [JCGM100] 4.3.7 for the rectangular distribution, section 5.1 for the sum
 */
export function gaugeLeakVerdict(
  map: ChargePressureMap,
  looks: readonly GaugeLook[],
  test: GaugeLeakTest,
): LeakTestVerdict {
  const sorted = [...looks].sort((a, b) => a.at_epochMs - b.at_epochMs);
  const [first] = sorted;
  const last = sorted.at(-1);
  const closed_h =
    first === undefined || last === undefined ? 0 : (last.at_epochMs - first.at_epochMs) / hour_ms;
  if (first === undefined || closed_h <= 0) {
    const needed_h = first === undefined ? undefined : gaugeHoldNeeded_h(map, first, test);
    return { kind: "cannot-be-told", why: "no-readings", needed_h, closed_h: 0 };
  }
  const untold_degC = meanOf(sorted.flatMap(({ temperature_degC }) => temperature_degC ?? [])) ?? usual_degC;
  const middle_bar = meanOf(sorted.map(({ pressureGauge_bar }) => pressureGauge_bar)) ?? 0;
  const { barPerGram, barPerKelvin } = slopesAt(map, middle_bar, untold_degC);
  const points = sorted.map((look) => {
    const { pressureGauge_bar, temperature_degC = untold_degC } = look;
    const corrected_bar = pressureGauge_bar - middle_bar - barPerKelvin * (temperature_degC - untold_degC);
    return {
      at_h: (look.at_epochMs - first.at_epochMs) / hour_ms,
      co2_g: corrected_bar / barPerGram,
      ...errorsOf(map, look, test, untold_degC),
    };
  });
  const middle_h = meanOf(points.map(({ at_h }) => at_h)) ?? 0;
  const squares = points.reduce((sum, { at_h }) => sum + (at_h - middle_h) ** 2, 0);
  const alongTime = (pick: (point: (typeof points)[number]) => number): number =>
    points.reduce((sum, point) => sum + (point.at_h - middle_h) * pick(point), 0) / squares;
  const spreadOf = (pick: (point: (typeof points)[number]) => number): number =>
    Math.sqrt(points.reduce((sum, point) => sum + ((point.at_h - middle_h) * pick(point)) ** 2, 0)) / squares;
  const byGauge = spreadOf(({ byGauge_g }) => byGauge_g);
  const byTemperature = spreadOf(({ byTemperature_g }) => byTemperature_g);
  const leak_gPerDay = -24 * alongTime(({ co2_g }) => co2_g);
  const spread_gPerDay = 24 * normalQuantile95 * Math.hypot(byGauge, byTemperature);
  const low95_gPerDay = leak_gPerDay - spread_gPerDay;
  // No vessel gains gas: an estimate below zero makes it no tighter than one at zero.
  const high95_gPerDay = Math.max(0, leak_gPerDay) + spread_gPerDay;
  if (closed_h >= leastClosed_h && low95_gPerDay > 0) {
    return { kind: "leaks", leak_gPerDay, low95_gPerDay, high95_gPerDay, closed_h };
  }
  if (closed_h >= leastClosed_h && high95_gPerDay < test.matters_gPerDay) {
    return { kind: "tight", below_gPerDay: high95_gPerDay, closed_h };
  }
  const needed_h = Math.ceil(closed_h * Math.max(1.2, spread_gPerDay / test.matters_gPerDay));
  return {
    kind: "cannot-be-told",
    why: byGauge > byTemperature ? "gauge-too-coarse" : "temperature-not-settled",
    needed_h: needed_h <= longestTest_h ? needed_h : undefined,
    closed_h,
  };
}

/**
 * Hours that a vessel must be held closed so that two looks at its gauge tell the loss that matters, rounded up; undefined
 * where that is no test with this gauge.
 * @param look the first one: at a higher pressure a gram moves the gauge less
 */
export function gaugeHoldNeeded_h(
  map: ChargePressureMap,
  look: GaugeLook,
  test: GaugeLeakTest,
): number | undefined {
  const { byGauge_g, byTemperature_g } = errorsOf(map, look, test, usual_degC);
  const both_g = normalQuantile95 * Math.SQRT2 * Math.hypot(byGauge_g, byTemperature_g);
  const needed_h = Math.max(leastClosed_h, Math.ceil((24 * both_g) / test.matters_gPerDay));
  return needed_h <= longestTest_h ? needed_h : undefined;
}

/** Between the first look and the last. Undefined where a temperature was not told. */
export function gaugeTemperatureEffect(
  map: ChargePressureMap,
  looks: readonly GaugeLook[],
): TemperatureEffect | undefined {
  const sorted = [...looks].sort((a, b) => a.at_epochMs - b.at_epochMs);
  const [first] = sorted;
  const last = sorted.at(-1);
  if (first?.temperature_degC === undefined || last?.temperature_degC === undefined) return undefined;
  const change_K = last.temperature_degC - first.temperature_degC;
  const { barPerKelvin } = slopesAt(map, first.pressureGauge_bar, first.temperature_degC);
  return { change_K, onGauge_bar: change_K * barPerKelvin };
}

/** Standard deviations of one look, g of CO2. */
function errorsOf(
  map: ChargePressureMap,
  { pressureGauge_bar, temperature_degC }: GaugeLook,
  { accuracy_bar }: GaugeLeakTest,
  untold_degC: number,
): { readonly byGauge_g: number; readonly byTemperature_g: number } {
  const { barPerGram, barPerKelvin } = slopesAt(map, pressureGauge_bar, temperature_degC ?? untold_degC);
  const away_K = temperature_degC === undefined ? contents_K.untold : contents_K.told;
  return {
    byGauge_g: accuracy_bar / Math.sqrt(3) / barPerGram,
    byTemperature_g: (away_K * barPerKelvin) / barPerGram,
  };
}

function meanOf(values: readonly number[]): number | undefined {
  return values.length === 0 ? undefined : values.reduce((sum, value) => sum + value, 0) / values.length;
}
