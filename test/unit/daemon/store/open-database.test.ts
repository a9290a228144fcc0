import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import Database from "better-sqlite3";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { allMigrations } from "../../../../daemon/store/migrations/all-migrations.js";
import type { JournalColumns } from "../../../../daemon/store/journal-table.js";
import { migrate, type Migration } from "../../../../daemon/store/migrate.js";
import { openDatabase, type OpenDatabase } from "../../../../daemon/store/open-database.js";
import { SiteDatabase } from "../../../../daemon/store/site-database.js";
import { StoreUnusableError } from "../../../../daemon/store/store-fault.js";

const noon_epochMs = Date.UTC(2026, 2, 1, 12);
let folder: string;
let file: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "fizzward-open-"));
  file = join(folder, "deep", "er", "site.db");
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const open = (migrations: readonly Migration[] = allMigrations): Promise<OpenDatabase> =>
  openDatabase({ file, busyTimeout_ms: 100, migrations, now_epochMs: noon_epochMs });

/** A database with 200 events and a saved state, closed in good order. */
const fill = async (): Promise<void> => {
  const { database } = await open();
  const site = new SiteDatabase(database);
  site.write({
    kind: "snapshot",
    name: "trips",
    json: '{"form":1,"state":["loach"]}',
    at_epochMs: noon_epochMs,
  });
  site.write({ kind: "journal", row: khRow(1) });
  site.write({ kind: "journal", row: khRow(2) });
  site.write({ kind: "journal", row: khRow(3, 1) });
  for (let n = 1; n <= 200; n++) {
    site.write({
      kind: "event",
      eventId: n,
      event: {
        at_epochMs: noon_epochMs + n,
        area: "valve",
        subject: "",
        what: "opened",
        reason: "x".repeat(200),
      },
      detailsJson: "{}",
    });
  }
  database.close();
};

const khRow = (entryId: number, withdraws: number | null = null): JournalColumns => ({
  entryId,
  at_epochMs: noon_epochMs + entryId,
  enteredAt_epochMs: noon_epochMs + entryId,
  source: "local",
  kind: withdraws === null ? "kh test" : "withdrawal",
  subject: "loach",
  fact: "{}",
  note: "",
  withdraws,
});

const whyNot = async (opening: Promise<OpenDatabase>): Promise<StoreUnusableError> => {
  const error: unknown = await opening.then(
    () => undefined,
    (reason: unknown) => reason,
  );
  expect(error).toBeInstanceOf(StoreUnusableError);
  return error as StoreUnusableError;
};

describe("opening the database", () => {
  it("begins a new one, in folders that it makes, synced at every commit", async () => {
    const { database, opening } = await open();
    expect(opening).toEqual({
      schemaVersion: allMigrations.length,
      latestKnown_epochMs: undefined,
      highestEventId: 0,
      highestJournalId: 0,
      migratedFrom: undefined,
      backupFile: undefined,
      isCopyPutBack: false,
      setAside: undefined,
    });
    expect(database.pragma("journal_mode", { simple: true })).toBe("wal");
    // 2 is FULL: https://www.sqlite.org/pragma.html#pragma_synchronous
    expect(database.pragma("synchronous", { simple: true })).toBe(2);
    database.close();
  });

  it("finds the latest instant and the highest event id", async () => {
    await fill();
    const { database, opening } = await open();
    expect(opening).toMatchObject({ latestKnown_epochMs: noon_epochMs + 200, highestEventId: 200 });
    database.close();
  });

  it("sets a damaged file aside whole, begins a fresh one and keeps the state that can still be read", async () => {
    await fill();
    const bytes = readFileSync(file);
    // The beginning of the file holds the schema and the small tables, among them the snapshots; then come events.
    bytes.fill(0xa5, 10 * 4096);
    writeFileSync(file, bytes);
    const { database, opening } = await open();
    expect(opening.setAside).toMatchObject({
      file: `${file}.damaged-20260301T120000Z`,
      snapshotsKept: 1,
      journalKept: 3,
    });
    expect(opening.highestJournalId).toBe(3);
    expect(readFileSync(`${file}.damaged-20260301T120000Z`).equals(bytes)).toBe(true);
    const site = new SiteDatabase(database);
    expect(site.snapshot("trips")).toBe('{"form":1,"state":["loach"]}');
    expect(site.journal.recent(9).map(({ entryId, withdrawn }) => [entryId, withdrawn])).toEqual([
      [1, true],
      [2, false],
    ]);
    expect(site.events({ from_epochMs: 0, to_epochMs: Infinity, limit: 9 })).toEqual([]);
    expect(opening.latestKnown_epochMs).toBeGreaterThanOrEqual(noon_epochMs);
    database.close();
  });

  it.each([
    { damage: "a zeroed first page", apply: (bytes: Buffer) => bytes.fill(0, 0, 4096) },
    { damage: "a torn off second half", apply: (bytes: Buffer) => bytes.subarray(0, bytes.length / 2) },
    { damage: "noise throughout", apply: (bytes: Buffer) => bytes.map((_, n) => (n * 7919) % 251) },
  ])("sets aside a file with $damage and never deletes it", async ({ apply }) => {
    await fill();
    const damaged = Buffer.from(apply(readFileSync(file)));
    writeFileSync(file, damaged);
    const first = await open();
    first.database.close();
    expect(readFileSync(first.opening.setAside!.file).equals(damaged)).toBe(true);
    writeFileSync(file, damaged);
    const second = await open();
    second.database.close();
    expect(second.opening.setAside!.file).not.toBe(first.opening.setAside!.file);
    expect(existsSync(first.opening.setAside!.file)).toBe(true);
  });

  it("refuses a text file, which is a mistyped path, and does not touch it", async () => {
    file = join(folder, "my.yaml");
    writeFileSync(file, "site:\n  id: brook-lane\n");
    expect((await whyNot(open())).message).toContain("store.file");
    expect(readFileSync(file, "utf8")).toBe("site:\n  id: brook-lane\n");
    expect(readdirSync(folder)).toEqual(["my.yaml"]);
  });

  it("refuses the database of another program and does not touch it", async () => {
    file = join(folder, "other.db");
    const other = new Database(file);
    other.exec("CREATE TABLE letters (body TEXT)");
    other.close();
    const bytes = readFileSync(file);
    expect((await whyNot(open())).reason).toContain("another program");
    expect(readFileSync(file).equals(bytes)).toBe(true);
  });
});

