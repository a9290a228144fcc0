import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type {
  BackupContent,
  BackupOutcome,
  HousekeepingOutcome,
  JournalKeeping,
  NewJournalRow,
  OutboxChange,
  OutboxMessage,
  ReadingSummary,
  SiteEvent,
  SiteStore,
  StoreHealth,
  StoredJournalRow,
  StoredReading,
} from "../ports/site-store.js";
import { allMigrations } from "./migrations/all-migrations.js";
import { latestStorable_epochMs } from "./history-key.js";
import { journalColumnsOf } from "./journal-table.js";
import type { Migration } from "./migrate.js";
import { packReadings } from "./packed-readings.js";
import type { Retention } from "./retention.js";
import { snapshotJson, snapshotState, detailsJson } from "./snapshot-form.js";
import { StoreUnavailableError, StoreUnusableError, type StoreFault } from "./store-fault.js";
import type { FromStoreWorker, StoreAnswers, StoreOpening, StoreQuery } from "./store-messages.js";
import { StoreOutages } from "./store-outage.js";
import { StoreQuestions } from "./store-questions.js";
import { StoreThreadLink } from "./store-thread-link.js";
import { defaultTiming, type StoreTiming } from "./store-timing.js";
import { defaultBounds, WriteQueue, type WriteQueueBounds } from "./write-queue.js";

export interface SqliteSiteStoreOptions {
  readonly file: string;
  readonly batch_s: number;
  readonly retention: Retention;
  readonly migrations?: readonly Migration[];
  readonly timing?: Partial<StoreTiming>;
  readonly bounds?: Partial<WriteQueueBounds>;
}

/** The machine's own clock even where the site runs in accelerated time: the disk does not run faster. */
export interface SqliteSiteStorePorts {
  readonly clock: Clock;
  readonly logger: Logger;
}

type Phase = "new" | "opening" | "open" | "waiting" | "stopped";

const mostEventsAsked = 10_000;

/**
 * The store on SQLite in a thread of its own. This side never touches the disk: it queues, hands over and listens,
 * and tries again by itself when the disk or the thread failed.
 */
export class SqliteSiteStore implements SiteStore {
  readonly #options: SqliteSiteStoreOptions;
  readonly #timing: StoreTiming;
  readonly #clock: Clock;
  readonly #logger: Logger;
  readonly #queue: WriteQueue;
  readonly #link: StoreThreadLink;
  readonly #outages: StoreOutages;
  readonly #questions = new StoreQuestions();
  readonly #latestSnapshots = new Map<string, string>();
  readonly #end = new AbortController();
  #phase: Phase = "new";
  #batchDue_monotonicMs = 0;
  #note: string | undefined;
  #lostTheLatest = false;
  #latestKnown_epochMs: number | undefined;
  #dropsReported = 0;
  #nextJournalId = 1;
  #settleStart:
    { readonly resolve: () => void; readonly reject: (error: StoreUnusableError) => void } | undefined;
  #whenDrained: (() => void) | undefined;

  constructor(options: SqliteSiteStoreOptions, { clock, logger }: SqliteSiteStorePorts) {
    this.#options = options;
    this.#timing = { ...defaultTiming, ...options.timing };
    this.#clock = clock;
    this.#logger = logger;
    this.#queue = new WriteQueue({ ...defaultBounds, ...options.bounds });
    this.#outages = new StoreOutages(this.#timing);
    this.#link = new StoreThreadLink(
      {
        file: options.file,
        busyTimeout_ms: this.#timing.busyTimeout_ms,
        fileCheck_ms: this.#timing.fileCheck_ms,
        retention: options.retention,
        migrations: options.migrations ?? allMigrations,
      },
      { onMessage: (message) => this.#hear(message), onDeath: (reason) => this.#mournThread(reason) },
    );
  }

  start(): Promise<void> {
    return new Promise((resolve, reject) => {
      this.#settleStart = { resolve, reject };
      this.#openThread("full");
      void this.#tickUntilStopped();
    });
  }

