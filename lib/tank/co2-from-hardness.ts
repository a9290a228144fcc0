import { carbonateSpeciation } from "../chemistry/carbonate-speciation.js";
import { alkalinityFromKh_meqPerL } from "../quantities/units.js";
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

const pHRange = { quantity: "pH", unit: "", minimum: 4, maximum: 10 };
const khRange = { quantity: "kh_dKH", unit: "dKH", minimum: 0.1, maximum: 40 };
const temperatureRange = { quantity: "temperature_degC", unit: "degC", minimum: 0, maximum: 45 };
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
 * @throws OutOfValidRangeError outside of these, or when the alkalinity is less than the hydroxide at this pH.
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

  const { co2_mgPerL } = carbonateSpeciation({
    pH: reading.pH,
    alkalinity_meqPerL: alkalinityFromKh_meqPerL(reading.kh_dKH),
    temperature_degC: reading.temperature_degC,
    ionicStrength_molPerL,
  });
  const spread = Math.hypot(phUncertainty * Math.LN10, khUncertainty_dKH / reading.kh_dKH);
  const factor = Math.exp(quantile80 * spread);
  return { co2_mgPerL, co2Low80_mgPerL: co2_mgPerL / factor, co2High80_mgPerL: co2_mgPerL * factor };
}
