import {
  absoluteFromGauge_bar,
  temperatureFromCelsius,
  pressureFromBar,
  type PressureUnit,
  type TemperatureUnit,
} from "../../lib/quantities/units.js";

/** Spans and gates in the unit in which a sensor speaks, where the config leaves them out. */

export interface Span {
  readonly minimum: number;
  readonly maximum: number;
}

/** -0.5 to 40 bar gauge: a drifted zero, and well above any home-made charge. */
export function plausiblePressure(unit: PressureUnit, reference: "gauge" | "absolute"): Span {
  const inUnit = (pressureGauge_bar: number): number =>
    pressureFromBar(
      reference === "gauge" ? pressureGauge_bar : absoluteFromGauge_bar(pressureGauge_bar),
      unit,
    );
  return { minimum: inUnit(-0.5), maximum: inUnit(40) };
}

export function spikePressure(unit: PressureUnit): number {
  return pressureFromBar(3, unit);
}

/** 10 to 38 degC: a tank or a room in which one is kept. */
export function plausibleTemperature(unit: TemperatureUnit): Span {
  return { minimum: temperatureFromCelsius(10, unit), maximum: temperatureFromCelsius(38, unit) };
}

/** A difference of 5 K. */
export function spikeTemperature(unit: TemperatureUnit): number {
  return unit === "degF" ? (5 * 9) / 5 : 5;
}