  async stop(): Promise<void> {
    if (this.#phase === "stopped") return;
    if (this.#phase !== "new") {
      this.#queue.makeReadingsDue();
      if (this.#phase === "waiting") this.#retry();
      this.#pump();
      await this.#withinStopLimit(
        new Promise((resolve) => {
          this.#whenDrained = resolve;
          this.#pump();
        }),
      );
      if (!this.#queue.isDrained) this.#logger.error({}, "the store ends with writes that are not on disk");
      this.#phase = "stopped";
      await this.#withinStopLimit(this.#link.close());
    }
    this.#phase = "stopped";
    this.#end.abort();
    this.#link.abandon();
    this.#queue.endWaiting();
    this.#questions.refuseAll("the store is stopped");
  }

  appendReading(reading: StoredReading): void {
    const isStorable = reading.at_epochMs >= 0 && reading.at_epochMs <= latestStorable_epochMs;
    // One value that can not be stored would make its whole batch fail for ever.
    if (!Number.isFinite(reading.value) || !isStorable) {
      this.#queue.countDroppedReading();
      return;
    }
    const isDue = this.#queue.addReading({ ...reading, at_epochMs: Math.round(reading.at_epochMs) });
    if (isDue) this.#pump();
  }

  recordEvent(event: SiteEvent): Promise<boolean> {
    if (this.#phase === "stopped") return Promise.resolve(false);
    const at_epochMs = Number.isSafeInteger(Math.round(event.at_epochMs))
      ? Math.round(event.at_epochMs)
      : this.#clock.now_epochMs();
    const onDisk = this.#queue.addEvent(
      { ...event, at_epochMs },
      detailsJson(event.details),
      this.#elapsed_monotonicMs(),
    );
    this.#pump();
    return this.#firstAnswer(onDisk);
  }

  saveSnapshot(name: string, state: unknown): Promise<boolean> {
    if (this.#phase === "stopped") return Promise.resolve(false);
    const json = snapshotJson(state);
    if (json === undefined) {
      this.#logger.error({ snapshot: name }, "a state that is not plain data was not saved");
      return Promise.resolve(false);
    }
    this.#latestSnapshots.set(name, json);
    const onDisk = this.#queue.addSnapshot(
      name,
      json,
      Math.round(this.#clock.now_epochMs()),
      this.#elapsed_monotonicMs(),
    );
    this.#pump();
    return this.#firstAnswer(onDisk);
  }

  keepOutbox({ added, settled, snapshot }: OutboxChange): Promise<boolean> {
    if (this.#phase === "stopped") return Promise.resolve(false);
    const json = snapshot === undefined ? undefined : snapshotJson(snapshot.state);
    if (snapshot !== undefined && json !== undefined) this.#latestSnapshots.set(snapshot.name, json);
    const state =
      snapshot === undefined || json === undefined
        ? undefined
        : { name: snapshot.name, json, at_epochMs: Math.round(this.#clock.now_epochMs()) };
    const onDisk = this.#queue.addOutbox(
      { kind: "outbox", added, settled, snapshot: state },
      this.#elapsed_monotonicMs(),
    );
    this.#pump();
    return this.#firstAnswer(onDisk);
  }

  waitingMessages(): Promise<readonly OutboxMessage[]> {
    return this.#ask({ kind: "waitingMessages" });
  }

  async loadSnapshot(name: string): Promise<unknown> {
    let problem: string;
    try {
      const json = this.#latestSnapshots.get(name) ?? (await this.#ask({ kind: "snapshot", name }));
      if (json === undefined) return undefined;
      const read = snapshotState(json);
      if (read.kind === "ok") {
        this.#latestSnapshots.set(name, json);
        return read.state;
      }
      problem = read.reason;
    } catch (error) {
      problem = error instanceof StoreUnavailableError ? error.reason : String(error);
    }
    void this.recordEvent({
      at_epochMs: this.#clock.now_epochMs(),
      area: "store",
      subject: name,
      what: "state not read",
      reason: problem,
      details: {},
    });
    return undefined;
  }

  async keepJournalRow(row: NewJournalRow): Promise<JournalKeeping> {
    if (this.#phase === "stopped") return { kind: "not kept", reason: "the store is stopped" };
    if (this.#outages.current !== undefined) return { kind: "not kept", reason: this.#whyNot() };
    const entryId = this.#nextJournalId++;
    const onDisk = this.#queue.addJournalRow(journalColumnsOf(entryId, row), this.#elapsed_monotonicMs());
    this.#pump();
    return (await onDisk) ? { kind: "kept", entryId } : { kind: "not kept", reason: this.#whyNot() };
  }

  recentJournal(query: { readonly perSubject: number }): Promise<readonly StoredJournalRow[]> {
    return this.#ask({ kind: "recentJournal", ...query });
  }

  async events(query: {
    readonly from_epochMs: number;
    readonly to_epochMs: number;
    readonly limit: number;
  }): Promise<readonly SiteEvent[]> {
    const limit = Math.min(Math.max(0, Math.floor(query.limit)), mostEventsAsked);
    return this.#ask({ kind: "events", ...query, limit });
  }

  async readings(query: {
    readonly sensorId: string;
    readonly from_epochMs: number;
    readonly to_epochMs: number;
  }): Promise<readonly ReadingSummary[]> {
    const { raw, rows } = await this.#ask({ kind: "readings", ...query });
    if (!raw) return rows;
    const onDiskUntil_epochMs = rows.at(-1)?.from_epochMs ?? -Infinity;
    const inMemory = this.#queue
      .readingsInMemory(query.sensorId)
      .filter(
        ({ at_epochMs }) =>
          at_epochMs > onDiskUntil_epochMs &&
          at_epochMs >= query.from_epochMs &&
          at_epochMs < query.to_epochMs,
      )
      .map(({ sensorId, quantity, value, at_epochMs }) => ({
        sensorId,
        quantity,
        from_epochMs: at_epochMs,
        minimum: value,
        mean: value,
        maximum: value,
        count: 1,
      }));
    return [...rows, ...inMemory];
  }

  async runHousekeeping(now_epochMs: number): Promise<HousekeepingOutcome> {
    try {
      return await this.#ask({ kind: "housekeeping", now_epochMs }, Infinity);
    } catch (error) {
      return { kind: "failed", reason: error instanceof Error ? error.message : String(error) };
    }
  }

  async backupTo(file: string, content: BackupContent): Promise<BackupOutcome> {
    try {
      return await this.#ask({ kind: "backup", file, content }, Infinity);
    } catch (error) {
      return { kind: "failed", reason: error instanceof Error ? error.message : String(error) };
    }
  }

  latestKnown_epochMs(): number | undefined {
    return this.#latestKnown_epochMs;
  }

  health(): StoreHealth {
    if (this.#outages.current !== undefined) {
      const { fault, since_monotonicMs } = this.#outages.current;
      return { kind: "failing", reason: `${fault.reason}; ${fault.whatToDo}`, since_monotonicMs };
    }
    const oldest_monotonicMs = this.#queue.oldestUnanswered_monotonicMs();
    const waited_ms = oldest_monotonicMs === undefined ? 0 : this.#elapsed_monotonicMs() - oldest_monotonicMs;
    if (oldest_monotonicMs !== undefined && waited_ms > this.#timing.unansweredLimit_ms) {
      return {
        kind: "failing",
        reason: `the disk has not answered a write for ${Math.round(waited_ms / 1000)} s; look into the kernel log and check the card or disk`,
        since_monotonicMs: oldest_monotonicMs,
      };
    }
    return {
      kind: "ok",
      ...(this.#note === undefined ? {} : { note: this.#note }),
      ...(this.#lostTheLatest ? { lostTheLatest: true } : {}),
    };
  }

  #whyNot(): string {
    const health = this.health();
    return health.kind === "failing" ? health.reason : "the store refused it; the daemon's log says why";
  }

  /** While the disk is known to fail nobody waits for the next try. */
  #firstAnswer(onDisk: Promise<boolean>): Promise<boolean> {
    return this.#outages.current === undefined ? onDisk : Promise.resolve(false);
  }

  #elapsed_monotonicMs(): number {
    return this.#clock.monotonic_ms();
  }

  #openThread(how: "full" | "probe"): void {
    this.#phase = "opening";
    this.#link.send({ kind: "open", how, now_epochMs: this.#clock.now_epochMs() });
  }

  #hear(message: FromStoreWorker): void {
    if (this.#phase === "stopped" && message.kind !== "written") return;
    switch (message.kind) {
      case "opened":
        this.#hearOpened(message.opening);
        return;
      case "unusable":
        if (this.#settleStart !== undefined) this.#refuseStart(message.fault);
        else this.#fail(message.fault);
        return;
      case "fileLost":
        this.#fail(message.fault);
        return;
      case "written":
        this.#queue.confirm(message.writeId);
        this.#recoverWhenDrained();
        this.#pump();
        return;
      case "writeFailed":
        if (message.fault.kind === "disk") {
          this.#queue.keep(message.writeId);
          this.#fail(message.fault);
        } else {
          this.#queue.refuse(message.writeId);
          this.#logger.error({ reason: message.fault.reason }, "the store refused a write, which is lost");
          this.#pump();
        }
        return;
      case "answer":
        this.#questions.answer(message.queryId, message.answer);
        return;
      case "queryFailed":
        this.#questions.refuse(message.queryId, message.fault.reason);
        if (message.fault.needsReopen && this.#phase === "open") this.#fail(message.fault);
        return;
      case "closed":
        return;
    }
  }

  #hearOpened(opening: StoreOpening | undefined): void {
    this.#phase = "open";
    if (opening !== undefined) this.#takeOver(opening);
    if (this.#settleStart !== undefined) {
      this.#settleStart.resolve();
      this.#settleStart = undefined;
    }
    this.#recoverWhenDrained();
    this.#pump();
  }

  #takeOver(opening: StoreOpening): void {
    this.#queue.continueAfter(opening.highestEventId);
    this.#nextJournalId = Math.max(this.#nextJournalId, opening.highestJournalId + 1);
    this.#latestKnown_epochMs ??= opening.latestKnown_epochMs;
    const { setAside, logDamage, migratedFrom, schemaVersion, backupFile, fileReturn } = opening;
    if (migratedFrom !== undefined) {
      this.#record("migrated", `schema version ${schemaVersion} follows ${migratedFrom}`, { backupFile });
    }
    if (fileReturn !== undefined) {
      const { how, keptBeside } = fileReturn;
      this.#logger.error(
        { reason: how, keptAs: keptBeside },
        "the database file was taken away while the daemon ran",
      );
      this.#record("file taken away", how, keptBeside === undefined ? {} : { keptBeside });
    }
    // While the daemon runs its own latest states outrank the copy.
    if (opening.isCopyPutBack && fileReturn === undefined) this.#tellCopyPutBack(opening);
    if (logDamage !== undefined) this.#tellLogDamage(logDamage);
    if (setAside !== undefined) this.#tellSetAside(setAside);
    if ([setAside, logDamage, fileReturn].some((found) => found !== undefined)) this.#saveAgain();
  }

  #tellCopyPutBack({ latestKnown_epochMs }: StoreOpening): void {
    const until = latestKnown_epochMs === undefined ? "" : ` ${new Date(latestKnown_epochMs).toISOString()}`;
    this.#note = `a copy of the database was put back; it knows nothing of what came after${until}`;
    this.#lostTheLatest = true;
    this.#logger.warn(
      { until: until === "" ? undefined : until.trim() },
      "a copy of the database was put back",
    );
    this.#record("copy put back", this.#note, {});
  }

  #tellLogDamage({ reason, keptAs }: NonNullable<StoreOpening["logDamage"]>): void {
    this.#note = `${reason}: what was written last before the start is lost; a copy lies at ${keptAs}`;
    this.#lostTheLatest = true;
    this.#logger.error({ reason, keptAs }, "the log beside the database was damaged");
    this.#record("log damaged", reason, { keptAs });
  }

  #tellSetAside(setAside: NonNullable<StoreOpening["setAside"]>): void {
    this.#note = `the database was damaged and is set aside as ${setAside.file}; the history begins anew`;
    this.#logger.error({ ...setAside }, "the database was damaged; it is set aside and a fresh one begun");
    this.#record("set aside", setAside.reason, {
      file: setAside.file,
      snapshotsKept: setAside.snapshotsKept,
      journalKept: setAside.journalKept,
    });
  }

  /** What the daemon believes at this moment outranks what another file holds. */
  #saveAgain(): void {
    const now_monotonicMs = this.#elapsed_monotonicMs();
    for (const [name, json] of this.#latestSnapshots) {
      void this.#queue.addSnapshot(name, json, Math.round(this.#clock.now_epochMs()), now_monotonicMs);
    }
  }

  #refuseStart(fault: StoreFault): void {
    this.#settleStart?.reject(new StoreUnusableError(this.#options.file, fault.reason, fault.whatToDo));
    this.#settleStart = undefined;
    this.#phase = "stopped";
    this.#end.abort();
    void this.#link.close();
  }

  #mournThread(reason: string): void {
    const fault: StoreFault = {
      kind: "disk",
      code: "",
      reason: `the storage thread ended (${reason})`,
      whatToDo: "it is started again; should this repeat, install the program anew",
      needsReopen: true,
    };
    this.#queue.keepAllInFlight();
    this.#questions.refuseAll(fault.reason);
    if (this.#settleStart !== undefined) this.#refuseStart(fault);
    else if (this.#phase !== "stopped") this.#fail(fault);
  }

  #fail(fault: StoreFault): void {
    const now_monotonicMs = this.#elapsed_monotonicMs();
    if (this.#outages.add(fault, now_monotonicMs)) {
      this.#logger.error({ reason: fault.reason, whatToDo: fault.whatToDo }, "the store can not write");
    }
    this.#queue.giveUpWaiting(0, now_monotonicMs);
    this.#whenDrained?.();
    if (this.#phase === "waiting") return;
    this.#phase = "waiting";
    this.#outages.waitForRetry(now_monotonicMs);
  }

  #retry(): void {
    this.#openThread(this.#outages.current?.fault.needsReopen === false ? "probe" : "full");
  }

  /** A small write may fit where a batch does not: only when all that waited is on disk does writing work again. */
  #recoverWhenDrained(): void {
    const outage = this.#outages.current;
    if (outage === undefined || this.#phase !== "open" || !this.#queue.isDrained) return;
    this.#outages.end();
    const failed_s = Math.round((this.#elapsed_monotonicMs() - outage.since_monotonicMs) / 1000);
    const readingsDropped = this.#queue.readingsDropped - this.#dropsReported;
    this.#dropsReported = this.#queue.readingsDropped;
    this.#logger.info({ failed_s, dropped: readingsDropped }, "the store writes again");
    this.#record("recovered", outage.fault.reason, {
      failed_s,
      readingsDropped,
      eventsDropped: this.#queue.eventsDropped,
    });
  }

  #record(what: string, reason: string, details: Readonly<Record<string, unknown>>): void {
    void this.recordEvent({
      at_epochMs: this.#clock.now_epochMs(),
      area: "store",
      subject: "",
      what,
      reason,
      details,
    });
  }

  #pump(): void {
    if (this.#phase !== "open") return;
    const now_monotonicMs = this.#elapsed_monotonicMs();
    // While it is not known whether writing works again, one write goes ahead of the others.
    const take = (): ReturnType<WriteQueue["take"]> =>
      this.#outages.current === undefined
        ? this.#queue.takeAny(now_monotonicMs)
        : this.#queue.take(1, now_monotonicMs);
    for (let next = take(); next !== undefined; next = take()) {
      const { writeId, write } = next;
      const sent = write.kind === "readings" ? packReadings(write.readings) : write;
      this.#link.send({ kind: "write", writeId, write: sent });
    }
    if (this.#queue.isDrained) this.#whenDrained?.();
  }

  async #withinStopLimit(work: Promise<void>): Promise<void> {
    const over = new AbortController();
    await Promise.race([work, this.#clock.sleep(this.#timing.stopLimit_ms, over.signal)]);
    over.abort();
  }

  #ask<Kind extends StoreQuery["kind"]>(
    query: Extract<StoreQuery, { kind: Kind }>,
    limit_s = this.#timing.queryLimit_ms / 1000,
  ): Promise<StoreAnswers[Kind]> {
    if (this.#phase === "new" || this.#phase === "stopped") {
      return Promise.reject(new StoreUnavailableError("it is not open"));
    }
    return this.#questions.ask<Kind>(this.#elapsed_monotonicMs() + limit_s * 1000, (queryId) =>
      this.#link.send({ kind: "query", queryId, query }),
    );
  }

  async #tickUntilStopped(): Promise<void> {
    this.#batchDue_monotonicMs = this.#elapsed_monotonicMs() + this.#options.batch_s * 1000;
    while (!this.#end.signal.aborted) {
      await this.#clock.sleep(this.#timing.tick_ms, this.#end.signal);
      this.#tick(this.#elapsed_monotonicMs());
    }
  }

  #tick(now_monotonicMs: number): void {
    if (now_monotonicMs >= this.#batchDue_monotonicMs) {
      this.#queue.makeReadingsDue();
      this.#batchDue_monotonicMs = now_monotonicMs + this.#options.batch_s * 1000;
    }
    if (this.#phase === "waiting" && this.#outages.isRetryDue(now_monotonicMs)) this.#retry();
    this.#queue.giveUpWaiting(this.#timing.unansweredLimit_ms, now_monotonicMs);
    this.#questions.refuseOverdue(now_monotonicMs);
    this.#pump();
  }
}
