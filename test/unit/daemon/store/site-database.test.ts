import Database from "better-sqlite3";
import { beforeEach, describe, expect, it } from "vitest";
import { allMigrations } from "../../../../daemon/store/migrations/all-migrations.js";
import { migrate } from "../../../../daemon/store/migrate.js";
import { packReadings } from "../../../../daemon/store/packed-readings.js";
import { SiteDatabase } from "../../../../daemon/store/site-database.js";
import type { SentWrite } from "../../../../daemon/store/store-messages.js";

const noon_epochMs = Date.UTC(2026, 2, 1, 12);
const everything = { from_epochMs: 0, to_epochMs: Number.MAX_SAFE_INTEGER, limit: 100 };

const eventWrite = (eventId: number, what: string, detailsJson = "{}"): SentWrite => ({
  kind: "event",
  eventId,
  event: { at_epochMs: noon_epochMs, area: "valve", subject: "cellar-outlet", what, reason: "window begins" },
  detailsJson,
});

let database: Database.Database;
let site: SiteDatabase;
beforeEach(async () => {
  database = new Database(":memory:");
  await migrate(database, allMigrations);
  site = new SiteDatabase(database);
});

describe("a write that is repeated because its answer was lost", () => {
  it("leaves one event", () => {
    site.write(eventWrite(7, "opened"));
    site.write(eventWrite(7, "opened"));
    expect(site.events(everything).map(({ what }) => what)).toEqual(["opened"]);
  });

  it("leaves one journal entry, and refuses another one under its id", () => {
    const row = {
      entryId: 7,
      at_epochMs: noon_epochMs,
      enteredAt_epochMs: noon_epochMs,
      source: "remote",
      kind: "kh test",
      subject: "loach",
      fact: '{"kh_dKH":4.5}',
      note: "",
      withdraws: null,
    } as const;
    site.write({ kind: "journal", row });
    site.write({ kind: "journal", row });
    expect(site.journal.recent(9)).toHaveLength(1);
    expect(() => site.write({ kind: "journal", row: { ...row, note: "another" } })).toThrow("second daemon");
    expect(site.journal.recent(9)).toHaveLength(1);
  });

  it("leaves each reading once", () => {
    const write = packReadings(
      [0, 1, 2].map((n) => ({
        sensorId: "loach-ph",
        quantity: "pH",
        value: 6.8 + n,
        at_epochMs: noon_epochMs + n,
      })),
    );
    site.write(write);
    site.write(write);
    const { rows } = site.history.of({ ...everything, sensorId: "loach-ph" });
    expect(rows.map(({ from_epochMs, mean }) => [from_epochMs - noon_epochMs, mean])).toEqual([
      [0, 6.8],
      [1, 7.8],
      [2, 8.8],
    ]);
  });
});

describe("the site's database", () => {
  it("keeps an event whose id another writer took in the meantime", () => {
    site.write(eventWrite(7, "opened"));
    site.write(eventWrite(7, "closed"));
    expect(site.events(everything).map(({ what }) => what)).toEqual(["opened", "closed"]);
  });

  it("tells sensors apart that speak in the same millisecond", () => {
    const readings = ["a", "b", "c"].map((sensorId, n) => ({
      sensorId,
      quantity: "pH" as const,
      value: n,
      at_epochMs: noon_epochMs,
    }));
    site.write(packReadings(readings));
    for (const { sensorId, value } of readings) {
      expect(site.history.of({ ...everything, sensorId }).rows).toMatchObject([
        { sensorId, mean: value, from_epochMs: noon_epochMs },
      ]);
    }
  });

  it("knows a new sensor again after the batch that named it first was rolled back", () => {
    const reading = { sensorId: "new", quantity: "pH" as const, value: 7, at_epochMs: noon_epochMs };
    const failing = packReadings([reading, { ...reading, value: Number.NaN }]);
    expect(() => site.write(failing)).toThrow("NOT NULL");
    site.write(packReadings([reading]));
    expect(site.history.of({ ...everything, sensorId: "new" }).rows.length).toBe(1);
  });

  it("refuses a batch whole in which a row belongs to no series", () => {
    const packed = packReadings(
      [0, 1].map((n) => ({ sensorId: "loach-ph", quantity: "pH", value: 7, at_epochMs: noon_epochMs + n })),
    );
    const wrong = { ...packed, seriesIndices: Uint32Array.of(0, 4) };
    expect(() => site.write(wrong)).toThrow("row 1 of the batch belongs to no series");
    expect(site.history.of({ ...everything, sensorId: "loach-ph" }).rows).toEqual([]);
  });

  it("does not write a saved state again that did not change", () => {
    const write: SentWrite = { kind: "snapshot", name: "control", json: "{}", at_epochMs: noon_epochMs };
    site.write(write);
    const before = database.prepare("SELECT total_changes()").pluck().get();
    site.write({ ...write, at_epochMs: noon_epochMs + 60_000 });
    expect(database.prepare("SELECT total_changes()").pluck().get()).toBe(before);
    site.write({ ...write, json: '{"a":1}' });
    expect(site.snapshot("control")).toBe('{"a":1}');
  });

  it("shows an event whose details are broken instead of failing over it", () => {
    site.write(eventWrite(1, "opened", '{"share_ra'));
    expect(site.events(everything)).toMatchObject([
      { what: "opened", details: { unreadable: '{"share_ra' } },
    ]);
  });
});
