import { describe, expect, it } from "vitest";
import { packReadings } from "../../../../daemon/store/packed-readings.js";
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
    const packed = structuredClone(packReadings(readings));
    expect(packed.series).toHaveLength(3);
    const rows = Array.from(packed.seriesIndices, (index, row) => ({
      ...packed.series[index],
      value: packed.values[row],
      at_epochMs: packed.instants_epochMs[row],
    }));
    expect(rows).toEqual(readings);
    expect(packReadings([]).values).toHaveLength(0);
  });
});
