import { rmSync, renameSync } from "node:fs";
import Database from "better-sqlite3";
import { StoreUnusableError } from "./store-fault.js";

export interface Migration {
  /** 1, 2, 3 ... without gaps; what PRAGMA user_version says afterwards. */
  readonly version: number;
  readonly sql: string;
}

export interface MigrationOutcome {
  readonly schemaVersion: number;
  readonly migratedFrom: number | undefined;
  readonly backupFile: string | undefined;
}

export const schemaVersionOf = (database: Database.Database): number =>
  Number(database.pragma("user_version", { simple: true }));

/** "fzwc": the mark of a copy. A copy that is put back in the store's place is known by it: it lacks what came after it. */
export const copyId = 0x667a7763;

/** Makes a copy stand alone (no -wal beside it), marks it as one, and returns what is wrong with it, or undefined. */
export const sealCopy = (file: string): string | undefined => {
  const copy = new Database(file, { fileMustExist: true });
  try {
    copy.pragma("journal_mode = DELETE");
    copy.pragma(`application_id = ${copyId}`);
    const verdict = String(copy.pragma("integrity_check(1)", { simple: true }));
    return verdict === "ok" ? undefined : verdict;
  } finally {
    copy.close();
  }
};

/** The old backup of that name goes only when the new one is complete and checked. */
const backUp = async (database: Database.Database, backupFile: string): Promise<void> => {
  const partFile = `${backupFile}.part`;
  rmSync(partFile, { force: true });
  await database.backup(partFile);
  const damage = sealCopy(partFile);
  if (damage !== undefined) {
    throw new StoreUnusableError(
      database.name,
      `its backup before the migration is damaged (${damage})`,
      "check the card or disk",
    );
  }
  renameSync(partFile, backupFile);
};

/**
 * Brings the database to the newest version, one transaction for each step: an interrupted start leaves it at a
 * whole version. A database that already holds something is copied to `<file>.before-v<N>` first.
 * @throws StoreUnusableError when the database was written by a newer program.
 */
export const migrate = async (
  database: Database.Database,
  migrations: readonly Migration[],
): Promise<MigrationOutcome> => {
  const present = schemaVersionOf(database);
  const newest = migrations.at(-1)?.version ?? 0;
  if (present > newest) {
    throw new StoreUnusableError(
      database.name,
      `its schema version ${present} is newer than this program knows (${newest})`,
      `install the newer program again, or put the backup ${database.name}.before-v${newest + 1} in its place`,
    );
  }
  const missing = migrations.filter(({ version }) => version > present);
  const [first] = missing;
  if (first === undefined) return { schemaVersion: present, migratedFrom: undefined, backupFile: undefined };

  const backupFile = present === 0 ? undefined : `${database.name}.before-v${first.version}`;
  if (backupFile !== undefined) await backUp(database, backupFile);
  for (const { version, sql } of missing) {
    database
      .transaction(() => {
        database.exec(sql);
        database.pragma(`user_version = ${version}`);
      })
      .immediate();
  }
  return { schemaVersion: newest, migratedFrom: present === 0 ? undefined : present, backupFile };
};
