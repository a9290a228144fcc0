import { describe, expect, it } from "vitest";
import { JournalMemory } from "../../../../daemon/journal/journal-memory.js";
import { createProbeCorrections } from "../../../../daemon/tank/probe-corrections.js";
import type { SensorModel } from "../../../../daemon/site-model.js";
import type { JournalEntry } from "../../../../lib/journal/journal-entry.js";
import { benchYaml, modelOf } from "../../../support/control-bench.js";

const hour_ms = 3_600_000;
const begin_epochMs = Date.UTC(2026, 4, 1);
const at = (hour: number): number => begin_epochMs + hour * hour_ms;

/** Calibrations by when they were entered and how much too high the probe showed in both buffers. */
function entriesOf(
  ...rows: readonly (readonly [hour: number, shift: number, source: JournalEntry["source"]])[]
): { readonly memory: JournalMemory; readonly entries: readonly JournalEntry[] } {
  const memory = new JournalMemory();
  const entries = rows.map(([hour, shift, source], index): JournalEntry => ({
    entryId: index + 1,
    at_epochMs: at(hour),
    enteredAt_epochMs: at(hour),
    source,
    note: "",
    fact: {
      kind: "calibration",
      sensorId: "loach-ph",
      buffers: [
        { buffer: "7.00", shown: 7 + shift, temperature_degC: 25 },
        { buffer: "4.01", shown: 4.01 + shift, temperature_degC: 25 },
      ],
    },
    withdrawn: false,
  }));
  for (const entry of entries) memory.add(entry);
  return { memory, entries };
}

const sensor: SensorModel = modelOf(benchYaml).sensors.get("loach-ph")!;
/** What is held against the limits while the probe's present correction makes this pH of what it shows. */
const doubtOf = (memory: JournalMemory, pH: number, hour: number) =>
  createProbeCorrections(memory).phBefore(sensor, pH, at(hour));

describe("a change of a probe's correction that shows less CO2", () => {
  it("by a calibration is doubted for a day", () => {
    const { memory } = entriesOf([0, 0, "local"], [100, -0.4, "local"]);
    expect(doubtOf(memory, 7, 101)).toMatchObject({ because: "changed within a day" });
    expect(doubtOf(memory, 7, 101)!.pH).toBeCloseTo(6.6, 2);
    expect(doubtOf(memory, 7, 125)).toBeUndefined();
  });

  it("by the withdrawal of one is doubted for a day from the withdrawal", () => {
    const { memory, entries } = entriesOf([0, 0, "local"], [10, 0.4, "local"]);
    expect(doubtOf(memory, 6.6, 50)).toBeUndefined();
    memory.withdraw(entries[1]!, at(100));
    expect(doubtOf(memory, 7, 101)!.pH).toBeCloseTo(6.6, 2);
    expect(doubtOf(memory, 7, 123.9)!.pH).toBeCloseTo(6.6, 2);
    expect(doubtOf(memory, 7, 124.1)).toBeUndefined();
  });

  it("is held against the lowest pH of all that stood within the day", () => {
    const { memory, entries } = entriesOf([0, 0, "local"], [100, 0.6, "local"], [101, 0.3, "local"]);
    memory.withdraw(entries[1]!, at(102));
    memory.withdraw(entries[2]!, at(103));
    expect(doubtOf(memory, 7, 104)!.pH).toBeCloseTo(6.4, 2);
  });

  it("that shows more CO2, or hardly less, is believed at once", () => {
    expect(doubtOf(entriesOf([0, 0, "local"], [100, 0.4, "local"]).memory, 7, 101)).toBeUndefined();
    expect(doubtOf(entriesOf([0, 0, "local"], [100, -0.1, "local"]).memory, 7, 101)).toBeUndefined();
  });

  it("from afar is doubted until a calibration at the daemon's own machine confirms it", () => {
    const { memory } = entriesOf([0, 0, "local"], [100, -0.4, "remote"]);
    expect(doubtOf(memory, 7, 400)).toMatchObject({ because: "entered from afar" });
    expect(doubtOf(memory, 7, 400)!.pH).toBeCloseTo(6.6, 2);
    const confirmed = entriesOf([0, 0, "local"], [100, -0.4, "remote"], [110, -0.4, "local"]);
    expect(doubtOf(confirmed.memory, 7, 400)).toBeUndefined();
  });

  it("in many small steps from afar does not add up to trust", () => {
    const { memory } = entriesOf([0, 0, "local"], [100, -0.15, "remote"], [200, -0.3, "remote"]);
    expect(doubtOf(memory, 7, 400)!.pH).toBeCloseTo(6.7, 2);
  });
});
