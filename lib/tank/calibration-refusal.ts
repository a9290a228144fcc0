import type { BufferReading } from "../journal/journal-entry.js";

export type CalibrationRefusal =
  | "no buffer"
  | "one buffer, no slope known"
  | "not a number"
  | "temperature"
  | "temperatures differ"
  | "buffers too close"
  | "equal readings"
  | "buffers swapped"
  | "slope too steep"
  | "slope too flat"
  | "offset too large"
  | "not on a line";

export interface RefusedCalibration {
  readonly kind: "refused";
  readonly reason: CalibrationRefusal;
  /** What was found and what to do, for the person at the tank. */
  readonly explanation: string;
}

const bufferTemperature_degC = { minimum: 5, maximum: 45 };
const largestTemperatureGap_degC = 5;
/** No electrode exceeds the Nernst slope; some per cent are the buffers' and the reading's errors. */
const steepest_ratio = 1.08;
/** Under this the membrane tells buffers hardly apart: such a line would invent the pH. */
const flattest_ratio = 0.5;
/** A probe that moves less than this share of what it should was not in two buffers, or is dead. */
export const stuckSlope_ratio = 0.1;

/** A calibration that is not taken, with its reason. */
export function refused(reason: CalibrationRefusal, explanation: string): RefusedCalibration {
  return { kind: "refused", reason, explanation };
}

/** What is wrong with the readings by themselves, before any line is drawn; undefined where nothing is. */
export function readingsRefusal(buffers: readonly BufferReading[]): RefusedCalibration | undefined {
  if (buffers.length === 0) {
    return refused(
      "no buffer",
      "No buffer was read: put the probe in two, best 7 and 4, and give what it shows.",
    );
  }
  for (const { buffer, shown, temperature_degC } of buffers) {
    if (!Number.isFinite(shown) || !Number.isFinite(temperature_degC)) {
      return refused("not a number", `The reading in buffer ${buffer} or its temperature is not a number.`);
    }
    if (
      temperature_degC < bufferTemperature_degC.minimum ||
      temperature_degC > bufferTemperature_degC.maximum
    ) {
      const fahrenheit =
        temperature_degC > 45 && temperature_degC < 113 ? " Was it in degrees Fahrenheit?" : "";
      return refused(
        "temperature",
        `Buffer ${buffer} at ${String(temperature_degC)} degC: calibrate between 5 and 45, best near the tank's.${fahrenheit}`,
      );
    }
  }
  const temperatures = buffers.map(({ temperature_degC }) => temperature_degC);
  if (Math.max(...temperatures) - Math.min(...temperatures) > largestTemperatureGap_degC) {
    return refused(
      "temperatures differ",
      `The buffers differ by more than ${String(largestTemperatureGap_degC)} degC: let the bottles stand together and read them again.`,
    );
  }
  return undefined;
}

export function swappedBuffers(): RefusedCalibration {
  return refused(
    "buffers swapped",
    "The readings run against the buffers: they stand in the wrong order, or a wire of the probe is reversed.",
  );
}

export function equalReadings(): RefusedCalibration {
  return refused(
    "equal readings",
    "The probe showed nearly the same in all buffers: it was not moved over, has dried out, or is broken.",
  );
}

/** What is wrong with a slope, as a ratio of the ideal one; undefined where it can be used. */
export function slopeRefusal(ratio: number): RefusedCalibration | undefined {
  const percent = String(Math.round(100 * ratio));
  if (ratio < -stuckSlope_ratio) return swappedBuffers();
  if (ratio < stuckSlope_ratio) return equalReadings();
  if (ratio < flattest_ratio) {
    return refused(
      "slope too flat",
      `The slope is ${percent} % of the ideal one: too little to correct. Clean the probe, let it stand in storage solution over night, and read fresh buffers; if it stays so, replace it.`,
    );
  }
  if (ratio > steepest_ratio) {
    return refused(
      "slope too steep",
      `The slope is ${percent} % of the ideal one, which no probe reaches: a buffer is old, mixed up (6.86 for 7.00) or was read before it settled.`,
    );
  }
  return undefined;
}
