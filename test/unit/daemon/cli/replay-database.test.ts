import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { replayDatabaseCommand } from "../../../../daemon/cli/replay-database.js";
import { columnsOfFact } from "../../../../daemon/journal/stored-fact.js";
import { storeBench, type StoreBench } from "../../../support/sqlite-store-bench.js";
import { SupplyBench, supplyYaml } from "../../../support/supply-bench.js";

type Line = Record<string, unknown>;
let bench: StoreBench;
let config: string;

beforeEach(() => {
  bench = storeBench();
  config = join(bench.folder, "site.yaml");
});
afterEach(() => bench.clear());

/** A vessel's days, seen by a tracker and kept by a store as the daemon keeps them. */
async function lived(
  yaml: string,
  days: number,
  gaugeDays: readonly number[] = [],
  leak_gPerDay = 0,
): Promise<SupplyBench> {
  writeFileSync(config, yaml);
  const store = bench.make({ batch_s: 1 });
  await store.start();
  const vessel = new SupplyBench({ startAt: "2026-02-03T00:00:00+01:00", yaml });
  vessel.leak_gPerH = leak_gPerDay / 24;
  const hasSensor = vessel.site.vessels.get("cellar")?.pressureSensor !== undefined;
  let wasOpen: boolean | undefined;
  for (let minute = 0; minute < days * 1440; minute += 4) {
    const at_epochMs = vessel.now_epochMs;
    const isOpen = vessel.isOpen();
    if (isOpen !== wasOpen) {
      const what = `${wasOpen === undefined ? "commanded" : "reports"} ${isOpen ? "open" : "closed"}`;
      wasOpen = isOpen;
      await store.recordEvent({
        at_epochMs,
        area: "valve",
        subject: "outlet",
        what,
        reason: "",
        details: {},
      });
    }
    if (hasSensor) {
      const quantity = "pressureGauge_bar";
      store.appendReading({ sensorId: "cellar-gauge", quantity, value: vessel.gauge_bar, at_epochMs });
      store.appendReading({
        sensorId: "cellar-temperature",
        quantity: "temperature_degC",
        value: 20,
        at_epochMs,
      });
    }
    if (minute > 0 && minute % 1440 === 0 && gaugeDays.includes(minute / 1440)) {
      const entryId = vessel.readGauge();
      const { fact } = vessel.journal.find(entryId)!;
      await store.keepJournalRow({
        at_epochMs,
        enteredAt_epochMs: at_epochMs,
        source: "local",
        note: "",
        ...columnsOfFact(fact),
      });
    }
    vessel.hours(4 / 60, 4);
  }
  await store.stop();
  return vessel;
}

async function replayed(
  options: Line = {},
): Promise<{ readonly code: number; readonly lines: readonly Line[] }> {
  const written: string[] = [];
  const code = await replayDatabaseCommand(
    undefined,
    bench.file,
    { config, vessel: "cellar", ndjson: true, ...options },
    (line) => written.push(line),
  );
  return { code, lines: written.map((line) => JSON.parse(line) as Line) };
}

describe("replay of the daemon's own store", () => {
  it("says what the daemon said, from the readings and the valve's reports that it kept", async () => {
    const vessel = await lived(supplyYaml(), 3);
    const { code, lines } = await replayed();
    expect(code).toBe(0);
    const last = lines.at(-1)!;
    const { remaining, runOut } = vessel.told.estimate;
    expect(last["co2Remaining_g"] as number).toBeCloseTo(remaining.value_g, 0);
    expect(last["phase"]).toBe("dosing");
    const median_epochMs = Date.parse((last["runOut"] as Line)["median"] as string);
    const left_ms = runOut.median_epochMs - vessel.now_epochMs;
    expect(Math.abs(median_epochMs - runOut.median_epochMs)).toBeLessThan(0.1 * left_ms);
    // An object for every hour of three days.
    expect(lines.length).toBeGreaterThanOrEqual(71);
  });

  it("gives the warnings that the daemon gave, of a leak too", async () => {
    const vessel = await lived(supplyYaml(), 3, [], 6);
    expect(vessel.told.estimate.warnings.map(({ id }) => id)).toContain("leak-while-closed");
    const { lines } = await replayed();
    expect(lines.at(-1)!["warnings"]).toContain("leak-while-closed");
    expect(lines[5]!["warnings"]).not.toContain("leak-while-closed");
  });

  it("takes gauges that were read by eye from the journal", async () => {
    const vessel = await lived(supplyYaml({ sensors: false }), 4, [1, 3]);
    const { lines } = await replayed();
    const { remaining } = vessel.told.estimate;
    expect(lines.at(-1)!["co2Remaining_g"] as number).toBeCloseTo(remaining.value_g, 0);
    const [low, high] = lines.at(-1)!["co2Remaining80_g"] as readonly number[];
    expect(low).toBeCloseTo(remaining.low80_g, 0);
    expect(high).toBeCloseTo(remaining.high80_g, 0);
  });

  it("says what is missing, in words and as an object", async () => {
    writeFileSync(config, supplyYaml());
    const missing = await replayed();
    expect(missing.code).toBe(1);
    expect((missing.lines[0]?.["error"] as Line)["message"]).toContain(bench.file);
    const other = await replayed({ vessel: "attic" });
    expect((other.lines[0]?.["error"] as Line)["message"]).toContain("cellar");
    const unnamed = await replayed({ config: undefined });
    expect((unnamed.lines[0]?.["error"] as Line)["message"]).toContain("--config");
    const store = bench.make({ batch_s: 1 });
    await store.start();
    await store.stop();
    const empty = await replayed();
    expect(empty.code).toBe(1);
    expect((empty.lines[0]?.["error"] as Line)["message"]).toContain("nothing of the charge");
    writeFileSync(bench.file, "not a database at all, but a text of some length ".repeat(20));
    const text = await replayed();
    expect(text.code).toBe(1);
  });
});
