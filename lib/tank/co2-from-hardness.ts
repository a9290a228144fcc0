import { carbonateSpeciation } from "../chemistry/carbonate-speciation.js";
import { OutOfValidRangeError } from "../errors.js";
import { normalQuantile80, normalQuantile90 } from "../numerics/normal-distribution.js";
import { alkalinityFromKh_meqPerL } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";
import type { Co2Evidence } from "./co2-evidence.js";
import { tankIonicStrength, type WaterSalts } from "./ionic-strength.js";
import { ruleOfThumbCo2_mgPerL, ruleOfThumbError_ratio } from "./rule-of-thumb.js";

export interface HardnessReading extends WaterSalts {
  readonly pH: number;
  readonly kh_dKH: number;
  readonly temperature_degC: number;
  /** Standard uncertainty of the pH reading: the probe's offset and noise together. */
  readonly phUncertainty?: number;
  /** Standard uncertainty of the hardness test. */
  readonly khUncertainty_dKH?: number;
  /** Standard uncertainty of the temperature; several kelvin where it is assumed. */
  readonly temperatureUncertainty_K?: number;
}

export interface TankCo2 {
  readonly co2_mgPerL: number;
  readonly co2Low80_mgPerL: number;
  readonly co2High80_mgPerL: number;
}

/** What makes a result worth less than its interval, or the interval wide. */
export type HardnessCaution =
  /** The test kit's error is as large as what it shows: the interval spans a factor, the value itself says little. */
  | "kh within its uncertainty"
  /** Borate and other salts of the sea count as alkalinity too, and activities are less sure. */
  | "brackish"
  /** Little or no CO2 is left: carbonate takes the bicarbonate's place. */
  | "hardly any co2";

export interface HardnessEstimate extends TankCo2 {
  /** What the rule of thumb gives, for comparison only, and its deviation from co2_mgPerL. */
  readonly ruleOfThumb_mgPerL: number;
  readonly ruleOfThumbError_ratio: number;
  readonly ionicStrength_molPerL: number;
  /** Standard deviation of ln(CO2) by all but the pH: test kit, temperature, activities, constants. */
  readonly ownSigma_ln: number;
  readonly cautions: readonly HardnessCaution[];
}

/** What each number of a reading may be. */
export const hardnessRanges = {
  pH: { quantity: "pH", unit: "", minimum: 4, maximum: 10 },
  kh_dKH: { quantity: "carbonate hardness", unit: "dKH", minimum: 0.1, maximum: 40 },
  temperature_degC: { quantity: "temperature", unit: "degC", minimum: 0, maximum: 45 },
  phUncertainty: { quantity: "pH uncertainty", unit: "", minimum: 0, maximum: 1 },
  khUncertainty_dKH: { quantity: "hardness uncertainty", unit: "dKH", minimum: 0, maximum: 10 },
  temperatureUncertainty_K: { quantity: "temperature uncertainty", unit: "K", minimum: 0, maximum: 10 },
} as const;

const defaultPhUncertainty = 0.05;
const defaultKhUncertainty_dKH = 0.5;
const defaultTemperatureUncertainty_K = 0.5;
/** Standard deviation of 0.005 in log K1. [PlummerBusenberg1982] */
const constantSigma_ln = 0.005 * Math.LN10;
const brackish_molPerL = 0.1;

/**
 * Standard deviation of ln(KH) for a test kit: that of the log-normal distribution with the kit's relative standard
 * uncertainty. Where that is many times the reading, the true hardness may lie anywhere from none to a few of the kit's
 * uncertainties, and the upper end must not fall below those: not below the 90 % quantile that a normal distribution has
 * at the utmost when it cannot be negative.
 */
function hardnessSigma_ln(relative: number): number {
  const logNormal = Math.sqrt(Math.log(1 + relative * relative));
  return relative <= 5
    ? logNormal
    : Math.max(logNormal, Math.log(1 + normalQuantile90 * relative) / normalQuantile80);
}

/** Error of the Davies equation in ln of the CO2: 1 % in fresh water, 5 % at 0.5 mol/L. */
function activitySigma_ln(ionicStrength_molPerL: number): number {
  return 0.01 + 0.08 * ionicStrength_molPerL;
}

function cautionsOf(
  reading: HardnessReading,
  khUncertainty_dKH: number,
  ionicStrength_molPerL: number,
): readonly HardnessCaution[] {
  const cautions: HardnessCaution[] = [];
  if (khUncertainty_dKH >= reading.kh_dKH) cautions.push("kh within its uncertainty");
  if (ionicStrength_molPerL > brackish_molPerL) cautions.push("brackish");
  if (reading.pH > 8.3) cautions.push("hardly any co2");
  return cautions;
}

