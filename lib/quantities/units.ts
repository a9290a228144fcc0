import { UnknownNameError } from "../errors.js";
import { celsiusZero_K, molarMass_gPerMol, standardAtmosphere_bar } from "./physical-constants.js";

/** Pascals in one of each pressure unit. psi: 0.45359237 kg x 9.80665 m/s2 / (0.0254 m)^2, all exact. */
const pressureUnit_Pa = {
  Pa: 1,
  hPa: 100,
  kPa: 1e3,
  MPa: 1e6,
  mbar: 100,
  bar: 1e5,
  atm: 101325,
  psi: (0.45359237 * 9.80665) / 0.0254 ** 2,
  "kgf/cm2": 98066.5,
} as const;

export type PressureUnit = keyof typeof pressureUnit_Pa;
export const pressureUnits = Object.keys(pressureUnit_Pa) as readonly PressureUnit[];

export type TemperatureUnit = "degC" | "degF" | "K";
export const temperatureUnits: readonly TemperatureUnit[] = ["degC", "degF", "K"];

/** A pressure of any unit in bar. Exact: every unit is defined by the pascal. Gauge stays gauge. */
export function pressureToBar(value: number, unit: PressureUnit): number {
  return (value * pressureUnit_Pa[unit]) / pressureUnit_Pa.bar;
}

/** A pressure in bar in any unit. */
export function pressureFromBar(value_bar: number, unit: PressureUnit): number {
  return (value_bar * pressureUnit_Pa.bar) / pressureUnit_Pa[unit];
}

/** Gauge pressure is absolute pressure less the standard atmosphere; the local barometer is inside the gauge's error. */
export function gaugeFromAbsolute_bar(pressureAbsolute_bar: number): number {
  return pressureAbsolute_bar - standardAtmosphere_bar;
}

export function absoluteFromGauge_bar(pressureGauge_bar: number): number {
  return pressureGauge_bar + standardAtmosphere_bar;
}

/** A temperature of any unit in degrees Celsius. Exact by definition. */
export function temperatureToCelsius(value: number, unit: TemperatureUnit): number {
  switch (unit) {
    case "degC":
      return value;
    case "degF":
      return ((value - 32) * 5) / 9;
    case "K":
      return value - celsiusZero_K;
    default:
      throw new UnknownNameError("temperature unit", unit satisfies never, temperatureUnits);
  }
}

/** A temperature in degrees Celsius in any unit. Exact by definition. */
export function temperatureFromCelsius(temperature_degC: number, unit: TemperatureUnit): number {
  switch (unit) {
    case "degC":
      return temperature_degC;
    case "degF":
      return (temperature_degC * 9) / 5 + 32;
    case "K":
      return kelvinFromCelsius(temperature_degC);
  }
}

export function kelvinFromCelsius(temperature_degC: number): number {
  return temperature_degC + celsiusZero_K;
}

/**
 * Alkalinity of one degree of carbonate hardness, meq/L: 10 mg/L of CaO, two equivalents a mole.
 * The German degree is defined by 10 mg/L CaO.
 */
const alkalinityOfDegree_meqPerL = (2 * 10) / molarMass_gPerMol.calciumOxide;

export function alkalinityFromKh_meqPerL(kh_dKH: number): number {
  return kh_dKH * alkalinityOfDegree_meqPerL;
}
