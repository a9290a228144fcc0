import { describe, expect, it } from "vitest";
import { createRandomSource } from "../../../../lib/simulation/random-source.js";
import type { SensorFault } from "../../../../lib/simulation/simulated-fault.js";
import { readSensor } from "../../../../lib/simulation/simulated-sensor.js";
import type { SensorMemory, SensorModelSpec } from "../../../../lib/simulation/simulated-sensor.js";

const quiet: SensorModelSpec = { noise: 0, resolution: 0, driftPerDay: 0, dropout_ratio: 0 };
const fresh: SensorMemory = { startedAt_epochMs: 0, lastSent: undefined };
const day_ms = 86_400_000;

function rowOf(
  spec: SensorModelSpec,
  faults: readonly SensorFault[],
  { count = 1, truth = 7, at_epochMs = 0, memory = fresh, seed = 1 } = {},
) {
  const random = createRandomSource(seed);
  let kept: SensorMemory = memory;
  return Array.from({ length: count }, () => {
    const result = readSensor(spec, kept, { truth, at_epochMs, faults }, random);
    kept = result.memory;
    return result.sample.kind === "value" ? result.sample.value : undefined;
  });
}

describe("a healthy sensor", () => {
  it("sends the truth when it has no errors", () => {
    expect(rowOf(quiet, [])).toEqual([7]);
  });

  it("rounds to its last digit", () => {
    expect(rowOf({ ...quiet, resolution: 0.1 }, [], { truth: 6.5499 })).toEqual([6.5]);
  });

  it("creeps by its drift, day by day", () => {
    expect(rowOf({ ...quiet, driftPerDay: 0.01 }, [], { at_epochMs: 3 * day_ms })[0]).toBeCloseTo(7.03, 12);
  });

  it("scatters as its noise says", () => {
    const row = rowOf({ ...quiet, noise: 0.2 }, [], { count: 20_000 }).map(Number);
    const deviation = Math.sqrt(row.reduce((sum, x) => sum + (x - 7) ** 2, 0) / row.length);
    expect(Math.abs(deviation / 0.2 - 1)).toBeLessThan(0.03);
  });

  it("drops out as often as it is set to", () => {
    const row = rowOf({ ...quiet, dropout_ratio: 0.25 }, [], { count: 20_000 });
    const missing_ratio = row.filter((x) => x === undefined).length / row.length;
    expect(Math.abs(missing_ratio - 0.25)).toBeLessThan(0.015);
  });
});

describe("a faulty sensor", () => {
  const span = { sensorId: "loach-ph", onset_epochMs: 0 };

  it("says nothing when silent", () => {
    expect(rowOf(quiet, [{ ...span, kind: "sensor-silent" }], { count: 3 })).toEqual(
      Array(3).fill(undefined),
    );
  });

  it("repeats its last value to the last digit when stuck", () => {
    const memory = { startedAt_epochMs: 0, lastSent: 6.61 };
    const row = rowOf({ ...quiet, noise: 0.2 }, [{ ...span, kind: "sensor-stuck" }], { count: 3, memory });
    expect(row).toEqual([6.61, 6.61, 6.61]);
  });

  it("stays at its first value when it was stuck from the start", () => {
    const row = rowOf({ ...quiet, noise: 0.2 }, [{ ...span, kind: "sensor-stuck" }], { count: 3 });
    expect(new Set(row).size).toBe(1);
  });

  it("creeps from its onset on when it drifts, beside its own drift", () => {
    const onset_epochMs = 2 * day_ms;
    const drifts: SensorFault = { ...span, onset_epochMs, kind: "sensor-drifts", driftPerDay: 0.1 };
    const slow = { ...quiet, driftPerDay: 0.01 };
    expect(rowOf(slow, [drifts], { at_epochMs: onset_epochMs })[0]).toBeCloseTo(7.02, 12);
    expect(rowOf(slow, [drifts], { at_epochMs: 5 * day_ms })[0]).toBeCloseTo(7.35, 12);
  });

  it("sends the absurd value when implausible", () => {
    expect(rowOf(quiet, [{ ...span, kind: "sensor-implausible", value: -40 }])).toEqual([-40]);
  });

  it("spikes up and down in its share of the values", () => {
    const fault = { ...span, kind: "sensor-spikes", size: 3, spike_ratio: 0.1 } as const;
    const row = rowOf(quiet, [fault], { count: 10_000 }).map(Number);
    const up = row.filter((x) => x === 10).length;
    const down = row.filter((x) => x === 4).length;
    expect(row.filter((x) => x === 7).length + up + down).toBe(row.length);
    expect(Math.abs(up - 500)).toBeLessThan(100);
    expect(Math.abs(down - 500)).toBeLessThan(100);
  });

  it("uses up as much chance as a healthy one, so that a fault changes no other sensor", () => {
    const after = (faults: readonly SensorFault[]) => {
      const random = createRandomSource(5);
      readSensor({ ...quiet, noise: 1 }, fresh, { truth: 7, at_epochMs: 0, faults }, random);
      return random();
    };
    expect(after([{ ...span, kind: "sensor-silent" }])).toBe(after([]));
  });
});
