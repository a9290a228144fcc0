import { kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange, type ValidRange } from "../quantities/valid-range.js";

/**
 * Equilibrium constants of the carbonate system and of water at zero ionic strength. All are log10 of the
 * thermodynamic constant on the molality scale; fugacity is in atm where it stands.
 */

/** log10 K = constant + linear T + inverse / T + logarithm log10 T + inverseSquare / T^2, T in K. */
interface FiveTermFit {
  readonly constant: number;
  readonly linear: number;
  readonly inverse: number;
  readonly logarithm: number;
  readonly inverseSquare: number;
}

const plummerBusenberg = {
  K1: {
    constant: -356.3094,
    linear: -0.06091964,
    inverse: 21834.37,
    logarithm: 126.8339,
    inverseSquare: -1684915,
  },
  K2: {
    constant: -107.8871,
    linear: -0.03252849,
    inverse: 5151.79,
    logarithm: 38.92561,
    inverseSquare: -563713.9,
  },
  KH: {
    constant: 108.3865,
    linear: 0.01985076,
    inverse: -6919.53,
    logarithm: -40.45154,
    inverseSquare: 669365,
  },
} as const;

const nordstrom = {
  Kw: {
    constant: -283.971,
    linear: -0.05069842,
    inverse: 13323,
    logarithm: 102.24447,
    inverseSquare: -1119669,
  },
} as const;

/** The span of the Plummer and Busenberg fits. */
export const carbonateRange: ValidRange = { quantity: "temperature", unit: "degC", minimum: 0, maximum: 90 };
/** The span that the emf cells of Harned and his pupils covered. */
export const harnedRange: ValidRange = { quantity: "temperature", unit: "degC", minimum: 0, maximum: 50 };

function fiveTerms(fit: FiveTermFit, temperature_degC: number): number {
  const T = kelvinFromCelsius(temperature_degC);
  return (
    fit.constant +
    fit.linear * T +
    fit.inverse / T +
    fit.logarithm * Math.log10(T) +
    fit.inverseSquare / (T * T)
  );
}

/**
 * log10 K1 of CO2(aq) + H2O = HCO3- + H+. 0 to 90 degC, standard deviation 0.005.
 * @throws OutOfValidRangeError outside 0 to 90 degC
 * @see [PlummerBusenberg1982]
 */
export function carbonicAcidLogK1(temperature_degC: number): number {
  assertInRange(temperature_degC, carbonateRange);
  return fiveTerms(plummerBusenberg.K1, temperature_degC);
}

/**
 * log10 K2 of HCO3- = CO3-- + H+. 0 to 90 degC, standard deviation 0.005.
 * @throws OutOfValidRangeError outside 0 to 90 degC
 * @see [PlummerBusenberg1982]
 */
export function bicarbonateLogK2(temperature_degC: number): number {
  assertInRange(temperature_degC, carbonateRange);
  return fiveTerms(plummerBusenberg.K2, temperature_degC);
}

/**
 * log10 KH of CO2(g) = CO2(aq), mol/(kg atm). 0 to 90 degC.
 * @throws OutOfValidRangeError outside 0 to 90 degC
 * @see [PlummerBusenberg1982]
 */
export function carbonDioxideLogKH(temperature_degC: number): number {
  assertInRange(temperature_degC, carbonateRange);
  return fiveTerms(plummerBusenberg.KH, temperature_degC);
}

/**
 * log10 Kw of H2O = H+ + OH-. 0 to 90 degC.
 * @throws OutOfValidRangeError outside 0 to 90 degC
 * @see [Nordstrom1990]
 */
export function waterLogKw(temperature_degC: number): number {
  assertInRange(temperature_degC, carbonateRange);
  return fiveTerms(nordstrom.Kw, temperature_degC);
}

/**
 * log10 K1 of carbonic acid by an independent cell, the cross-check of carbonicAcidLogK1. 0 to 50 degC.
 * @throws OutOfValidRangeError outside 0 to 50 degC
 * @see [HarnedDavis1943]
 */
export function carbonicAcidLogK1ByHarnedDavis(temperature_degC: number): number {
  assertInRange(temperature_degC, harnedRange);
  const T = kelvinFromCelsius(temperature_degC);
  return 14.8435 - 3404.71 / T - 0.032786 * T;
}

/**
 * log10 K2 of carbonic acid by an independent cell, the cross-check of bicarbonateLogK2. 0 to 50 degC.
 * @throws OutOfValidRangeError outside 0 to 50 degC
 * @see [HarnedScholes1941]
 */
export function bicarbonateLogK2ByHarnedScholes(temperature_degC: number): number {
  assertInRange(temperature_degC, harnedRange);
  const T = kelvinFromCelsius(temperature_degC);
  return 6.498 - 2902.39 / T - 0.02379 * T;
}

/**
 * log10 K of the neutral pair Na+ + HCO3- = NaHCO3(aq), mol/kg: the published constant of
 * Na+ + H+ + CO3-- = NaHCO3(aq) (5.502746 + 1364.708 / T; 10.08 at 25 degC) plus log10 K2.
 * @throws OutOfValidRangeError outside 0 to 90 degC
 * @see [Nordstrom1990] as taken up by [ThermoChimie2014]
 */
export function sodiumBicarbonatePairLogK(temperature_degC: number): number {
  const T = kelvinFromCelsius(temperature_degC);
  return 5.502746 + 1364.708 / T + bicarbonateLogK2(temperature_degC);
}

/**
 * log10 K of the pair Na+ + CO3-- = NaCO3-, mol/kg: 1.27 at 25 degC.
 * @throws OutOfValidRangeError outside 0 to 90 degC
 * @see [Nordstrom1990] as taken up by [ThermoChimie2014]
 */
export function sodiumCarbonatePairLogK(temperature_degC: number): number {
  assertInRange(temperature_degC, carbonateRange);
  return 7.801 - 1947.218 / kelvinFromCelsius(temperature_degC);
}

/** Nahcolite: log K at 25 degC and the enthalpy of NaHCO3(s) = Na+ + HCO3-; from its solubility in pure water. */
const nahcolite = { logK25: -0.43, enthalpy_JPerMol: 17590, reference_K: 298.15 } as const;

/**
 * log10 K of NaHCO3(s) = Na+ + HCO3- for use with the specific-ion model and the pair NaHCO3(aq). 0 to 60 degC.
 * Reproduces the solubility of sodium bicarbonate in pure water (6.9 to 12.7 g per 100 g, 0 to 40 degC).
 * @throws OutOfValidRangeError outside 0 to 60 degC
 * @see [Seidell1940] solubility in water
 */
export function nahcoliteLogK(temperature_degC: number): number {
  assertInRange(temperature_degC, { quantity: "temperature", unit: "degC", minimum: 0, maximum: 60 });
  const T = kelvinFromCelsius(temperature_degC);
  const slope_K = nahcolite.enthalpy_JPerMol / (8.314462618 * Math.LN10);
  return nahcolite.logK25 - slope_K * (1 / T - 1 / nahcolite.reference_K);
}
