import {
  alkalinityFromCarbonDioxide_meqPerL,
  carbonateSpeciation,
} from "../chemistry/carbonate-speciation.js";
import type { DegassingMethod } from "../journal/journal-entry.js";
import { normalQuantile80 } from "../numerics/normal-distribution.js";
import { alkalinityFromKh_meqPerL } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";
import { airEquilibriumCo2_mgPerL } from "./air-equilibrium.js";
import type { Co2Evidence } from "./co2-evidence.js";
import type { TankCo2 } from "./co2-from-hardness.js";
import { tankIonicStrength, type WaterSalts } from "./ionic-strength.js";
import { otherBasesCharge_meqPerL, type OtherBases } from "./other-bases.js";

/** The pH that the tank's water showed without the CO2 that was dosed, by the same probe. */
export interface DegassedBaseline {
  readonly pH: number;
  readonly how: DegassingMethod;
  /** Of the air it was degassed with, where a room monitor tells. */
  readonly roomCo2_ppm?: number;
  /** Of the sample; that of the tank where nothing is said. */
  readonly temperature_degC?: number;
  /** Standard uncertainty of reading it, offset apart. */
  readonly phUncertainty?: number;
}

export interface PhDropReading extends WaterSalts {
  readonly pH: number;
  readonly temperature_degC: number;
  readonly baseline: DegassedBaseline;
  /** The probe was calibrated anew since the baseline: its offset no longer cancels. */
  readonly isRecalibratedSince?: boolean;
  /** Standard uncertainty of the present pH: noise and drift since the baseline, or the whole offset after a calibration. */
  readonly phUncertainty?: number;
  /** Phosphate and the like, where they are known: they take up CO2's acid on the way down and make the drop smaller. */
  readonly bases?: OtherBases;
  /** Standard uncertainty of the probe's slope, of which the drop takes its share. */
  readonly slopeUncertainty_ratio?: number;
}

export interface PhDropEstimate extends TankCo2 {
  readonly phDrop: number;
  readonly degassedCo2_mgPerL: number;
  /** Standard deviation of the logarithm of degassedCo2_mgPerL, the weak link of the method. */
  readonly degassedSigma_ln: number;
  /** The hardness that the baseline implies; far from the tested one, either is wrong or acids other than CO2 are at work. */
  readonly impliedKh_dKH: number;
  readonly ownSigma_ln: number;
}

/**
 * What each way of degassing leaves in the water, as a multiple of the equilibrium with the room's air, and the standard
 * deviation of its logarithm. A first-order loss: an airstone in a glass works at 3 to 10 per hour, a still glass at about 0.2. Common
 * practice, no source.
 */
const leftBehind: Readonly<
  Record<DegassingMethod, { readonly multiple: number; readonly sigma_ln: number }>
> = {
  "aerated a day": { multiple: 1, sigma_ln: 0.05 },
  "aerated an hour": { multiple: 1.3, sigma_ln: 0.25 },
  "stood in a glass": { multiple: 2.2, sigma_ln: 0.5 },
  "not known": { multiple: 2, sigma_ln: 0.7 },
};

/** A lived-in room whose air nobody measured: 80 % of them between 450 and 1100 ppm. Common practice, no source. */
const unknownRoom = { co2_ppm: 700, sigma_ln: 0.35 } as const;
/** A room monitor's own error. */
const monitorSigma_ln = 0.05;
/** The sample had cooled or not: 2 K at 1.5 % each. */
const unknownTemperatureSigma_ln = 0.03;

const defaults = {
  baselinePhUncertainty: 0.03,
  phUncertainty: 0.03,
  recalibratedPhUncertainty: 0.05,
  slopeUncertainty_ratio: 0.02,
} as const;

const ranges = {
  pH: { quantity: "pH", unit: "", minimum: 4, maximum: 10 },
  baselinePh: { quantity: "degassed pH", unit: "", minimum: 4, maximum: 10 },
  temperature: { quantity: "temperature", unit: "degC", minimum: 0, maximum: 40 },
  phUncertainty: { quantity: "pH uncertainty", unit: "", minimum: 0, maximum: 1 },
  slopeUncertainty: { quantity: "slope uncertainty", unit: "", minimum: 0, maximum: 0.2 },
  alkalinity: { quantity: "alkalinity by the degassed pH", unit: "meq/L", minimum: 0.001, maximum: 20 },
} as const;

/**
 * CO2 that a degassed sample still holds, mg/L, as a log-normal distribution.
 * @param sample.temperature_degC  0 to 40
 * @param sample.roomCo2_ppm  200 to 40 000; undefined for a room that nobody measured
 * @throws OutOfValidRangeError outside these ranges
 * @see [Weiss1974] for the equilibrium with air; how far a sample stays from it: common practice, no source
 */
export function degassedCo2(sample: {
  readonly how: DegassingMethod;
  readonly temperature_degC: number;
  readonly roomCo2_ppm?: number | undefined;
}): { readonly co2_mgPerL: number; readonly sigma_ln: number } {
  const { multiple, sigma_ln } = leftBehind[sample.how];
  const roomCo2_ppm = sample.roomCo2_ppm ?? unknownRoom.co2_ppm;
  const roomSigma_ln = sample.roomCo2_ppm === undefined ? unknownRoom.sigma_ln : monitorSigma_ln;
  const { temperature_degC } = sample;
  return {
    co2_mgPerL: multiple * airEquilibriumCo2_mgPerL({ temperature_degC, roomCo2_ppm }),
    sigma_ln: Math.hypot(sigma_ln, roomSigma_ln),
  };
}

