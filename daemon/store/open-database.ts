import {
  closeSync,
  copyFileSync,
  existsSync,
  mkdirSync,
  openSync,
  readSync,
  renameSync,
  statSync,
} from "node:fs";
import { dirname } from "node:path";
import Database from "better-sqlite3";
import { seriesPerInstant } from "./history-key.js";
import { highestJournalId, restoreJournal, salvagedJournal, type JournalColumns } from "./journal-table.js";
import { damageOfLog } from "./log-damage.js";
import { copyId, migrate, schemaVersionOf, type Migration } from "./migrate.js";
import type { StoreOpening } from "./store-messages.js";
import { isDamage, StoreUnusableError } from "./store-fault.js";

/** "fzwd": marks the file as ours, so that a wrong path never makes us write into another program's database. */
const applicationId = 0x667a7764;

/** Called once what the daemon goes on from is on disk: the database is no copy any more. */
export const unmarkCopy = (database: Database.Database): void => {
  database.pragma(`application_id = ${applicationId}`);
};

/** Whether the file is a store of ours, in use or a copy. */
export const isOurs = (database: Database.Database): boolean =>
  [applicationId, copyId].includes(Number(database.pragma("application_id", { simple: true })));

interface KeptSnapshot {
  readonly name: string;
  readonly json: string;
  readonly at_epochMs: number;
}

/** What could be read from a damaged file: the state to go on from matters most, what people entered, and the clock. */
interface Salvage {
  readonly snapshots: readonly KeptSnapshot[];
  readonly journal: readonly JournalColumns[];
  readonly latestKnown_epochMs: number | undefined;
  /** The damaged file was a copy that had been put back. */
  readonly isOfCopy: boolean;
}

class DamagedDatabaseError extends Error {
  override readonly name = "DamagedDatabaseError";
}

export interface OpenDatabase {
  readonly database: Database.Database;
  readonly opening: Omit<StoreOpening, "fileReturn">;
}

export const latestInstant = (database: Database.Database): number | undefined => {
  const latest = database
    .prepare(
      `SELECT max(at) FROM (SELECT max(timeAndSeries) / ${seriesPerInstant} AS at FROM readings UNION ALL
         SELECT max(at_epochMs) FROM events UNION ALL SELECT max(at_epochMs) FROM snapshots UNION ALL
         SELECT max(enteredAt_epochMs) FROM journal)`,
    )
    .pluck()
    .get();
  return typeof latest === "number" ? latest : undefined;
};

/** A text where the database should be is a mistyped path, and renaming that file would do harm. */
const looksLikeText = (file: string): boolean => {
  const head = Buffer.alloc(512);
  const descriptor = openSync(file, "r");
  try {
    const size_bytes = readSync(descriptor, head, 0, head.length, 0);
    const text = head.toString("latin1", 0, size_bytes);
    return (
      size_bytes > 0 && !text.startsWith("SQLite format 3") && /^[\t\n\r\x20-\x7e\x80-\xff]+$/.test(text)
    );
  } finally {
    closeSync(descriptor);
  }
};

/** sqlite.org/fileformat2.html, "The Database Header": where in it, in bytes. */
const headerField = { writeVersionAt: 18, applicationIdAt: 68 };
const writeVersionWithoutLog = 1;

const headerOf = (file: string): Buffer | undefined => {
  if (!existsSync(file)) return undefined;
  const head = Buffer.alloc(100);
  const descriptor = openSync(file, "r");
  try {
    return readSync(descriptor, head, 0, head.length, 0) === head.length ? head : undefined;
  } finally {
    closeSync(descriptor);
  }
};

const isMarkedAsCopy = (head: Buffer | undefined): boolean =>
  head?.readUInt32BE(headerField.applicationIdAt) === copyId;

/** A copy stands alone. SQLite would play any log that lies beside it into it. */
const isUnopenedCopy = (file: string): boolean => {
  const head = headerOf(file);
  return isMarkedAsCopy(head) && head?.[headerField.writeVersionAt] === writeVersionWithoutLog;
};

const configure = (database: Database.Database, busyTimeout_ms: number): void => {
  // Every commit writes whole pages into the log; small ones make that a third less. Only a new file heeds it.
  database.pragma("page_size = 1024");
  database.pragma(`busy_timeout = ${busyTimeout_ms}`);
  database.pragma("journal_mode = WAL");
  // FULL: in WAL mode every commit is synced before it is acknowledged (sqlite.org/pragma.html#pragma_synchronous).
  database.pragma("synchronous = FULL");
  database.pragma("foreign_keys = ON");
  database.pragma("temp_store = MEMORY");
  database.pragma("wal_autocheckpoint = 4000");
  // A truncated log is allocated anew on the next write; keeping it spares the card.
  database.pragma("journal_size_limit = 8388608");
  // Reading through a memory map would turn a failing disk into a crash of the process.
  database.pragma("mmap_size = 0");
};

const assertOurs = (database: Database.Database): void => {
  const found = Number(database.pragma("application_id", { simple: true }));
  const tables = Number(database.prepare("SELECT count(*) FROM sqlite_schema").pluck().get());
  const isNew = found === 0 && tables === 0 && schemaVersionOf(database) === 0;
  if (!isNew && !isOurs(database)) {
    throw new StoreUnusableError(
      database.name,
      "it is a database of another program",
      "name another file as store.file in the configuration",
    );
  }
};

const assertSound = (database: Database.Database): void => {
  const verdict = String(database.pragma("quick_check(1)", { simple: true }));
  if (verdict !== "ok") throw new DamagedDatabaseError(verdict.replaceAll("\n", " "));
};

