import Database from "better-sqlite3";
import { expect, it } from "vitest";
import { faultOf, isDamage } from "../../../../daemon/store/store-fault.js";

// Result codes: https://www.sqlite.org/rescode.html; system errors: POSIX.1-2017, <errno.h>.
const rows = [
  { code: "SQLITE_FULL", kind: "disk", needsReopen: false, because: "space may be freed" },
  { code: "SQLITE_BUSY", kind: "disk", needsReopen: false, because: "the other process may end" },
  {
    code: "SQLITE_BUSY_SNAPSHOT",
    kind: "disk",
    needsReopen: false,
    because: "an extended code counts as its primary",
  },
  { code: "SQLITE_IOERR_WRITE", kind: "disk", needsReopen: true, because: "the handle may be spoiled" },
  { code: "SQLITE_READONLY_DBMOVED", kind: "disk", needsReopen: true, because: "the file was replaced" },
  { code: "SQLITE_CORRUPT_INDEX", kind: "disk", needsReopen: true, because: "opening sets the file aside" },
  { code: "ENOSPC", kind: "disk", needsReopen: true, because: "folders are made by the system" },
  {
    code: "SQLITE_CONSTRAINT_NOTNULL",
    kind: "refused",
    needsReopen: false,
    because: "it would fail for ever",
  },
  { code: "SQLITE_TOOBIG", kind: "refused", needsReopen: false, because: "it would fail for ever" },
  { code: "", kind: "refused", needsReopen: false, because: "a fault of the program is not the disk's" },
];

it.each(rows)("counts $code as $kind, because $because", ({ code, kind, needsReopen }) => {
  expect(faultOf(Object.assign(new Error("no"), { code }))).toMatchObject({ kind, needsReopen });
});

it("knows the driver's own error of damage from its other errors", () => {
  const junk = new Database(Buffer.alloc(4096, 7));
  const thrownBy = (action: () => unknown): unknown => {
    try {
      action();
    } catch (error) {
      return error;
    }
    return undefined;
  };
  expect(isDamage(thrownBy(() => junk.prepare("SELECT * FROM sqlite_schema").all()))).toBe(true);
  expect(isDamage(thrownBy(() => new Database(":memory:").prepare("SELECT * FROM nothing")))).toBe(false);
});
