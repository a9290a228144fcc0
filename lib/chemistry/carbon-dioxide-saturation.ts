import { celsiusZero_K, molarMass_gPerMol } from "../quantities/physical-constants.js";
import { kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange, type ValidRange } from "../quantities/valid-range.js";
import {
  spanWagnerLiquidDensity,
  spanWagnerReducing,
  spanWagnerVapourDensity,
  spanWagnerVapourPressure,
} from "./span-wagner-coefficients.js";

/** From the triple point to the critical point. Above it CO2 has no liquid. */
export const saturationRange: ValidRange = {
  quantity: "temperature",
  unit: "degC",
  minimum: -56.558,
  maximum: 30.978,
};

export const criticalTemperature_degC = spanWagnerReducing.temperature_K - celsiusZero_K;

function series(terms: readonly { readonly n: number; readonly t: number }[], theta: number): number {
  let sum = 0;
  for (const term of terms) sum += term.n * theta ** term.t;
  return sum;
}

/**
 * Pressure at which CO2 boils, bar absolute. -56.6 to 30.98 degC, 0.02 %.
 * @throws OutOfValidRangeError outside that range
 * @see [SpanWagner1996] equation 3.13
 */
export function saturationPressure_bar(temperature_degC: number): number {
  assertInRange(temperature_degC, saturationRange);
  const T = kelvinFromCelsius(temperature_degC);
  const { temperature_K, pressure_bar } = spanWagnerReducing;
  const theta = Math.max(0, 1 - T / temperature_K);
  return pressure_bar * Math.exp((temperature_K / T) * series(spanWagnerVapourPressure, theta));
}

/**
 * Density of boiling liquid CO2, mol/L. -56.6 to 30.98 degC, 0.05 % (more within 0.5 degC of the upper end).
 * @throws OutOfValidRangeError outside that range
 * @see [SpanWagner1996] equation 3.14
 */
export function saturatedLiquidDensity_molPerL(temperature_degC: number): number {
  assertInRange(temperature_degC, saturationRange);
  const theta = Math.max(0, 1 - kelvinFromCelsius(temperature_degC) / spanWagnerReducing.temperature_K);
  return spanWagnerReducing.density_molPerL * Math.exp(series(spanWagnerLiquidDensity, theta));
}

/**
 * Density of the vapour above boiling CO2, mol/L. -56.6 to 30.98 degC, 0.1 % (more within 0.5 degC of the upper end).
 * @throws OutOfValidRangeError outside that range
 * @see [SpanWagner1996] equation 3.15
 */
export function saturatedVapourDensity_molPerL(temperature_degC: number): number {
  assertInRange(temperature_degC, saturationRange);
  const theta = Math.max(0, 1 - kelvinFromCelsius(temperature_degC) / spanWagnerReducing.temperature_K);
  return spanWagnerReducing.density_molPerL * Math.exp(series(spanWagnerVapourDensity, theta));
}

/** Density of boiling liquid CO2, kg/L; ranges as saturatedLiquidDensity_molPerL. @see [SpanWagner1996] equation 3.14 */
export function saturatedLiquidDensity_kgPerL(temperature_degC: number): number {
  return (saturatedLiquidDensity_molPerL(temperature_degC) * molarMass_gPerMol.co2) / 1000;
}

/** Density of the vapour above boiling CO2, kg/L; ranges as saturatedVapourDensity_molPerL. @see [SpanWagner1996] equation 3.15 */
export function saturatedVapourDensity_kgPerL(temperature_degC: number): number {
  return (saturatedVapourDensity_molPerL(temperature_degC) * molarMass_gPerMol.co2) / 1000;
}
