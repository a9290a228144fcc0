import type { StoredReading } from "../ports/site-store.js";

/** A batch of readings as columns: to clone two thousand objects takes the sender longer than everything else about them. */
export interface PackedReadings {
  readonly kind: "packed readings";
  /** Each pair of sensor and quantity once. */
  readonly series: readonly Pick<StoredReading, "sensorId" | "quantity">[];
  readonly seriesIndices: Uint32Array;
  readonly values: Float64Array;
  readonly instants_epochMs: Float64Array;
}

export function packReadings(readings: readonly StoredReading[]): PackedReadings {
  const series: Pick<StoredReading, "sensorId" | "quantity">[] = [];
  const known = new Map<string, number>();
  const seriesIndices = new Uint32Array(readings.length);
  const values = new Float64Array(readings.length);
  const instants_epochMs = new Float64Array(readings.length);
  for (const [row, { sensorId, quantity, value, at_epochMs }] of readings.entries()) {
    const key = `${quantity} ${sensorId}`;
    let index = known.get(key);
    if (index === undefined) {
      index = series.push({ sensorId, quantity }) - 1;
      known.set(key, index);
    }
    seriesIndices[row] = index;
    values[row] = value;
    instants_epochMs[row] = at_epochMs;
  }
  return { kind: "packed readings", series, seriesIndices, values, instants_epochMs };
}

/** @throws RangeError where a row belongs to no series. */
export function readingsFrom(packed: PackedReadings): readonly StoredReading[] {
  const { series, seriesIndices, values, instants_epochMs } = packed;
  return Array.from(values, (value, row): StoredReading => {
    const found = series[seriesIndices[row] ?? series.length];
    if (found === undefined) throw new RangeError(`row ${row} of the batch belongs to no series`);
    return { ...found, value, at_epochMs: instants_epochMs[row] ?? Number.NaN };
  });
}
