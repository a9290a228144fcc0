/** The storage thread: the only place where anything waits for the disk. */
import { renameSync, rmSync, statSync } from "node:fs";
import { parentPort, Worker, workerData } from "node:worker_threads";
import type Database from "better-sqlite3";
import type { BackupContent, BackupOutcome, HousekeepingOutcome } from "../ports/site-store.js";
import {
  closeLost,
  identityOf,
  lossOf,
  type DatabaseFileIdentity,
  type FileReturn,
} from "./database-file.js";
import { copyWithoutReadings } from "./copy-without-readings.js";
import { openDatabase, proveWritable } from "./open-database.js";
import { Housekeeping } from "./retention.js";
import { SiteDatabase } from "./site-database.js";
import { faultOf, StoreUnusableError, type StoreFault } from "./store-fault.js";
import type { FromStoreWorker, StoreQuery, StoreWorkerData, ToStoreWorker } from "./store-messages.js";

interface OpenState {
  readonly database: Database.Database;
  readonly identity: DatabaseFileIdentity;
  readonly site: SiteDatabase;
  readonly housekeeping: Housekeeping;
}

class DatabaseClosedError extends Error {
  override readonly name = "DatabaseClosedError";
  readonly code = "SQLITE_CANTOPEN";
}

const turnOfLoop = (): Promise<void> => new Promise((resolve) => setImmediate(resolve));

const unusable = (error: unknown): StoreFault =>
  error instanceof StoreUnusableError
    ? { kind: "refused", code: "", reason: error.reason, whatToDo: error.whatToDo, needsReopen: true }
    : faultOf(error);

/** The check reads the whole copy, which may take seconds: in a thread of its own. */
const damageFoundAside = (file: string): Promise<string | undefined> =>
  new Promise((resolve) => {
    const checker = new Worker(new URL("./backup-check-worker.js", import.meta.url), { workerData: file });
    checker.once("message", (damage: string | undefined) => resolve(damage));
    checker.once("error", (error) => resolve(String(error)));
    checker.once("exit", () => resolve("its check ended early"));
  });

class StoreThread {
  readonly #options: StoreWorkerData;
  readonly #reply: (message: FromStoreWorker) => void;
  #open: OpenState | undefined;
  #isLost = false;
  #housekeeping: Promise<HousekeepingOutcome> | undefined;

  constructor(options: StoreWorkerData, reply: (message: FromStoreWorker) => void) {
    this.#options = options;
    this.#reply = reply;
  }

  async handle(message: ToStoreWorker): Promise<void> {
    switch (message.kind) {
      case "open":
        try {
          await this.#reopen(message.how, message.now_epochMs);
        } catch (error) {
          this.#reply({ kind: "unusable", fault: unusable(error) });
        }
        return;
      case "write":
        try {
          this.#opened().site.write(message.write);
          this.#reply({ kind: "written", writeId: message.writeId });
        } catch (error) {
          this.#reply({ kind: "writeFailed", writeId: message.writeId, fault: faultOf(error) });
        }
        return;
      case "query":
        try {
          const answer = await this.#answer(message.query);
          this.#reply({ kind: "answer", queryId: message.queryId, answer });
        } catch (error) {
          this.#reply({ kind: "queryFailed", queryId: message.queryId, fault: faultOf(error) });
        }
        return;
      case "close":
        this.#close();
        this.#reply({ kind: "closed" });
        return;
    }
  }

