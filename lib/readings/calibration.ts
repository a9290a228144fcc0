import { OutOfValidRangeError } from "../errors.js";
import { faraday_CPerMol, gasConstant_JPerMolK } from "../quantities/physical-constants.js";
import { kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";

/** true = gain x raw + offset, both in one unit. */
export interface LinearCalibration {
  readonly gain: number;
  readonly offset: number;
}

/** What the sensor showed, and what a buffer, a bath or a reference instrument says it was. */
export interface CalibrationPoint {
  readonly raw: number;
  readonly true: number;
}

export type TwoPoints = readonly [CalibrationPoint, CalibrationPoint];

/** Beyond these a calibration is a typing mistake, whatever the sensor gives (volts, counts or the quantity itself). */
const smallestGain = 1e-6;
const largestGain = 1e6;

/**
 * The calibration through two points.
 * @throws OutOfValidRangeError when a number is not finite, or the two raw or the two true values coincide, so that no line, or a
 * line that ignores the sensor, goes through them.
 */
export function twoPointCalibration([first, second]: TwoPoints): LinearCalibration {
  const gain = (second.true - first.true) / (second.raw - first.raw);
  assertGain(gain);
  return { gain, offset: first.true - gain * first.raw };
}

/**
 * @throws OutOfValidRangeError for a gain that is no number or whose size is not 1e-6 to 1e6.
 */
export function assertGain(gain: number): void {
  const size = Math.abs(gain);
  if (!(size >= smallestGain && size <= largestGain)) {
    throw new OutOfValidRangeError("size of the calibration's gain", size, "", smallestGain, largestGain);
  }
}

export function calibrated(raw: number, calibration: LinearCalibration): number {
  return calibration.gain * raw + calibration.offset;
}

/**
 * Ideal (Nernst) slope of a pH electrode, mV per pH: ln(10) R T / F, 59.16 at 25 degC.
 * @param temperature_degC  0 to 100, liquid water.
 * @throws OutOfValidRangeError outside that range.
 * @see [Buck2002] [CODATA2018]
 */
export function nernstSlope_mVPerPH(temperature_degC: number): number {
  assertInRange(temperature_degC, { quantity: "temperature", unit: "degC", minimum: 0, maximum: 100 });
  return (1000 * Math.LN10 * gasConstant_JPerMolK * kelvinFromCelsius(temperature_degC)) / faraday_CPerMol;
}

/**
 * The slope of a pH electrode as a ratio of the ideal one, from two buffers; information for the keeper, it changes no reading.
 * Raw values may be pH, from a meter that computes with the ideal slope, or mV (falling with pH). Undefined when they are
 * neither, as with volts of an amplifier of unknown gain.
 * @param temperature_degC  of both buffers, 0 to 100; matters for mV only.
 * @throws OutOfValidRangeError as `twoPointCalibration` and `nernstSlope_mVPerPH` do.
 * @see [Buck2002]
 */
export function electrodeSlope_ratio(points: TwoPoints, temperature_degC: number): number | undefined {
  const rawPerPH = 1 / twoPointCalibration(points).gain;
  if (rawPerPH >= 0.4 && rawPerPH <= 1.6) return rawPerPH;
  const ratio = -rawPerPH / nernstSlope_mVPerPH(temperature_degC);
  return ratio >= 0.4 && ratio <= 1.6 ? ratio : undefined;
}