describe("migrating", () => {
  const newest = allMigrations.length;
  const second: Migration = {
    version: newest + 1,
    sql: "ALTER TABLE events ADD COLUMN person TEXT NOT NULL DEFAULT ''",
  };
  const third: Migration = {
    version: newest + 2,
    sql: "CREATE TABLE chargeNotes (note TEXT NOT NULL) STRICT",
  };

  it("brings a database over two versions with its rows, after a sound copy of it as it was", async () => {
    await fill();
    const { database, opening } = await open([...allMigrations, second, third]);
    expect(opening).toMatchObject({
      schemaVersion: newest + 2,
      migratedFrom: newest,
      backupFile: `${file}.before-v${newest + 1}`,
    });
    expect(database.prepare("SELECT count(*) FROM events WHERE person = ''").pluck().get()).toBe(200);
    database.close();
    const backup = new Database(`${file}.before-v${newest + 1}`, { readonly: true });
    expect(backup.pragma("user_version", { simple: true })).toBe(newest);
    expect(backup.pragma("integrity_check", { simple: true })).toBe("ok");
    expect(backup.prepare("SELECT count(*) FROM events").pluck().get()).toBe(200);
    backup.close();
  });

  it("gives a database of the first version a journal, with its events untouched and its journal ids from 1", async () => {
    mkdirSync(dirname(file), { recursive: true });
    const first = new Database(file);
    // What marks a database as ours: daemon/store/open-database.ts.
    first.pragma("application_id = 0x667a7764");
    await migrate(first, allMigrations.slice(0, 1));
    first.exec(
      `INSERT INTO events (at_epochMs, area, subject, what, reason, details)
         VALUES (${noon_epochMs}, 'valve', '', 'opened', '', '{}')`,
    );
    first.close();
    const { database, opening } = await open();
    expect(opening).toMatchObject({ migratedFrom: 1, backupFile: `${file}.before-v2`, highestJournalId: 0 });
    const site = new SiteDatabase(database);
    site.write({ kind: "journal", row: khRow(1) });
    expect(site.journal.recent(9)).toHaveLength(1);
    expect(site.events({ from_epochMs: 0, to_epochMs: Infinity, limit: 9 })).toHaveLength(1);
    database.close();
  });

  it("stays at a whole version when a step fails, and goes on from there", async () => {
    await fill();
    const broken: Migration = {
      version: newest + 2,
      sql: "CREATE TABLE half (a TEXT); INSERT INTO nowhere VALUES (1)",
    };
    await expect(open([...allMigrations, second, broken])).rejects.toThrow("nowhere");
    const between = new Database(file, { readonly: true });
    expect(between.pragma("user_version", { simple: true })).toBe(newest + 1);
    expect(between.prepare("SELECT count(*) FROM sqlite_schema WHERE name = 'half'").pluck().get()).toBe(0);
    between.close();
    const { database, opening } = await open([...allMigrations, second, third]);
    expect(opening).toMatchObject({
      schemaVersion: newest + 2,
      migratedFrom: newest + 1,
      backupFile: `${file}.before-v${newest + 2}`,
    });
    database.close();
  });

  it("copies nothing for a new database or one that is up to date", async () => {
    for (const expected of [undefined, undefined]) {
      const { database, opening } = await open();
      expect(opening.backupFile).toBe(expected);
      database.close();
    }
    expect(readdirSync(join(folder, "deep", "er"))).toEqual(["site.db"]);
  });

  it("refuses a schema newer than it knows, changes nothing and says what to do", async () => {
    const { database } = await open([...allMigrations, second]);
    database.close();
    const error = await whyNot(open());
    expect(error.reason).toContain(`schema version ${newest + 1} is newer`);
    expect(error.whatToDo).toContain("install the newer program");
    const after = new Database(file, { readonly: true });
    expect(after.pragma("user_version", { simple: true })).toBe(newest + 1);
    after.close();
  });
});
