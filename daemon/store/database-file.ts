import { renameSync, rmSync, statSync } from "node:fs";
import type Database from "better-sqlite3";
import type { StoreFault } from "./store-fault.js";

/** The file and the log beside it, by what the file system knows them by; undefined for one that is not there. */
export interface DatabaseFileIdentity {
  readonly file: string | undefined;
  readonly log: string | undefined;
}

/** How a database whose file was gone came back. */
export interface FileReturn {
  readonly how:
    "all of it is written out again" | "begun anew" | "another file was there and is used from now on";
  /** Where another file was there: what the daemon had until then. */
  readonly keptBeside: string | undefined;
}

const identityAt = (path: string): string | undefined => {
  const found = statSync(path, { bigint: true, throwIfNoEntry: false });
  return found === undefined ? undefined : `${found.dev}:${found.ino}`;
};

export const identityOf = (file: string): DatabaseFileIdentity => ({
  file: identityAt(file),
  log: identityAt(`${file}-wal`),
});

/**
 * What became of the files under an open database; undefined while they are the ones that were opened. A database without a
 * name goes on working and is gone with the process, so nothing but a look at the folder shows it.
 */
export const lossOf = (file: string, opened: DatabaseFileIdentity): StoreFault | undefined => {
  const found = identityOf(file);
  if (found.file === opened.file && found.log === opened.log) return undefined;
  const what =
    found.file === undefined
      ? "the database file was taken away"
      : found.file === opened.file
        ? "the log beside the database file was taken away"
        : "another file was put in the place of the database file";
  return {
    kind: "disk",
    code: "",
    reason: `${what} while the daemon runs`,
    whatToDo: "the daemon mends that by itself; end it before anything is done to its files",
    needsReopen: true,
  };
};

/**
 * Closes a database that has lost its file, but first writes out all that it holds: in its old place, or, where another file
 * has been put there, beside it.
 */
export const closeLost = async (
  database: Database.Database,
  file: string,
  opened: DatabaseFileIdentity,
  now_epochMs: number,
): Promise<FileReturn> => {
  const stamp = new Date(now_epochMs).toISOString().replace(/[-:]|\.\d+/g, "");
  const rescued = `${file}.taken-${stamp}`;
  let isRescued = false;
  try {
    rmSync(rescued, { force: true });
    await database.backup(rescued);
    isRescued = true;
  } catch {
    // A full disk, or a folder that is gone too: the state that the daemon still knows has to do.
  }
  database.close();
  // A log of the old database would be played into the new one.
  if (identityAt(`${file}-wal`) === opened.log) rmSync(`${file}-wal`, { force: true });
  rmSync(`${file}-shm`, { force: true });
  const keptBeside = isRescued ? rescued : undefined;
  const current = identityAt(file);
  if (current !== undefined && current !== opened.file) {
    return { how: "another file was there and is used from now on", keptBeside };
  }
  if (!isRescued) return { how: "begun anew", keptBeside };
  renameSync(rescued, file);
  return { how: "all of it is written out again", keptBeside: undefined };
};