/** Writing the version again changes nothing and still takes the whole way of a commit. */
export const proveWritable = (database: Database.Database): void => {
  database
    .transaction(() => {
      database.pragma(`user_version = ${schemaVersionOf(database)}`);
    })
    .immediate();
};

const readWhatIsWhole = (read: () => void): void => {
  try {
    read();
  } catch {
    // Whatever could be read before the damage is kept.
  }
};

const salvageFrom = (file: string): Salvage => {
  const snapshots: KeptSnapshot[] = [];
  const journal: JournalColumns[] = [];
  let latestKnown_epochMs: number | undefined;
  let isOfCopy = false;
  let database: Database.Database | undefined;
  readWhatIsWhole(() => {
    isOfCopy = isMarkedAsCopy(headerOf(file));
  });
  try {
    const opened = new Database(file, { fileMustExist: true });
    database = opened;
    readWhatIsWhole(() => {
      for (const row of opened.prepare("SELECT name, json, at_epochMs FROM snapshots").iterate()) {
        snapshots.push(row as KeptSnapshot);
      }
    });
    readWhatIsWhole(() => salvagedJournal(opened, journal));
    readWhatIsWhole(() => {
      latestKnown_epochMs = latestInstant(opened);
    });
  } catch {
    // Not even opened: nothing is kept.
  } finally {
    try {
      database?.close();
    } catch {
      // The file is renamed as it is.
    }
  }
  return { snapshots, journal, latestKnown_epochMs, isOfCopy };
};

const freeName = (file: string, now_epochMs: number): string => {
  const stamp = new Date(now_epochMs).toISOString().replace(/[-:]|\.\d+/g, "");
  const wanted = `${file}.damaged-${stamp}`;
  let name = wanted;
  for (let n = 2; existsSync(name); n++) name = `${wanted}-${n}`;
  return name;
};

const setAside = (file: string, now_epochMs: number): string => {
  const target = freeName(file, now_epochMs);
  renameSync(file, target);
  for (const companion of ["-wal", "-shm"]) {
    if (existsSync(file + companion)) renameSync(file + companion, target + companion);
  }
  return target;
};

/** A copy is kept for whoever can read more of it; SQLite writes over the log. */
const keepDamagedLog = (file: string, now_epochMs: number): StoreOpening["logDamage"] => {
  const log = `${file}-wal`;
  if (isUnopenedCopy(file) && existsSync(log) && statSync(log).size > 0) {
    const keptAs = freeName(log, now_epochMs);
    renameSync(log, keptAs);
    return { reason: "a copy was put back beside the log of the database before it", keptAs };
  }
  const reason = damageOfLog(log);
  if (reason === undefined) return undefined;
  const keptAs = freeName(log, now_epochMs);
  copyFileSync(log, keptAs);
  return { reason, keptAs };
};

interface OpenOptions {
  readonly file: string;
  readonly busyTimeout_ms: number;
  readonly migrations: readonly Migration[];
  readonly now_epochMs: number;
}

const openSound = async (
  options: OpenOptions,
  salvage: Salvage | undefined,
): Promise<{
  readonly database: Database.Database;
  readonly opening: Omit<StoreOpening, "setAside" | "logDamage" | "fileReturn">;
}> => {
  const database = new Database(options.file, { timeout: options.busyTimeout_ms });
  try {
    assertOurs(database);
    assertSound(database);
    configure(database, options.busyTimeout_ms);
    const isCopyPutBack =
      salvage?.isOfCopy ?? Number(database.pragma("application_id", { simple: true })) === copyId;
    // What is known to lack the latest stays marked until a state that knows of it is on disk.
    database.pragma(`application_id = ${isCopyPutBack ? copyId : applicationId}`);
    const migration = await migrate(database, options.migrations);
    proveWritable(database);
    const restore = database.prepare(
      "INSERT OR REPLACE INTO snapshots (name, json, at_epochMs) VALUES (@name, @json, @at_epochMs)",
    );
    for (const snapshot of salvage?.snapshots ?? []) restore.run(snapshot);
    restoreJournal(database, salvage?.journal ?? []);
    return {
      database,
      opening: {
        ...migration,
        isCopyPutBack,
        latestKnown_epochMs: latestInstant(database) ?? salvage?.latestKnown_epochMs,
        highestEventId: Number(
          database.prepare("SELECT coalesce(max(eventId), 0) FROM events").pluck().get(),
        ),
        highestJournalId: highestJournalId(database),
      },
    };
  } catch (error) {
    database.close();
    throw error;
  }
};

/**
 * Opens, checks and migrates. A damaged file is renamed, never deleted, and a fresh one begun with the snapshots
 * that could still be read.
 */
export const openDatabase = async (options: OpenOptions): Promise<OpenDatabase> => {
  mkdirSync(dirname(options.file), { recursive: true });
  const logDamage = keepDamagedLog(options.file, options.now_epochMs);
  try {
    const { database, opening } = await openSound(options, undefined);
    return { database, opening: { ...opening, logDamage, setAside: undefined } };
  } catch (error) {
    if (!isDamage(error) && !(error instanceof DamagedDatabaseError)) throw error;
    if (looksLikeText(options.file)) {
      throw new StoreUnusableError(
        options.file,
        "the file is a text, not a database",
        "check store.file in the configuration",
        { cause: error },
      );
    }
    const salvage = salvageFrom(options.file);
    const damagedFile = setAside(options.file, options.now_epochMs);
    const { database, opening } = await openSound(options, salvage);
    return {
      database,
      opening: {
        ...opening,
        logDamage,
        setAside: {
          file: damagedFile,
          reason: error instanceof Error ? error.message : String(error),
          snapshotsKept: salvage.snapshots.length,
          journalKept: salvage.journal.length,
        },
      },
    };
  }
};
