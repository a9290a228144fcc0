import Database from "better-sqlite3";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { allMigrations } from "../../../../daemon/store/migrations/all-migrations.js";
import { migrate } from "../../../../daemon/store/migrate.js";
import { Housekeeping, type Retention } from "../../../../daemon/store/retention.js";
import { packReadings } from "../../../../daemon/store/packed-readings.js";
import { SiteDatabase } from "../../../../daemon/store/site-database.js";
import type { StoredReading } from "../../../../daemon/ports/site-store.js";

const minute_ms = 60_000;
const day_ms = 1440 * minute_ms;
const begin_epochMs = Date.UTC(2026, 2, 1);
const retention: Retention = { raw_days: 14, oneMinute_days: 90, fifteenMinute_days: 1825 };

const open = async (kept: Retention = retention) => {
  const database = new Database(":memory:");
  await migrate(database, allMigrations);
  return {
    database,
    site: new SiteDatabase(database),
    housekeeping: new Housekeeping(database, kept, () => 0),
  };
};

const readingAt = (at_epochMs: number, value: number, sensorId = "loach-ph"): StoredReading => ({
  sensorId,
  quantity: "pH",
  value,
  at_epochMs,
});

const keepHouse = (housekeeping: Housekeeping, now_epochMs: number): number => {
  let deleted = 0;
  for (let more = true; more;) {
    const slice = housekeeping.slice(now_epochMs);
    deleted += slice.deletedRows;
    more = slice.more;
  }
  return deleted;
};

interface Bucket {
  readonly sensorId: string;
  readonly from_epochMs: number;
  readonly minimum: number;
  readonly mean: number;
  readonly maximum: number;
  readonly count: number;
}

const bucketsIn = (database: Database.Database, table: "oneMinute" | "fifteenMinute"): Bucket[] =>
  database
    .prepare(
      `SELECT sensorId, from_epochMs, minimum, mean, maximum, count FROM ${table} JOIN series USING (seriesId)
        ORDER BY from_epochMs, sensorId`,
    )
    .all() as Bucket[];

/** The same by plain arithmetic over the readings, apart from any database. */
const bucketsOf = (readings: readonly StoredReading[], width_ms: number, until: number): Bucket[] => {
  // The last reading of one sensor in one millisecond counts.
  const distinct = new Map(readings.map((r) => [`${r.sensorId} ${r.at_epochMs}`, r]));
  const groups = new Map<string, StoredReading[]>();
  for (const reading of distinct.values()) {
    const from = Math.floor(reading.at_epochMs / width_ms) * width_ms;
    if (from + width_ms > until) continue;
    const key = `${from} ${reading.sensorId}`;
    groups.set(key, [...(groups.get(key) ?? []), reading]);
  }
  return [...groups]
    .map(([key, group]) => {
      const values = group.map(({ value }) => value);
      return {
        sensorId: key.split(" ")[1]!,
        from_epochMs: Number(key.split(" ")[0]),
        minimum: Math.min(...values),
        mean: values.reduce((sum, value) => sum + value, 0) / values.length,
        maximum: Math.max(...values),
        count: values.length,
      };
    })
    .sort((a, b) => a.from_epochMs - b.from_epochMs || (a.sensorId < b.sensorId ? -1 : 1));
};

const expectSame = (found: readonly Bucket[], expected: readonly Bucket[]): void => {
  const exact = (buckets: readonly Bucket[]) => buckets.map((bucket) => ({ ...bucket, mean: undefined }));
  expect(exact(found)).toEqual(exact(expected));
  for (const [n, { mean }] of found.entries()) expect(mean).toBeCloseTo(expected[n]!.mean, 9);
};

