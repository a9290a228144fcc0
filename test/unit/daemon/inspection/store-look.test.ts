import {
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import Database from "better-sqlite3";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { lookAtBackup, lookAtDisk, lookAtStore } from "../../../../daemon/inspection/store-look.js";
import { seriesPerInstant } from "../../../../daemon/store/history-key.js";
import { sealCopy } from "../../../../daemon/store/migrate.js";
import { allMigrations } from "../../../../daemon/store/migrations/all-migrations.js";
import { openDatabase } from "../../../../daemon/store/open-database.js";

const noon_epochMs = Date.UTC(2026, 2, 1, 12);
let folder: string;
let file: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "fizzward-look-"));
  file = join(folder, "site.db");
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

/** A store with a reading each second over so many seconds, still open. */
async function opened(readings = 0): Promise<Database.Database> {
  const { database } = await openDatabase({
    file,
    busyTimeout_ms: 100,
    migrations: allMigrations,
    now_epochMs: noon_epochMs,
  });
  const insert = database.prepare("INSERT INTO readings (timeAndSeries, value) VALUES (?, 6.8)");
  database.transaction(() => {
    for (let second = 0; second < readings; second += 1)
      insert.run((noon_epochMs + second * 1000) * seriesPerInstant);
  })();
  return database;
}

describe("a look at the store", () => {
  it("finds a sound one, its form, its latest instant and how fast it grows", async () => {
    (await opened(7201)).close();
    const look = lookAtStore(file);
    expect(look.database).toMatchObject({
      kind: "read",
      integrity: "ok",
      schemaVersion: 3,
      newestSchemaVersion: 3,
      isCopyPutBack: false,
      log_bytes: 0,
    });
    expect(look.lastStored_epochMs).toBe(noon_epochMs + 7_200_000);
    // Two hours filled the file as far as it is; a day holds twelve times as much.
    expect(look.growth_bytesPerDay! / (12 * statSync(file).size)).toBeCloseTo(1, 1);
  });

  it("tells no rate from less than an hour", async () => {
    (await opened(60)).close();
    expect(lookAtStore(file).growth_bytesPerDay).toBeUndefined();
  });

  it("lets a daemon go on writing, and changes nothing itself", async () => {
    const database = await opened(10);
    const before = readFileSync(file);
    expect(lookAtStore(file).database).toMatchObject({ kind: "read", integrity: "ok" });
    expect(readFileSync(file).equals(before)).toBe(true);
    database.exec("BEGIN IMMEDIATE; INSERT INTO readings (timeAndSeries, value) VALUES (1, 7)");
    expect(lookAtStore(file).database).toMatchObject({ kind: "read", integrity: "ok" });
    database.exec("COMMIT");
    database.close();
  });

  it("sees the log that a daemon which was killed has left, and leaves it there", async () => {
    const database = await opened(100);
    for (const end of ["", "-wal"]) copyFileSync(`${file}${end}`, join(folder, `left.db${end}`));
    database.close();
    const left = join(folder, "left.db");
    const size_bytes = statSync(`${left}-wal`).size;
    expect(size_bytes).toBeGreaterThan(0);
    expect(lookAtStore(left)).toMatchObject({
      database: { kind: "read", log_bytes: size_bytes, logDamage: undefined },
      lastStored_epochMs: noon_epochMs + 99_000,
    });
    expect(statSync(`${left}-wal`).size).toBe(size_bytes);
  });

  it("leaves no log beside a store that nobody has open", async () => {
    (await opened(10)).close();
    lookAtStore(file);
    const log_bytes = existsSync(`${file}-wal`) ? statSync(`${file}-wal`).size : 0;
    expect(log_bytes).toBe(0);
  });

  it("knows a copy that was put back, one of a newer program, a damaged one, a foreign one, and none", async () => {
    expect(lookAtStore(file).database.kind).toBe("none");
    (await opened(3000)).close();
    const copy = join(folder, "copy.db");
    copyFileSync(file, copy);
    expect(sealCopy(copy)).toBeUndefined();
    expect(lookAtStore(copy).database).toMatchObject({ isCopyPutBack: true });

    const newer = new Database(file);
    newer.pragma("user_version = 4");
    newer.close();
    expect(lookAtStore(file).database).toMatchObject({ schemaVersion: 4, newestSchemaVersion: 3 });

    truncateSync(file, Math.floor(statSync(file).size / 2048) * 1024);
    const damaged = lookAtStore(file).database;
    expect(damaged.kind === "read" ? damaged.integrity : damaged.kind).not.toBe("ok");

    const foreign = join(folder, "foreign.db");
    const other = new Database(foreign);
    other.exec("CREATE TABLE songs (title TEXT)");
    other.close();
    expect(lookAtStore(foreign).database).toMatchObject({ kind: "unreadable" });
    writeFileSync(foreign, "not a database at all, but long enough to be looked at as one");
    expect(lookAtStore(foreign).database).toMatchObject({ kind: "unreadable" });
  });
});

describe("a look at the copies", () => {
  it("finds the newest, its age, its mark, and whether it is sound", async () => {
    (await opened(3000)).close();
    const backup = join(folder, "backup");
    expect(lookAtBackup(backup, 14, "2026-03-03")).toEqual({ kind: "none", folder: backup });
    expect(lookAtBackup(backup, 0, "2026-03-03")).toEqual({ kind: "not wanted" });
    mkdirSync(backup);
    copyFileSync(file, join(backup, "night-2026-03-01.db"));
    expect(lookAtBackup(backup, 14, "2026-03-03")).toMatchObject({ age_days: 2, isMarkedAsCopy: false });
    const whole = join(backup, "whole-2026-03-02.db");
    copyFileSync(file, whole);
    sealCopy(whole);
    expect(lookAtBackup(backup, 14, "2026-03-03")).toEqual({
      kind: "found",
      file: whole,
      age_days: 1,
      damage: undefined,
      isMarkedAsCopy: true,
    });
    truncateSync(whole, Math.floor(statSync(whole).size / 2048) * 1024);
    const damaged = lookAtBackup(backup, 14, "2026-03-03");
    expect(damaged.kind === "found" && damaged.damage).toMatch(/./);
  });
});

it("a look at the disk takes the nearest folder that is there", () => {
  const { folder: found, free_bytes } = lookAtDisk(join(folder, "not", "there"), undefined);
  expect(found).toBe(folder);
  expect(free_bytes).toBeGreaterThan(0);
});
