import type { BufferReading } from "../journal/journal-entry.js";
import { kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";

export type BufferName = BufferReading["buffer"];

const temperatureRange = { quantity: "temperature of the buffer", unit: "degC", minimum: 0, maximum: 50 };

/** Every 5 degC from 0 to 50. */
const tableStep_degC = 5;
const tables = {
  // Equimolal phosphate, 0.025 mol/kg each; DIN 19266, the primary standard of [Buck2002]; third decimals from memory.
  "6.86": [6.984, 6.951, 6.923, 6.9, 6.881, 6.865, 6.853, 6.844, 6.838, 6.834, 6.833],
  // Borax 0.01 mol/kg; the same.
  "9.18": [9.464, 9.395, 9.332, 9.276, 9.225, 9.18, 9.139, 9.102, 9.068, 9.038, 9.011],
  // Technical phosphate, as an analyser's manual prints it; makers differ by some 0.02.
  "7.00": [7.12, 7.09, 7.06, 7.04, 7.02, 7.0, 6.99, 6.99, 6.98, 6.98, 6.97],
  // Carbonate 0.025 mol/L each; the same.
  "10.01": [10.32, 10.25, 10.18, 10.12, 10.06, 10.01, 9.97, 9.93, 9.89, 9.86, 9.83],
} as const;

/**
 * How far a bottle on a shelf may be from the table, as a standard deviation in pH: makers state 0.01 to 0.02, and the alkaline
 * ones take up CO2 from the air. From memory.
 */
const bottleSigma = { "4.01": 0.01, "6.86": 0.01, "7.00": 0.015, "9.18": 0.03, "10.01": 0.04 } as const;

/** pH(S) of potassium hydrogen phthalate, 0.05 mol/kg. [Hetzer1977] */
function phthalatePh(temperature_degC: number): number {
  const T = kelvinFromCelsius(temperature_degC);
  return 2073.44 / T - 13.327 + 0.045199 * T - 3.4846e-5 * T * T;
}

function interpolated(table: readonly number[], temperature_degC: number): number {
  const place = temperature_degC / tableStep_degC;
  const index = Math.min(Math.floor(place), table.length - 2);
  const low = table[index] ?? Number.NaN;
  const high = table[index + 1] ?? Number.NaN;
  return low + (place - index) * (high - low);
}

/**
 * pH of a calibration buffer at its own temperature: phthalate by equation, the others by table, straight between the rows.
 * The bottle's own table goes before these where it has one: technical buffers (7.00, 10.01) differ by maker.
 * @param temperature_degC  0 to 50.
 * @throws OutOfValidRangeError outside that range.
 * @see [Hetzer1977] for 4.01, [Buck2002] for 6.86 and 9.18. Reference values: test/reference/buffer-*.json
 */
export function bufferPh(buffer: BufferName, temperature_degC: number): number {
  assertInRange(temperature_degC, temperatureRange);
  return buffer === "4.01" ? phthalatePh(temperature_degC) : interpolated(tables[buffer], temperature_degC);
}

/** Standard uncertainty of a buffer as kept at home, in pH. */
export function bufferPhSigma(buffer: BufferName): number {
  return bottleSigma[buffer];
}
