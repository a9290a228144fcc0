/** The store can not be used at all; the daemon should not start without a person having looked. */
export class StoreUnusableError extends Error {
  override readonly name = "StoreUnusableError";

  constructor(
    readonly file: string,
    readonly reason: string,
    readonly whatToDo: string,
    options?: ErrorOptions,
  ) {
    super(`the store ${file} can not be used: ${reason}; ${whatToDo}`, options);
  }
}

/** A question to the history that was not answered; asking again later may work. */
export class StoreUnavailableError extends Error {
  override readonly name = "StoreUnavailableError";

  constructor(readonly reason: string) {
    super(`the store does not answer: ${reason}`);
  }
}

/**
 * Why a request to the database failed, as plain data that crosses threads.
 * "disk": the surroundings are at fault and the same request may work later. "refused": the request itself is.
 */
export interface StoreFault {
  readonly kind: "disk" | "refused";
  readonly code: string;
  readonly reason: string;
  readonly whatToDo: string;
  /** Only closing and opening again can help. */
  readonly needsReopen: boolean;
}

interface FaultText {
  readonly reason: string;
  readonly whatToDo: string;
  readonly needsReopen: boolean;
}

// By the result code, else by its primary part (sqlite.org/rescode.html) or by the operating system's error name.
const diskFaults: Readonly<Record<string, FaultText>> = {
  SQLITE_FULL: {
    reason: "the disk is full",
    whatToDo: "free space on its file system",
    needsReopen: false,
  },
  SQLITE_BUSY: {
    reason: "another process keeps the database locked",
    whatToDo: "end that process (a second daemon, a database shell, a copy program)",
    needsReopen: false,
  },
  SQLITE_LOCKED: {
    reason: "the database is locked",
    whatToDo: "end whatever else has it open",
    needsReopen: true,
  },
  SQLITE_IOERR: {
    reason: "the disk reports an input/output error",
    whatToDo: "look into the kernel log and check the card or disk",
    needsReopen: true,
  },
  // The file beside the database that its users share; on a full disk it is the first that can not grow.
  SQLITE_IOERR_SHMSIZE: {
    reason: "the disk is full, or the -shm file beside the database can not grow for another reason",
    whatToDo: "free space on its file system",
    needsReopen: true,
  },
  SQLITE_CORRUPT: {
    reason: "the database is damaged",
    whatToDo: "it is set aside and a fresh one begun; check the card or disk",
    needsReopen: true,
  },
  SQLITE_NOTADB: {
    reason: "the file is not a database",
    whatToDo: "check store.file in the configuration",
    needsReopen: true,
  },
  SQLITE_READONLY: {
    reason: "the database can not be written to",
    whatToDo:
      "check that its file system is mounted writable and that the daemon's user owns file and folder",
    needsReopen: true,
  },
  SQLITE_PERM: {
    reason: "access to the database is denied",
    whatToDo: "give the daemon's user the right to read and write file and folder",
    needsReopen: true,
  },
  SQLITE_CANTOPEN: {
    reason: "the database can not be opened",
    whatToDo: "check that its folder exists and that the daemon's user may read and write there",
    needsReopen: true,
  },
  SQLITE_NOMEM: { reason: "memory is short", whatToDo: "free memory on this machine", needsReopen: true },
  SQLITE_PROTOCOL: {
    reason: "the lock file beside the database can not be used",
    whatToDo: "keep the database on a local file system",
    needsReopen: true,
  },
  ENOSPC: { reason: "the disk is full", whatToDo: "free space on its file system", needsReopen: true },
  EDQUOT: {
    reason: "the disk quota is used up",
    whatToDo: "free space or raise the quota",
    needsReopen: true,
  },
  EACCES: {
    reason: "access to the folder is denied",
    whatToDo: "give the daemon's user the right to read and write there",
    needsReopen: true,
  },
  EPERM: {
    reason: "access to the folder is denied",
    whatToDo: "give the daemon's user the right to read and write there",
    needsReopen: true,
  },
  EROFS: {
    reason: "the file system is read-only",
    whatToDo: "mount it writable or choose another store.file",
    needsReopen: true,
  },
  EIO: {
    reason: "the disk reports an input/output error",
    whatToDo: "look into the kernel log and check the card or disk",
    needsReopen: true,
  },
  ENOTDIR: {
    reason: "a part of its path is no folder",
    whatToDo: "check store.file in the configuration",
    needsReopen: true,
  },
};

const codeOf = (error: unknown): string =>
  error instanceof Error && "code" in error && typeof error.code === "string" ? error.code : "";

/** SQLITE_IOERR_WRITE -> SQLITE_IOERR; operating system names stay. */
const primaryCode = (code: string): string =>
  code.startsWith("SQLITE_") ? code.split("_").slice(0, 2).join("_") : code;

export const isDamage = (error: unknown): boolean =>
  ["SQLITE_CORRUPT", "SQLITE_NOTADB"].includes(primaryCode(codeOf(error)));

/** Translates whatever the database driver or the operating system threw. */
export const faultOf = (error: unknown): StoreFault => {
  const code = codeOf(error);
  const message = error instanceof Error ? error.message : String(error);
  const known = diskFaults[code] ?? diskFaults[primaryCode(code)];
  if (known === undefined) {
    return {
      kind: "refused",
      code,
      reason: message,
      whatToDo: "report this as a fault of the program",
      needsReopen: false,
    };
  }
  return {
    kind: "disk",
    code,
    reason: `${known.reason} (${code})`,
    whatToDo: known.whatToDo,
    needsReopen: known.needsReopen,
  };
};
