import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { alkalinityFromKh_meqPerL, kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";

export interface HardnessReading {
  readonly pH: number;
  readonly kh_dKH: number;
  readonly temperature_degC: number;
  /** Standard uncertainty of the pH reading. */
  readonly phUncertainty?: number;
  /** Standard uncertainty of the hardness test. */
  readonly khUncertainty_dKH?: number;
}

export interface TankCo2 {
  readonly co2_mgPerL: number;
  readonly co2Low80_mgPerL: number;
  readonly co2High80_mgPerL: number;
}

export const pHRange = { quantity: "pH", unit: "", minimum: 4, maximum: 10 };
const khRange = { quantity: "kh_dKH", unit: "dKH", minimum: 0.1, maximum: 40 };
export const temperatureRange = { quantity: "temperature_degC", unit: "degC", minimum: 0, maximum: 45 };
const phUncertaintyRange = { quantity: "phUncertainty", unit: "", minimum: 0, maximum: 1 };
const khUncertaintyRange = { quantity: "khUncertainty_dKH", unit: "dKH", minimum: 0, maximum: 10 };

const defaultPhUncertainty = 0.05;
const defaultKhUncertainty_dKH = 0.5;
/** A common fresh water; between 1.4 and 10 mmol/L the result moves by 3 % either way. */
const ionicStrength_molPerL = 0.005;
/** Two-sided 80 % of a normal distribution. */
const quantile80 = 1.2816;

/**
 * Free CO2 of a tank from its pH and carbonate hardness, mg/L, with an 80 % interval.
 * Carbonate equilibrium with Davies activities; the uncertainties are taken as log-normal, since a tenth of a pH unit is a
 * factor. Right only where carbonate makes the alkalinity: other acids and buffers (humic, phosphate) make it read high.
 * @param reading  pH 4 to 10, 0.1 to 40 dKH, 0 to 45 degC.
 * @throws OutOfValidRangeError outside of these.
 * @see [PlummerBusenberg1982] for K1 and K2, [Davies1962] for the activities.
 */
export function co2FromHardness(reading: HardnessReading): TankCo2 {
  const phUncertainty = reading.phUncertainty ?? defaultPhUncertainty;
  const khUncertainty_dKH = reading.khUncertainty_dKH ?? defaultKhUncertainty_dKH;
  assertInRange(reading.pH, pHRange);
  assertInRange(reading.kh_dKH, khRange);
  assertInRange(reading.temperature_degC, temperatureRange);
  assertInRange(phUncertainty, phUncertaintyRange);
  assertInRange(khUncertainty_dKH, khUncertaintyRange);

  const co2_mgPerL = freeCo2_mgPerL(reading);
  const spread = Math.hypot(phUncertainty * Math.LN10, khUncertainty_dKH / reading.kh_dKH);
  const factor = Math.exp(quantile80 * spread);
  return { co2_mgPerL, co2Low80_mgPerL: co2_mgPerL / factor, co2High80_mgPerL: co2_mgPerL * factor };
}

function freeCo2_mgPerL({ pH, kh_dKH, temperature_degC }: HardnessReading): number {
  const temperature_K = kelvinFromCelsius(temperature_degC);
  const activityH = 10 ** -pH;
  const K1 = 10 ** log10K1(temperature_K);
  const K2 = 10 ** log10K2(temperature_K);
  const gamma1 = activityCoefficient(1);
  const gamma2 = activityCoefficient(2);
  const hydroxide_molPerL = 10 ** (log10Kw(temperature_K) + pH) / gamma1;
  const carbonateAlkalinity_molPerL =
    alkalinityFromKh_meqPerL(kh_dKH) / 1000 + activityH / gamma1 - hydroxide_molPerL;
  const perCo2 = (K1 / activityH) * (1 / gamma1 + (2 * K2) / (activityH * gamma2));
  return Math.max(0, carbonateAlkalinity_molPerL / perCo2) * molarMass_gPerMol.co2 * 1000;
}

/** [PlummerBusenberg1982] 0 to 90 degC. */
function log10K1(T: number): number {
  return -356.3094 - 0.06091964 * T + 21834.37 / T + 126.8339 * Math.log10(T) - 1684915 / T ** 2;
}

/** [PlummerBusenberg1982] 0 to 90 degC. */
function log10K2(T: number): number {
  return -107.8871 - 0.03252849 * T + 5151.79 / T + 38.92561 * Math.log10(T) - 563713.9 / T ** 2;
}

/** -13.995 at 25 degC, van 't Hoff with 55.8 kJ/mol: within 0.05 from 0 to 45 degC, and of no weight below pH 9. From memory. */
function log10Kw(T: number): number {
  return -13.995 - (55800 / (8.314 * Math.LN10)) * (1 / T - 1 / 298.15);
}

/** [Davies1962], A = 0.509 (25 degC; 0.492 at 0 and 0.515 at 30 degC change the result by less than 0.3 %). */
function activityCoefficient(charge: number): number {
  const root = Math.sqrt(ionicStrength_molPerL);
  return 10 ** (-0.509 * charge ** 2 * (root / (1 + root) - 0.3 * ionicStrength_molPerL));
}
