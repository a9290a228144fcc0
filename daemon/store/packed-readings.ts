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
  const known = new Map<string, Map<string, number>>();
  const seriesIndices = new Uint32Array(readings.length);
  const values = new Float64Array(readings.length);
  const instants_epochMs = new Float64Array(readings.length);
  for (const [row, { sensorId, quantity, value, at_epochMs }] of readings.entries()) {
    const ofSensor = known.get(sensorId) ?? new Map<string, number>();
    let index = ofSensor.get(quantity);
    if (index === undefined) {
      index = series.push({ sensorId, quantity }) - 1;
      known.set(sensorId, ofSensor.set(quantity, index));
    }
    seriesIndices[row] = index;
    values[row] = value;
    instants_epochMs[row] = at_epochMs;
  }
  return { kind: "packed readings", series, seriesIndices, values, instants_epochMs };
}
