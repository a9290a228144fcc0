import { execFileSync, spawn } from "node:child_process";
import { once } from "node:events";
import {
  chmodSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { createRequire } from "node:module";
import type { Worker } from "node:worker_threads";
import Database from "better-sqlite3";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import type { SiteEvent } from "../../daemon/ports/site-store.js";
import { StoreUnavailableError, StoreUnusableError } from "../../daemon/store/store-fault.js";
import { machineClock } from "../support/machine-clock.js";
import { storeBench, until, type StoreBench } from "../support/sqlite-store-bench.js";

const noon_epochMs = Date.UTC(2026, 2, 1, 12);
const everything = { from_epochMs: 0, to_epochMs: Number.MAX_SAFE_INTEGER, limit: 10_000 };
const eventOf = (what: string, details: Readonly<Record<string, unknown>> = {}): SiteEvent => ({
  at_epochMs: noon_epochMs,
  area: "valve",
  subject: "cellar-outlet",
  what,
  reason: "test",
  details,
});
const phOf = (n: number) =>
  ({ sensorId: "loach-ph", quantity: "pH", value: n, at_epochMs: noon_epochMs + n }) as const;

/** How long each of the calls kept this thread. */
class CallTimes {
  readonly each_ms: number[] = [];

  take(calls: number, call: (n: number) => unknown): void {
    for (let n = 0; n < calls; n++) {
      const begun_ms = performance.now();
      call(n);
      this.each_ms.push(performance.now() - begun_ms);
    }
  }

  get slowest_ms(): number {
    return this.each_ms.reduce((slowest, each) => Math.max(slowest, each), 0);
  }

  slowerThan(limit_ms: number): number {
    return this.each_ms.filter((each_ms) => each_ms > limit_ms).length / this.each_ms.length;
  }
}

/** The storage threads that this process begins. */
const noticeThreads = (): { readonly begun: readonly Worker[]; end(): void } => {
  const begun: Worker[] = [];
  const notice = (worker: Worker): void => void begun.push(worker);
  process.on("worker", notice);
  return { begun, end: () => void process.off("worker", notice) };
};

/** Another process that takes the write lock, says so, and keeps it until its input closes. */
const lockElsewhere = async (file: string): Promise<{ release(): Promise<void> }> => {
  const driver = createRequire(import.meta.url).resolve("better-sqlite3");
  const script = `
    const database = new (require(${JSON.stringify(driver)}))(${JSON.stringify(file)});
    database.exec("BEGIN EXCLUSIVE");
    console.log("locked");
    process.stdin.resume().on("end", () => { database.exec("ROLLBACK"); process.exit(0); });`;
  const child = spawn(process.execPath, ["-e", script], { stdio: ["pipe", "pipe", "inherit"] });
  await once(child.stdout, "data");
  return {
    release: async () => {
      child.stdin.end();
      await once(child, "exit");
    },
  };
};

let bench: StoreBench;
beforeEach(() => {
  bench = storeBench();
});
afterEach(() => bench.clear());

describe("a database that another process keeps locked", () => {
  it("keeps no journal entry, says what to do, and takes one again when the lock is gone", async () => {
    const store = bench.make();
    await store.start();
    const row = {
      at_epochMs: noon_epochMs,
      enteredAt_epochMs: noon_epochMs,
      source: "local",
      kind: "water change",
      subject: "loach",
      factJson: '{"changed_L":30}',
      note: "",
    } as const;
    const lock = await lockElsewhere(bench.file);
    const begun_ms = performance.now();
    const refusals = [await store.keepJournalRow(row), await store.keepJournalRow(row)];
    expect(performance.now() - begun_ms).toBeLessThan(5000);
    for (const refusal of refusals) {
      expect(refusal).toMatchObject({ kind: "not kept" });
      expect(JSON.stringify(refusal)).toContain("end that process");
    }
    await lock.release();
    await until(() => store.health().kind === "ok", "the store writes again");
    expect(await store.recentJournal({ perSubject: 9 })).toEqual([]);
    expect(await store.keepJournalRow(row)).toMatchObject({ kind: "kept" });
    expect(await store.recentJournal({ perSubject: 9 })).toHaveLength(1);
  });

  it("counts as failing after the patience is over, and recovers by itself with nothing lost", async () => {
    const store = bench.make({ batch_s: 0.1 });
    await store.start();
    const lock = await lockElsewhere(bench.file);
    expect(await store.recordEvent(eventOf("while locked"))).toBe(false);
    store.appendReading(phOf(1));
    const health = store.health();
    expect(health).toMatchObject({ kind: "failing" });
    expect(health.kind === "failing" && health.reason).toContain("another process keeps the database locked");
    await machineClock.sleep(1500);
    expect(store.health().kind).toBe("failing");
    await lock.release();
    await until(() => store.health().kind === "ok", "recovery");
    await until(async () => {
      const whats = (await store.events(everything)).map(({ what }) => what);
      return whats.includes("while locked") && whats.includes("recovered");
    }, "the event on disk");
    await store.stop();
    const database = new Database(bench.file);
    expect(database.prepare("SELECT count(*) FROM events WHERE what = 'while locked'").pluck().get()).toBe(1);
    expect(database.prepare("SELECT count(*) FROM readings").pluck().get()).toBe(1);
    database.close();
  });

  it("is waited for quietly where the lock lasts shorter than the patience", async () => {
    const store = bench.make({ timing: { busyTimeout_ms: 5000 } });
    await store.start();
    const lock = await lockElsewhere(bench.file);
    const onDisk = store.recordEvent(eventOf("patient"));
    await machineClock.sleep(1000);
    expect(store.health()).toEqual({ kind: "ok" });
    await lock.release();
    expect(await onDisk).toBe(true);
  });

  it("refuses the start with the reason and what to do", async () => {
    const first = bench.make();
    await first.start();
    await first.stop();
    const lock = await lockElsewhere(bench.file);
    const error: unknown = await bench
      .make()
      .start()
      .catch((reason: unknown) => reason);
    expect(error).toBeInstanceOf(StoreUnusableError);
    expect((error as StoreUnusableError).reason).toContain("locked");
    expect((error as StoreUnusableError).whatToDo).toContain("second daemon");
    await lock.release();
  });
});

describe("a storage thread that hangs for 30 s", () => {
  it(
    "holds up no call, is found failing, gives up those who wait and then writes everything",
    { timeout: 90_000 },
    async () => {
      const store = bench.make({
        timing: { busyTimeout_ms: 60_000, unansweredLimit_ms: 3000, queryLimit_ms: 2000 },
      });
      await store.start();
      const lock = await lockElsewhere(bench.file);
      const begun_ms = performance.now();
      const answers: Promise<boolean>[] = [];
      const times = new CallTimes();
      times.take(500, (n) => answers.push(store.recordEvent(eventOf(`hung ${n}`))));
      const question = store.events(everything).catch((error: unknown) => error);
      let longestGap_ms = 0;
      let latest_ms = performance.now();
      while (performance.now() - begun_ms < 30_000) {
        times.take(100, (n) => store.appendReading(phOf(n)));
        times.take(1, () => void store.saveSnapshot("progress", { elapsed_ms: latest_ms }));
        times.take(1, () => store.health());
        await machineClock.sleep(20);
        longestGap_ms = Math.max(longestGap_ms, performance.now() - latest_ms - 20);
        latest_ms = performance.now();
      }
      // A single call can be slow because the machine's cores are busy elsewhere; one that waits takes seconds.
      expect(times.slowerThan(5)).toBeLessThan(0.001);
      expect(times.slowest_ms).toBeLessThan(500);
      expect(store.health()).toMatchObject({ kind: "failing" });
      expect(await question).toBeInstanceOf(StoreUnavailableError);
      expect(new Set(await Promise.all(answers))).toEqual(new Set([false]));
      await lock.release();
      await until(() => store.health().kind === "ok", "recovery");
      await store.stop();
      const database = new Database(bench.file);
      expect(database.prepare("SELECT count(*) FROM events WHERE what LIKE 'hung %'").pluck().get()).toBe(
        500,
      );
      database.close();
      console.log(
        `hung for 30 s: slowest of ${times.each_ms.length} calls ${times.slowest_ms.toFixed(2)} ms, longest delay of the caller's own loop ${longestGap_ms.toFixed(1)} ms`,
      );
    },
  );

  it("does not keep the daemon from stopping in time", async () => {
    const store = bench.make({ timing: { busyTimeout_ms: 4000, stopLimit_ms: 300 } });
    await store.start();
    const lock = await lockElsewhere(bench.file);
    const onDisk = store.recordEvent(eventOf("too late"));
    const begun_ms = performance.now();
    await store.stop();
    expect(performance.now() - begun_ms).toBeLessThan(1500);
    expect(await onDisk).toBe(false);
    await lock.release();
  });
});

describe("a storage thread that dies", () => {
  it("is started again, and what it had not confirmed is written once", async () => {
    const threads = noticeThreads();
    const store = bench.make();
    await store.start();
    await store.recordEvent(eventOf("before"));
    const answers = Array.from({ length: 40 }, (_, n) => store.recordEvent(eventOf(`under way ${n}`)));
    void threads.begun[0]!.terminate();
    await Promise.all(answers);
    const recovered = async (): Promise<boolean> =>
      (await store.events(everything).catch(() => [])).some(({ what }) => what === "recovered");
    await until(recovered, "recovery");
    threads.end();
    expect(threads.begun.length).toBe(2);
    expect(await store.recordEvent(eventOf("after"))).toBe(true);
    await until(async () => (await store.events(everything)).length >= 43, "all on disk");
    const whats = (await store.events(everything))
      .filter(({ area }) => area === "valve")
      .map(({ what }) => what);
    expect([...whats].sort()).toEqual(
      ["before", ...Array.from({ length: 40 }, (_, n) => `under way ${n}`), "after"].sort(),
    );
  });
});

describe("a damaged database", () => {
  const damage = (): void => {
    const bytes = readFileSync(bench.file);
    bytes.fill(0xa5, 10 * 4096);
    writeFileSync(bench.file, bytes);
  };
  const fill = async (): Promise<void> => {
    const store = bench.make();
    await store.start();
    await store.saveSnapshot("trips", { latched: ["loach"] });
    for (let n = 0; n < 100; n++) void store.recordEvent(eventOf(`old ${n}`, { padding: "p".repeat(300) }));
    await store.stop();
  };

  it("is set aside at start: the store works, says so in its health and in an event, and keeps the trips", async () => {
    await fill();
    damage();
    const store = bench.make();
    await store.start();
    const health = store.health();
    expect(health.kind === "ok" && health.note).toContain("set aside");
    expect(await store.loadSnapshot("trips")).toEqual({ latched: ["loach"] });
    await until(async () => (await store.events(everything)).length > 0, "the event");
    const [event] = await store.events(everything);
    expect(event).toMatchObject({ area: "store", what: "set aside" });
    const kept = readdirSync(bench.folder).filter((name) => name.includes(".damaged-"));
    expect(event!.details["file"]).toBe(join(bench.folder, kept[0]!));
    expect(bench.logger.lines.some(({ level }) => level === "error")).toBe(true);
  });

  it("whose log is damaged opens with an older state, and says that the latest is not known", async () => {
    const store = bench.make();
    await store.start();
    for (let n = 0; n < 20; n++) await store.saveSnapshot("trips", { latched: [`loach ${n}`] });
    const copy = join(bench.folder, "copy.db");
    const sound = join(bench.folder, "sound.db");
    for (const target of [copy, sound]) {
      writeFileSync(target, readFileSync(bench.file));
      writeFileSync(`${target}-wal`, readFileSync(`${bench.file}-wal`));
    }
    const log = readFileSync(`${copy}-wal`);
    writeFileSync(`${copy}-wal`, log.fill(0xa5, log.length / 2, log.length / 2 + 32));
    const damaged = bench.make({ file: copy });
    await damaged.start();
    expect(damaged.health()).toMatchObject({ kind: "ok", lostTheLatest: true });
    const found = async (): Promise<SiteEvent | undefined> =>
      (await damaged.events(everything)).find(({ what }) => what === "log damaged");
    await until(async () => (await found()) !== undefined, "the event");
    const event = await found();
    expect(readFileSync(String(event!.details["keptAs"])).equals(log)).toBe(true);
    const undamaged = bench.make({ file: sound });
    await undamaged.start();
    expect(undamaged.health()).toEqual({ kind: "ok" });
    expect(await undamaged.loadSnapshot("trips")).toEqual({ latched: ["loach 19"] });
  });

  it("is set aside while running too, and the state of this run is saved into the fresh one", async () => {
    await fill();
    const threads = noticeThreads();
    const store = bench.make();
    await store.start();
    await store.saveSnapshot("trips", { latched: ["loach", "shrimp"] });
    damage();
    // What the thread has in memory would hide the damage for long.
    void threads.begun[0]!.terminate();
    await until(() => {
      const health = store.health();
      return health.kind === "ok" && health.note !== undefined;
    }, "the damage found");
    threads.end();
    expect(await store.recordEvent(eventOf("after"))).toBe(true);
    await store.stop();
    const database = new Database(bench.file);
    expect(database.pragma("integrity_check", { simple: true })).toBe("ok");
    expect(database.prepare("SELECT json FROM snapshots WHERE name = 'trips'").pluck().get()).toContain(
      "shrimp",
    );
    database.close();
  });

  it("gives undefined and records an event for a saved state that is broken", async () => {
    await fill();
    const database = new Database(bench.file);
    database.prepare("UPDATE snapshots SET json = ?").run('{"form":1,"state":{"latched":["loa');
    database.close();
    const store = bench.make();
    await store.start();
    expect(await store.loadSnapshot("trips")).toBeUndefined();
    await until(
      async () => (await store.events(everything)).some(({ what }) => what === "state not read"),
      "event",
    );
  });
});

describe("a disk without room", () => {
  const isRoot = process.getuid?.() === 0;
  if (!isRoot) console.log("skipped: a small file system of one's own can be mounted by root only");

  it.skipIf(!isRoot)(
    "makes the store failing, crashes nothing, and is written to again when space is freed",
    { timeout: 60_000 },
    async () => {
      const mount = mkdtempSync(join(tmpdir(), "fizzward-full-"));
      execFileSync("mount", ["-t", "tmpfs", "-o", "size=2m", "tmpfs", mount]);
      const small = storeBench(join(mount, "data"));
      mkdirSync(small.folder);
      try {
        const store = small.make({ batch_s: 0.05 });
        await store.start();
        writeFileSync(join(mount, "ballast"), Buffer.alloc(1_000_000));
        let told = 0;
        await until(async () => {
          if (await store.recordEvent(eventOf(`fills ${told}`, { padding: "p".repeat(3000) }))) told++;
          return store.health().kind === "failing";
        }, "the disk full");
        const health = store.health();
        expect(health.kind === "failing" && health.reason).toContain("the disk is full");
        expect(await store.recordEvent(eventOf("valve closed meanwhile"))).toBe(false);
        for (let n = 0; n < 500; n++) store.appendReading(phOf(n));
        await machineClock.sleep(1000);
        expect(store.health().kind).toBe("failing");
        rmSync(join(mount, "ballast"));
        await until(() => store.health().kind === "ok", "recovery");
        await store.stop();
        const database = new Database(small.file);
        expect(database.pragma("integrity_check", { simple: true })).toBe("ok");
        const count = (sql: string): unknown => database.prepare(sql).pluck().get();
        expect(count("SELECT count(*) FROM events WHERE what LIKE 'fills %'")).toBeGreaterThanOrEqual(told);
        expect(count("SELECT count(*) FROM events WHERE what = 'valve closed meanwhile'")).toBe(1);
        expect(count("SELECT count(*) FROM readings")).toBe(500);
        database.close();
      } finally {
        await small.clear();
        execFileSync("umount", ["-l", mount]);
        rmSync(mount, { recursive: true, force: true });
      }
    },
  );

  it.skipIf(!isRoot).each(["4k", "16k", "40k"])("refuses the start on a file system of %s", async (size) => {
    const mount = mkdtempSync(join(tmpdir(), "fizzward-full-"));
    execFileSync("mount", ["-t", "tmpfs", "-o", `size=${size}`, "tmpfs", mount]);
    const small = storeBench(join(mount, "data"));
    mkdirSync(small.folder);
    try {
      const error: unknown = await small
        .make()
        .start()
        .catch((reason: unknown) => reason);
      expect(error).toBeInstanceOf(StoreUnusableError);
      expect((error as StoreUnusableError).reason).toContain("the disk is full");
    } finally {
      await small.clear();
      execFileSync("umount", ["-l", mount]);
      rmSync(mount, { recursive: true, force: true });
    }
  });
});

describe("a place that can not be used", () => {
  it("refuses the start where a part of the path is a file", async () => {
    writeFileSync(join(bench.folder, "plain"), "");
    const store = bench.make({ file: join(bench.folder, "plain", "site.db") });
    await expect(store.start()).rejects.toBeInstanceOf(StoreUnusableError);
  });

  it("refuses the start in a folder without the right to write", async () => {
    if (process.getuid?.() === 0) {
      // Root may write everywhere; a read-only file system is the same to it.
      const mount = mkdtempSync(join(tmpdir(), "fizzward-ro-"));
      execFileSync("mount", ["-t", "tmpfs", "-o", "ro", "tmpfs", mount]);
      try {
        await expect(bench.make({ file: join(mount, "site.db") }).start()).rejects.toBeInstanceOf(
          StoreUnusableError,
        );
      } finally {
        execFileSync("umount", ["-l", mount]);
        rmSync(mount, { recursive: true, force: true });
      }
      return;
    }
    chmodSync(bench.folder, 0o555);
    await expect(bench.make().start()).rejects.toBeInstanceOf(StoreUnusableError);
    chmodSync(bench.folder, 0o755);
  });
});

describe("a database file that is taken away under the running daemon", () => {
  const look = { timing: { fileCheck_ms: 20 } };
  const trips = { trips: ["pH below the floor"] };
  const files = (): readonly string[] => readdirSync(bench.folder).sort();
  const noticed = async (store: ReturnType<StoreBench["make"]>, words: string): Promise<void> => {
    await until(() => store.health().kind === "failing", "the loss is noticed", 2000);
    const health = store.health();
    expect(health.kind === "failing" && health.reason).toContain(words);
    await until(() => store.health().kind === "ok", "the store has mended itself");
  };

  it("is noticed, named, and written out again with its whole history", async () => {
    const store = bench.make(look);
    await store.start();
    await store.saveSnapshot("control", trips);
    await store.recordEvent(eventOf("before"));
    rmSync(bench.file);
    await noticed(store, "the database file was taken away while the daemon runs");
    await store.recordEvent(eventOf("after"));
    await store.stop();

    const again = bench.make();
    await again.start();
    expect(await again.loadSnapshot("control")).toEqual(trips);
    const what = (await again.events(everything)).map((event) => event.what);
    expect(what).toEqual(expect.arrayContaining(["before", "file taken away", "after"]));
    await again.stop();
    expect(files()).toEqual(["site.db"]);
  });

  it("keeps the trips that an earlier run had left and this one has only read", async () => {
    const first = bench.make();
    await first.start();
    await first.saveSnapshot("control", trips);
    await first.stop();
    const store = bench.make(look);
    await store.start();
    await store.loadSnapshot("control");
    rmSync(bench.folder, { recursive: true });
    await noticed(store, "was taken away");
    await store.stop();
    const again = bench.make();
    await again.start();
    expect(await again.loadSnapshot("control")).toEqual(trips);
  });

  it("and replaced by an older copy: the trips of now outrank it, and what was kept meanwhile lies beside it", async () => {
    const store = bench.make(look);
    await store.start();
    await store.saveSnapshot("control", { trips: [] });
    const copy = join(bench.folder, "copy.db");
    expect(await store.backupTo(copy, "everything")).toMatchObject({ kind: "verified" });
    await store.saveSnapshot("control", trips);
    await store.recordEvent(eventOf("since the copy"));
    renameSync(copy, bench.file);
    await noticed(store, "another file was put in the place of the database file");
    await store.stop();

    const again = bench.make();
    await again.start();
    expect(await again.loadSnapshot("control")).toEqual(trips);
    expect((await again.events(everything)).map((event) => event.what)).not.toContain("since the copy");
    await again.stop();
    const beside = files().find((name) => name.includes(".taken-"));
    const kept = new Database(join(bench.folder, beside ?? "none"), { readonly: true, fileMustExist: true });
    expect(kept.prepare("SELECT what FROM events").pluck().all()).toContain("since the copy");
    kept.close();
  });

  it("and replaced by something else is never written over: the store fails until a person has looked", async () => {
    const store = bench.make(look);
    await store.start();
    const stranger = join(bench.folder, "stranger.db");
    const other = new Database(stranger);
    other.exec("CREATE TABLE birds (name TEXT); INSERT INTO birds VALUES ('heron')");
    other.close();
    const before = readFileSync(stranger);
    renameSync(stranger, bench.file);
    await until(() => {
      const health = store.health();
      return health.kind === "failing" && health.reason.includes("a database of another program");
    }, "the stranger is named");
    await machineClock.sleep(500);
    expect(store.health().kind).toBe("failing");
    expect(readFileSync(bench.file)).toEqual(before);
  });

  it("with the log beside it is noticed too, and nothing is lost", async () => {
    const store = bench.make(look);
    await store.start();
    await store.recordEvent(eventOf("in the log only"));
    rmSync(`${bench.file}-wal`);
    await noticed(store, "the log beside the database file was taken away");
    await store.stop();
    const again = bench.make();
    await again.start();
    expect((await again.events(everything)).map((event) => event.what)).toContain("in the log only");
  });
});
