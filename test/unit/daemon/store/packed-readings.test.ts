import { describe, expect, it } from "vitest";
import { packReadings, readingsFrom } from "../../../../daemon/store/packed-readings.js";
import type { StoredReading } from "../../../../daemon/ports/site-store.js";

describe("a batch of readings as columns", () => {
  it("comes out as it went in, through the cloning between two threads", () => {
    const readings: readonly StoredReading[] = [
      { sensorId: "loach-ph", quantity: "pH", value: 6.83, at_epochMs: 1_777_888_999_001 },
      { sensorId: "loach", quantity: "temperature_degC", value: -0, at_epochMs: 0 },
      { sensorId: "loach-ph", quantity: "pH", value: 1e-9, at_epochMs: 8_640_000_000_000_000 },
      // The same name with another quantity is another series.
      { sensorId: "loach", quantity: "pH", value: 7, at_epochMs: 5 },
    ];
    const packed = packReadings(readings);
    expect(packed.series).toHaveLength(3);
    expect(readingsFrom(structuredClone(packed))).toEqual(readings);
    expect(readingsFrom(packReadings([]))).toEqual([]);
  });

  it("is refused where a row belongs to no series", () => {
    const packed = packReadings([{ sensorId: "loach-ph", quantity: "pH", value: 7, at_epochMs: 5 }]);
    expect(() => readingsFrom({ ...packed, seriesIndices: Uint32Array.of(4) })).toThrow(/no series/);
  });
});