describe("housekeeping", () => {
  it("rolls up what plain arithmetic gives, whatever the order, the gaps, the lateness and the interruptions", async () => {
    const readings = fc.array(
      fc.record({
        offset_s: fc.integer({ min: 0, max: 3 * 3600 }),
        value: fc.double({ min: 0.1, max: 40, noNaN: true }),
        sensorId: fc.constantFrom("a", "b"),
      }),
      { minLength: 1, maxLength: 60 },
    );
    // Each step writes a batch and then does only so many slices, as if the power went.
    const steps = fc.array(fc.record({ batch: readings, slices: fc.integer({ min: 0, max: 6 }) }), {
      minLength: 1,
      maxLength: 8,
    });
    await fc.assert(
      fc.asyncProperty(steps, async (script) => {
        const { database, site, housekeeping } = await open();
        const all: StoredReading[] = [];
        const now_epochMs = begin_epochMs + 4 * 3600 * 1000;
        for (const { batch, slices } of script) {
          const written = batch.map((r) => readingAt(begin_epochMs + r.offset_s * 1000, r.value, r.sensorId));
          site.write(packReadings(written));
          all.push(...written);
          for (let n = 0; n < slices; n++) housekeeping.slice(now_epochMs);
        }
        keepHouse(housekeeping, now_epochMs);
        const newest = Math.max(...all.map(({ at_epochMs }) => at_epochMs));
        const wholeMinutes = Math.floor(newest / minute_ms) * minute_ms;
        expectSame(bucketsIn(database, "oneMinute"), bucketsOf(all, minute_ms, wholeMinutes));
        expectSame(bucketsIn(database, "fifteenMinute"), bucketsOf(all, 15 * minute_ms, wholeMinutes));
        database.close();
      }),
      { seed: 3, numRuns: 150 },
    );
  });

  it("keeps each fineness as long as it is told and leaves the coarser rows whole", async () => {
    const { database, site, housekeeping } = await open({
      raw_days: 2,
      oneMinute_days: 5,
      fifteenMinute_days: 8,
    });
    const readings = Array.from({ length: 10 * 1440 }, (_, n) =>
      readingAt(begin_epochMs + n * minute_ms, n % 100),
    );
    site.write(packReadings(readings));
    const newest = readings.at(-1)!.at_epochMs;
    keepHouse(housekeeping, newest + 3 * minute_ms);
    const oldest = (table: string, column: string) =>
      (newest - Number(database.prepare(`SELECT min(${column}) FROM ${table}`).pluck().get())) / day_ms;
    for (const [table, column, kept_days] of [
      ["readings", "at_epochMs", 2],
      ["oneMinute", "from_epochMs", 5],
      ["fifteenMinute", "from_epochMs", 8],
    ] as const) {
      expect(oldest(table, column)).toBeGreaterThanOrEqual(kept_days);
      expect(oldest(table, column)).toBeLessThan(kept_days + 15 / 1440);
    }
    const counts = database.prepare("SELECT DISTINCT count FROM fifteenMinute").pluck().all();
    expect(counts).toEqual([15]);
  });

  it("does nothing the second time", async () => {
    const { database, site, housekeeping } = await open({ ...retention, raw_days: 1 });
    site.write(
      packReadings(Array.from({ length: 3 * 1440 }, (_, n) => readingAt(begin_epochMs + n * minute_ms, n))),
    );
    const now_epochMs = begin_epochMs + 3 * day_ms;
    expect(keepHouse(housekeeping, now_epochMs)).toBeGreaterThan(1440);
    const before = database.prepare("SELECT total_changes()").pluck().get();
    expect(housekeeping.slice(now_epochMs)).toEqual({ more: false, deletedRows: 0 });
    expect(database.prepare("SELECT total_changes()").pluck().get()).toBe(before);
  });

  it("does not delete the history because the clock jumped a century ahead", async () => {
    const { database, site, housekeeping } = await open();
    site.write(
      packReadings(Array.from({ length: 1440 }, (_, n) => readingAt(begin_epochMs + n * minute_ms, n))),
    );
    expect(keepHouse(housekeeping, Date.UTC(2126, 0, 1))).toBe(0);
    expect(database.prepare("SELECT count(*) FROM readings").pluck().get()).toBe(1440);
  });

  it("leaves a bucket alone whose readings are deleted already when a far too late one comes", async () => {
    const { database, site, housekeeping } = await open({ ...retention, raw_days: 1 });
    const readings = Array.from({ length: 3 * 1440 }, (_, n) => readingAt(begin_epochMs + n * minute_ms, 7));
    site.write(packReadings(readings));
    const now_epochMs = begin_epochMs + 3 * day_ms;
    keepHouse(housekeeping, now_epochMs);
    const before = bucketsIn(database, "fifteenMinute");
    site.write(packReadings([readingAt(begin_epochMs + 5 * minute_ms + 1, 99)]));
    keepHouse(housekeeping, now_epochMs);
    expect(bucketsIn(database, "fifteenMinute")).toEqual(before);
    expect(database.prepare("SELECT count(*) FROM readings WHERE value = 99").pluck().get()).toBe(0);
  });
});

describe("the reading history", () => {
  it("counts every reading once, wherever the borders between the tables lie", async () => {
    const { site, housekeeping } = await open({ raw_days: 2, oneMinute_days: 5, fifteenMinute_days: 30 });
    const days = 12;
    const perDay = 1440 * 2;
    const readings = Array.from({ length: days * perDay }, (_, n) =>
      readingAt(begin_epochMs + n * 30_000, n),
    );
    const now_epochMs = begin_epochMs + 11.5 * day_ms;
    const isOld = ({ at_epochMs }: StoredReading) => at_epochMs < now_epochMs;
    site.write(packReadings(readings.filter(isOld)));
    keepHouse(housekeeping, now_epochMs);
    site.write(packReadings(readings.filter((reading) => !isOld(reading))));

    for (const { from_days, to_days, expectedRows } of [
      { from_days: 0, to_days: 12, expectedRows: 12 * 96 },
      { from_days: 7, to_days: 9.5, expectedRows: 2.5 * 1440 },
      // One-minute rows begin five days before the newest one rolled up, at 6.489583 days: 47 quarters before that.
      { from_days: 6, to_days: 8.5, expectedRows: 47 + 2895 },
      { from_days: 9, to_days: 11.75, expectedRows: 2.75 * 1440 },
      { from_days: 11, to_days: 12, expectedRows: 2 * 1440 },
      { from_days: 11.4, to_days: 11.6, expectedRows: 0.4 * 1440 },
    ]) {
      const span = {
        from_epochMs: begin_epochMs + from_days * day_ms,
        to_epochMs: begin_epochMs + to_days * day_ms,
      };
      const { rows } = site.history.of({ sensorId: "loach-ph", ...span });
      const inSpan = readings.filter(
        ({ at_epochMs }) => at_epochMs >= span.from_epochMs && at_epochMs < span.to_epochMs,
      );
      expect(rows.reduce((sum, { count }) => sum + count, 0)).toBe(inSpan.length);
      expect(rows.length).toBe(expectedRows);
      const weighted = rows.reduce((sum, { mean, count }) => sum + mean * count, 0) / inSpan.length;
      expect(weighted).toBeCloseTo(inSpan.reduce((sum, { value }) => sum + value, 0) / inSpan.length, 6);
    }
  });
});
