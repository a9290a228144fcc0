import { kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange, type ValidRange } from "../quantities/valid-range.js";

const range: ValidRange = { quantity: "temperature", unit: "degC", minimum: 0, maximum: 100 };

/**
 * Density of air-free water at 1 atm, kg/L. 0 to 100 degC, 0.001 %.
 * @throws OutOfValidRangeError outside 0 to 100 degC
 * @see [Kell1975] equation 16
 */
export function waterDensity_kgPerL(temperature_degC: number): number {
  assertInRange(temperature_degC, range);
  const t = temperature_degC;
  const upper =
    999.83952 +
    t * (16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 + t * -280.54253e-12))));
  return upper / (1 + 16.87985e-3 * t) / 1000;
}

/**
 * Vapour pressure of water, bar. 0 to 100 degC, 0.02 %.
 * @throws OutOfValidRangeError outside 0 to 100 degC
 * @see [WagnerPruss1993] equation 1
 */
export function waterVapourPressure_bar(temperature_degC: number): number {
  assertInRange(temperature_degC, range);
  const T = kelvinFromCelsius(temperature_degC);
  const critical = { temperature_K: 647.096, pressure_bar: 220.64 };
  const v = 1 - T / critical.temperature_K;
  const root = Math.sqrt(v);
  const v3 = v * v * v;
  const sum =
    -7.85951783 * v +
    1.84408259 * v * root +
    -11.7866497 * v3 +
    22.6807411 * v3 * root +
    -15.9618719 * v3 * v +
    1.80122502 * v3 * v3 * v * root;
  return critical.pressure_bar * Math.exp((critical.temperature_K / T) * sum);
}

/**
 * Relative permittivity of water at 1 atm. 0 to 100 degC, 0.05.
 * @throws OutOfValidRangeError outside 0 to 100 degC
 * @see [MalmbergMaryott1956]
 */
export function waterPermittivity(temperature_degC: number): number {
  assertInRange(temperature_degC, range);
  const t = temperature_degC;
  return 87.74 + t * (-0.40008 + t * (9.398e-4 + t * -1.41e-6));
}

/**
 * Debye-Hueckel A of log10 gamma = -A z^2 sqrt(I) on the molality scale, (kg/mol)^0.5: 0.491 at 0 degC, 0.511 at
 * 25 degC. From the density and the permittivity of water.
 * @throws OutOfValidRangeError outside 0 to 100 degC
 * @see [RobinsonStokes1959] equation 9.7
 */
export function debyeHuckelA(temperature_degC: number): number {
  const T = kelvinFromCelsius(temperature_degC);
  const epsilonT = waterPermittivity(temperature_degC) * T;
  return (1.82481e6 * Math.sqrt(waterDensity_kgPerL(temperature_degC))) / (epsilonT * Math.sqrt(epsilonT));
}
