import { existsSync, readdirSync, statfsSync, statSync } from "node:fs";
import { dirname, join } from "node:path";
import Database from "better-sqlite3";
import type { BackupFacts, DatabaseFacts, DiskFacts } from "../../lib/inspection/store-findings.js";
import { newestCopy } from "../store/backup-files.js";
import { seriesPerInstant } from "../store/history-key.js";
import { damageOfLog } from "../store/log-damage.js";
import { copyId, schemaVersionOf } from "../store/migrate.js";
import { allMigrations } from "../store/migrations/all-migrations.js";
import { isOurs, latestInstant } from "../store/open-database.js";

export interface StoreLook {
  readonly database: DatabaseFacts;
  readonly growth_bytesPerDay: number | undefined;
  readonly lastStored_epochMs: number | undefined;
}

const day_ms = 86_400_000;
/** Over less than this no rate is told. */
const leastSpan_ms = 3_600_000;
/** A daemon that writes at this moment is waited for. */
const busyTimeout_ms = 3000;

/** The database as it is, opened for reading only: the daemon may run beside it and goes on writing. */
export function lookAtStore(file: string): StoreLook {
  const nothing = { growth_bytesPerDay: undefined, lastStored_epochMs: undefined };
  if (!existsSync(file)) return { ...nothing, database: { kind: "none", file } };
  const log = `${file}-wal`;
  let database: Database.Database | undefined;
  try {
    // Before it is opened: to open it may begin a log.
    const log_bytes = existsSync(log) ? statSync(log).size : 0;
    const logDamage = damageOfLog(log);
    database = new Database(file, { readonly: true, fileMustExist: true, timeout: busyTimeout_ms });
    if (!isOurs(database)) {
      const reason = "it is no database of this program; look at store.file in the config";
      return { ...nothing, database: { kind: "unreadable", file, reason } };
    }
    const facts = {
      kind: "read",
      file,
      size_bytes: sizeOf(database),
      integrity: integrityOf(database),
      schemaVersion: schemaVersionOf(database),
      newestSchemaVersion: allMigrations.at(-1)?.version ?? 0,
      isCopyPutBack: isCopy(database),
      log_bytes,
      logDamage,
    } as const;
    if (facts.integrity !== "ok") return { ...nothing, database: facts };
    return {
      database: facts,
      growth_bytesPerDay: growthOf_bytesPerDay(database),
      lastStored_epochMs: latestInstant(database),
    };
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    return { ...nothing, database: { kind: "unreadable", file, reason } };
  } finally {
    database?.close();
  }
}

/** The newest copy, checked. @param today  of the site, YYYY-MM-DD */
export function lookAtBackup(folder: string, nights: number, today: string): BackupFacts {
  let copy: { readonly name: string; readonly date: string } | undefined;
  try {
    copy = existsSync(folder) ? newestCopy(readdirSync(folder), today) : undefined;
  } catch (error) {
    return { kind: "unreadable", folder, reason: error instanceof Error ? error.message : String(error) };
  }
  if (copy === undefined) return nights === 0 ? { kind: "not wanted" } : { kind: "none", folder };
  const file = join(folder, copy.name);
  const age_days = Math.round((Date.parse(today) - Date.parse(copy.date)) / day_ms);
  let database: Database.Database | undefined;
  try {
    database = new Database(file, { readonly: true, fileMustExist: true });
    const integrity = integrityOf(database);
    const damage = integrity === "ok" ? undefined : integrity;
    return {
      kind: "found",
      file,
      age_days,
      damage,
      isMarkedAsCopy: damage === undefined && isCopy(database),
    };
  } catch (error) {
    const damage = error instanceof Error ? error.message : String(error);
    return { kind: "found", file, age_days, damage, isMarkedAsCopy: false };
  } finally {
    database?.close();
  }
}

/** Of the folder, or the nearest one above it that is there already. */
export function lookAtDisk(folder: string, growth_bytesPerDay: number | undefined): DiskFacts {
  let found = folder;
  while (!existsSync(found) && dirname(found) !== found) found = dirname(found);
  const { bavail, bsize } = statfsSync(found);
  return { folder: found, free_bytes: bavail * bsize, growth_bytesPerDay };
}

function integrityOf(database: Database.Database): string {
  try {
    return String(database.pragma("integrity_check(1)", { simple: true })).replaceAll("\n", " ");
  } catch (error) {
    return error instanceof Error ? error.message : String(error);
  }
}

function isCopy(database: Database.Database): boolean {
  return Number(database.pragma("application_id", { simple: true })) === copyId;
}

function sizeOf(database: Database.Database): number {
  const [pages, free, pageSize_bytes] = ["page_count", "freelist_count", "page_size"].map((name) =>
    Number(database.pragma(name, { simple: true })),
  );
  return ((pages ?? 0) - (free ?? 0)) * (pageSize_bytes ?? 0);
}

/** The rows of the last day, each of the size of an average one of this database. */
function growthOf_bytesPerDay(database: Database.Database): number | undefined {
  const numberOf = (sql: string, ...parameters: readonly unknown[]): number | undefined => {
    const value: unknown = database
      .prepare(sql)
      .pluck()
      .get(...parameters);
    return typeof value === "number" ? value : undefined;
  };
  const last_epochMs = numberOf(`SELECT max(timeAndSeries) / ${seriesPerInstant} FROM readings`);
  if (last_epochMs === undefined) return undefined;
  const first_epochMs =
    numberOf(`SELECT min(timeAndSeries) / ${seriesPerInstant} FROM readings`) ?? last_epochMs;
  const from_epochMs = Math.max(first_epochMs, last_epochMs - day_ms);
  const span_ms = last_epochMs - from_epochMs;
  if (span_ms < leastSpan_ms) return undefined;
  const rows =
    numberOf(`SELECT count(*) FROM readings WHERE timeAndSeries >= ?`, from_epochMs * seriesPerInstant) ?? 0;
  const all = numberOf(
    "SELECT (SELECT count(*) FROM readings) + (SELECT count(*) FROM oneMinute) + (SELECT count(*) FROM fifteenMinute)",
  );
  return all === undefined || all === 0 ? undefined : (sizeOf(database) / all) * rows * (day_ms / span_ms);
}
