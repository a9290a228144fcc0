import Database from "better-sqlite3";
import { copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { damageOfLog } from "../../../../daemon/store/log-damage.js";

/** SQLite writes the log and, opened on a copy, says how much of it still counts. */
let folder: string;
let database: Database.Database;
const written = 40;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "fizzward-log-"));
  database = new Database(join(folder, "site.db"));
  database.pragma("page_size = 1024");
  database.pragma("journal_mode = WAL");
  database.pragma("synchronous = FULL");
  database.exec("CREATE TABLE kept (number INTEGER, text TEXT)");
  const insert = database.prepare("INSERT INTO kept VALUES (?, ?)");
  for (let number = 0; number < written; number += 1) insert.run(number, "x".repeat(200));
});
afterEach(() => {
  database.close();
  rmSync(folder, { recursive: true, force: true });
});

/** What is said of a copy whose log was changed, and how many rows SQLite then finds. */
function afterHarm(harm: (log: Buffer) => Buffer): {
  readonly said: string | undefined;
  readonly rows: number;
} {
  const copy = join(folder, "copy.db");
  copyFileSync(join(folder, "site.db"), copy);
  writeFileSync(`${copy}-wal`, harm(readFileSync(join(folder, "site.db-wal"))));
  const said = damageOfLog(`${copy}-wal`);
  const opened = new Database(copy);
  try {
    return { said, rows: opened.prepare("SELECT count(*) FROM kept").pluck().get() as number };
  } catch {
    return { said, rows: 0 };
  } finally {
    opened.close();
  }
}

const scribbled =
  (at_bytes: number) =>
  (log: Buffer): Buffer =>
    log.fill(0x5a, at_bytes, at_bytes + 16);

describe("the log beside a database", () => {
  it("is sound as SQLite leaves it when the process is killed", () => {
    expect(afterHarm((log) => log)).toEqual({ said: undefined, rows: written });
  });

  it("is sound when it is not there, empty, or only begun", () => {
    expect(damageOfLog(join(folder, "nothing-wal"))).toBeUndefined();
    expect(afterHarm(() => Buffer.alloc(0)).said).toBeUndefined();
    expect(afterHarm((log) => log.subarray(0, 20)).said).toBeUndefined();
  });

  it("is sound when a power cut has torn the last commit, which nobody was told of", () => {
    expect(afterHarm((log) => log.subarray(0, log.length - 100))).toEqual({
      said: undefined,
      rows: written - 1,
    });
    expect(afterHarm((log) => log.fill(0, log.length - 500)).said).toBeUndefined();
  });

  it("is sound when it holds what an earlier turn has left behind", () => {
    database.pragma("wal_checkpoint(RESTART)");
    database.prepare("INSERT INTO kept VALUES (?, ?)").run(written, "the first of the next turn");
    expect(afterHarm((log) => log)).toEqual({ said: undefined, rows: written + 1 });
  });

  it("is damaged when its head is, and SQLite says nothing", () => {
    const { said, rows } = afterHarm(scribbled(0));
    expect(said).toContain("head of the log");
    expect(rows).toBe(0);
  });

  it("is damaged when a commit in its midst is, and SQLite goes on from before it without a word", () => {
    const { said, rows } = afterHarm((log) => scribbled(Math.floor(log.length / 2))(log));
    expect(said).toContain("in its midst");
    expect(rows).toBeGreaterThan(0);
    expect(rows).toBeLessThan(written - 2);
  });
});