/**
 * Free CO2 of a tank from how far its pH stands below that of the same water without the dosed CO2, mg/L, with an 80 %
 * interval. The degassed CO2 and pH give the alkalinity, and that with the present pH the CO2, at the temperature of each: the
 * constant K1 all but cancels, the hardness is not asked for. The probe's offset cancels too, unless it was calibrated anew
 * between. Acid that came into the water since the baseline (nitrification, a change of water) reads as CO2. A phosphate buffer
 * that is not told makes it read far too low: 13 for 30 mg/L at 100 mg/L of phosphate and 4 dKH.
 * @param reading  pH 4 to 10, 0 to 40 degC
 * @throws OutOfValidRangeError outside these, or where the baseline implies an alkalinity outside 0.001 to 20 meq/L
 * @see [PlummerBusenberg1982], [Davies1962], [Weiss1974], [Wagman1982], [Oliver1983]
 */
export function co2FromPhDrop(reading: PhDropReading): PhDropEstimate {
  const { baseline, temperature_degC } = reading;
  const isRecalibratedSince = reading.isRecalibratedSince ?? false;
  const baselinePhUncertainty = baseline.phUncertainty ?? defaults.baselinePhUncertainty;
  const phUncertainty =
    reading.phUncertainty ??
    (isRecalibratedSince ? defaults.recalibratedPhUncertainty : defaults.phUncertainty);
  const slopeUncertainty_ratio = reading.slopeUncertainty_ratio ?? defaults.slopeUncertainty_ratio;
  assertInRange(reading.pH, ranges.pH);
  assertInRange(baseline.pH, ranges.baselinePh);
  assertInRange(temperature_degC, ranges.temperature);
  assertInRange(phUncertainty, ranges.phUncertainty);
  assertInRange(baselinePhUncertainty, ranges.phUncertainty);
  assertInRange(slopeUncertainty_ratio, ranges.slopeUncertainty);

  const sample_degC = baseline.temperature_degC ?? temperature_degC;
  const { how, roomCo2_ppm } = baseline;
  const degassed = degassedCo2({ how, temperature_degC: sample_degC, roomCo2_ppm });
  const { alkalinity_meqPerL, ionicStrength_molPerL } = waterOf(reading, sample_degC, degassed.co2_mgPerL);
  const bases = reading.bases ?? {};
  const takenUp_meqPerL =
    otherBasesCharge_meqPerL(
      { pH: baseline.pH, temperature_degC: sample_degC, ionicStrength_molPerL },
      bases,
    ) - otherBasesCharge_meqPerL({ pH: reading.pH, temperature_degC, ionicStrength_molPerL }, bases);
  const { co2_mgPerL } = carbonateSpeciation({
    pH: reading.pH,
    alkalinity_meqPerL: alkalinity_meqPerL + takenUp_meqPerL,
    temperature_degC,
    ionicStrength_molPerL,
  });

  const phDrop = baseline.pH - reading.pH;
  const ownSigma_ln = Math.hypot(
    degassed.sigma_ln,
    Math.LN10 * baselinePhUncertainty,
    // A baseline from before a calibration keeps the old offset.
    isRecalibratedSince ? Math.LN10 * defaults.recalibratedPhUncertainty : 0,
    Math.LN10 * phDrop * slopeUncertainty_ratio,
    baseline.temperature_degC === undefined ? unknownTemperatureSigma_ln : 0,
  );
  const factor = Math.exp(normalQuantile80 * Math.hypot(ownSigma_ln, Math.LN10 * phUncertainty));
  return {
    co2_mgPerL,
    co2Low80_mgPerL: co2_mgPerL / factor,
    co2High80_mgPerL: co2_mgPerL * factor,
    phDrop,
    degassedCo2_mgPerL: degassed.co2_mgPerL,
    degassedSigma_ln: degassed.sigma_ln,
    impliedKh_dKH: alkalinity_meqPerL / alkalinityFromKh_meqPerL(1),
    ownSigma_ln,
  };
}

/**
 * The same as evidence to be weighed with that of other methods. The probe's noise and drift since the baseline are left to
 * whoever fuses.
 * @throws OutOfValidRangeError as co2FromPhDrop
 */
export function phDropEvidence(reading: Omit<PhDropReading, "phUncertainty">): Co2Evidence {
  const { co2_mgPerL, ownSigma_ln } = co2FromPhDrop(reading);
  return {
    method: "pH drop",
    co2_mgPerL,
    ownSigma_ln,
    probeOffset_lnPerPh: reading.isRecalibratedSince === true ? -Math.LN10 : 0,
    probeReading_lnPerPh: -Math.LN10,
    reach: "about",
  };
}

/** The alkalinity by the baseline and the ionic strength that goes with it, each from the other once over. */
function waterOf(
  reading: PhDropReading,
  sample_degC: number,
  degassed_mgPerL: number,
): { readonly alkalinity_meqPerL: number; readonly ionicStrength_molPerL: number } {
  const alkalinityAt = (ionicStrength_molPerL: number): number => {
    const alkalinity_meqPerL = alkalinityFromCarbonDioxide_meqPerL({
      pH: reading.baseline.pH,
      co2_mgPerL: degassed_mgPerL,
      temperature_degC: sample_degC,
      ionicStrength_molPerL,
    });
    assertInRange(alkalinity_meqPerL, ranges.alkalinity);
    return alkalinity_meqPerL;
  };
  const first = alkalinityAt(tankIonicStrength(1, reading).ionicStrength_molPerL);
  const { ionicStrength_molPerL } = tankIonicStrength(first, reading);
  return { alkalinity_meqPerL: alkalinityAt(ionicStrength_molPerL), ionicStrength_molPerL };
}