  async #reopen(how: "full" | "probe", now_epochMs: number): Promise<void> {
    if (how === "probe" && this.#open !== undefined) {
      proveWritable(this.#open.database);
      this.#reply({ kind: "opened", opening: undefined });
      return;
    }
    const fileReturn = await this.#closeWhateverIsThere(now_epochMs);
    const { database, opening } = await openDatabase({ ...this.#options, now_epochMs });
    this.#isLost = false;
    this.#open = {
      database,
      identity: identityOf(this.#options.file),
      site: new SiteDatabase(database),
      housekeeping: new Housekeeping(database, this.#options.retention, () => performance.now()),
    };
    this.#reply({ kind: "opened", opening: { ...opening, fileReturn } });
  }

  /** Says once that the file is no longer the one that was opened. */
  lookForFile(): void {
    if (this.#open === undefined || this.#isLost) return;
    let fault: StoreFault | undefined;
    try {
      fault = lossOf(this.#options.file, this.#open.identity);
    } catch (error) {
      fault = faultOf(error);
    }
    if (fault === undefined) return;
    this.#isLost = true;
    this.#reply({ kind: "fileLost", fault });
  }

  async #closeWhateverIsThere(now_epochMs: number): Promise<FileReturn | undefined> {
    const open = this.#open;
    if (open === undefined || !this.#isLost) {
      this.#close();
      return undefined;
    }
    this.#open = undefined;
    return closeLost(open.database, this.#options.file, open.identity, now_epochMs);
  }

  #close(): void {
    const open = this.#open;
    this.#open = undefined;
    try {
      open?.database.close();
    } catch {
      // A disk that fails is why we close; the log holds what was committed.
    }
  }

  #opened(): OpenState {
    if (this.#open === undefined) throw new DatabaseClosedError("the database is closed");
    return this.#open;
  }

  async #answer(query: StoreQuery): Promise<unknown> {
    switch (query.kind) {
      case "snapshot":
        return this.#opened().site.snapshot(query.name);
      case "events":
        return this.#opened().site.events(query);
      case "readings":
        return this.#opened().site.history.of(query);
      case "recentJournal":
        return this.#opened().site.journal.recent(query.perSubject);
      case "waitingMessages":
        return this.#opened().site.outbox.waiting();
      case "housekeeping":
        this.#housekeeping ??= this.#keepHouse(query.now_epochMs).finally(() => {
          this.#housekeeping = undefined;
        });
        return this.#housekeeping;
      case "backup":
        return this.#backUp(query.file, query.content);
    }
  }

  async #keepHouse(now_epochMs: number): Promise<HousekeepingOutcome> {
    let slices = 0;
    let deletedRows = 0;
    let longestSlice_ms = 0;
    try {
      for (let more = true; more; slices++) {
        const begun_ms = performance.now();
        const outcome = this.#opened().housekeeping.slice(now_epochMs);
        longestSlice_ms = Math.max(longestSlice_ms, performance.now() - begun_ms);
        deletedRows += outcome.deletedRows;
        more = outcome.more;
        // Lets every message that arrived meanwhile go first.
        await turnOfLoop();
      }
      return { kind: "done", slices, longestSlice_ms, deletedRows };
    } catch (error) {
      return { kind: "failed", reason: faultOf(error).reason };
    }
  }

  async #backUp(file: string, content: BackupContent): Promise<BackupOutcome> {
    const partFile = `${file}.part`;
    try {
      rmSync(partFile, { force: true });
      const { database } = this.#opened();
      if (content === "everything") await database.backup(partFile);
      else await copyWithoutReadings(database, partFile, this.#options.migrations);
      const damage = await damageFoundAside(partFile);
      if (damage !== undefined) {
        rmSync(partFile, { force: true });
        return { kind: "failed", reason: `the copy is damaged: ${damage}` };
      }
      renameSync(partFile, file);
      return { kind: "verified", file, size_bytes: statSync(file).size };
    } catch (error) {
      rmSync(partFile, { force: true });
      return { kind: "failed", reason: faultOf(error).reason };
    }
  }
}

const port = parentPort;
if (port !== null) {
  const options = workerData as StoreWorkerData;
  const thread = new StoreThread(options, (message) => port.postMessage(message));
  setInterval(() => thread.lookForFile(), options.fileCheck_ms).unref();
  port.on("message", (message: ToStoreWorker) => {
    void thread.handle(message).finally(() => {
      if (message.kind === "close") port.close();
    });
  });
}