/**
 * Free CO2 of a tank from its pH and carbonate hardness, mg/L, with an 80 % interval.
 * Carbonate equilibrium with Davies activities at the water's ionic strength (from conductivity, from salinity, or assumed with
 * its part in the uncertainty). The uncertainties are taken as log-normal, since a tenth of a pH unit is a factor. Right only
 * where carbonate makes the alkalinity: humic acids, phosphate and borate make it read high (see other-bases.ts).
 * @param reading  pH 4 to 10, 0.1 to 40 dKH, 0 to 45 degC; conductivity up to 35 000 uS/cm or salinity up to 20 g/kg.
 * @throws OutOfValidRangeError outside of these, or when the hardness is less than the hydroxide at this pH.
 * @see [PlummerBusenberg1982] for K1 and K2, [Davies1962] for the activities, [GriffinJurinak1973] for conductivity.
 */
export function co2FromHardness(reading: HardnessReading): HardnessEstimate {
  const phUncertainty = reading.phUncertainty ?? defaultPhUncertainty;
  const khUncertainty_dKH = reading.khUncertainty_dKH ?? defaultKhUncertainty_dKH;
  const temperatureUncertainty_K = reading.temperatureUncertainty_K ?? defaultTemperatureUncertainty_K;
  assertInRange(reading.pH, hardnessRanges.pH);
  assertInRange(reading.kh_dKH, hardnessRanges.kh_dKH);
  assertInRange(reading.temperature_degC, hardnessRanges.temperature_degC);
  assertInRange(phUncertainty, hardnessRanges.phUncertainty);
  assertInRange(khUncertainty_dKH, hardnessRanges.khUncertainty_dKH);
  assertInRange(temperatureUncertainty_K, hardnessRanges.temperatureUncertainty_K);

  const alkalinity_meqPerL = alkalinityFromKh_meqPerL(reading.kh_dKH);
  const { ionicStrength_molPerL, sigma_ln } = tankIonicStrength(alkalinity_meqPerL, reading);
  const { co2_mgPerL } = speciationOf(reading, reading.temperature_degC, ionicStrength_molPerL);
  const warmer_degC = Math.min(reading.temperature_degC + 1, 50);
  const warmer = speciationOf(reading, warmer_degC, ionicStrength_molPerL);
  const saltier = speciationOf(reading, reading.temperature_degC, Math.min(ionicStrength_molPerL * 1.1, 0.5));
  const ofTemperature_ln = Math.log(warmer.co2_mgPerL / co2_mgPerL) * temperatureUncertainty_K;
  const ofSalts_ln = (Math.log(saltier.co2_mgPerL / co2_mgPerL) / Math.log(1.1)) * sigma_ln;
  const ownSigma_ln = Math.hypot(
    hardnessSigma_ln(khUncertainty_dKH / reading.kh_dKH),
    ofTemperature_ln,
    ofSalts_ln,
    activitySigma_ln(ionicStrength_molPerL),
    constantSigma_ln,
  );
  const factor = Math.exp(normalQuantile80 * Math.hypot(phUncertainty * Math.LN10, ownSigma_ln));
  return {
    co2_mgPerL,
    co2Low80_mgPerL: co2_mgPerL / factor,
    co2High80_mgPerL: co2_mgPerL * factor,
    ruleOfThumb_mgPerL: ruleOfThumbCo2_mgPerL(reading),
    ruleOfThumbError_ratio: ruleOfThumbError_ratio(reading, co2_mgPerL),
    ionicStrength_molPerL,
    ownSigma_ln,
    cautions: cautionsOf(reading, khUncertainty_dKH, ionicStrength_molPerL),
  };
}

/**
 * The same as evidence to be weighed with that of other methods. The pH enters with its full slope; its uncertainty is the
 * probe's and is left to whoever fuses.
 * @throws OutOfValidRangeError as co2FromHardness
 */
export function hardnessEvidence(reading: Omit<HardnessReading, "phUncertainty">): Co2Evidence {
  const { co2_mgPerL, ownSigma_ln } = co2FromHardness(reading);
  return {
    method: "carbonate hardness",
    co2_mgPerL,
    ownSigma_ln,
    probeOffset_lnPerPh: -Math.LN10,
    probeReading_lnPerPh: -Math.LN10,
    reach: "about",
  };
}

/** The hardness is what the caller knows: a refusal names it, not the alkalinity it stands for. */
function speciationOf(
  reading: HardnessReading,
  temperature_degC: number,
  ionicStrength_molPerL: number,
): { readonly co2_mgPerL: number } {
  try {
    return carbonateSpeciation({
      pH: reading.pH,
      alkalinity_meqPerL: alkalinityFromKh_meqPerL(reading.kh_dKH),
      temperature_degC,
      ionicStrength_molPerL,
    });
  } catch (error) {
    if (!(error instanceof OutOfValidRangeError) || error.quantity !== "alkalinity") throw error;
    const { quantity, unit, maximum } = hardnessRanges.kh_dKH;
    const minimum = error.minimum / alkalinityFromKh_meqPerL(1);
    throw new OutOfValidRangeError(quantity, reading.kh_dKH, unit, minimum, maximum);
  }
}
