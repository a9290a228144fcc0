import type {
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
} from "../../daemon/ports/site-store.js";
import { floorTo, mostRows, summaryWidth_ms } from "../../daemon/store/summary-width.js";

/** What is left when a MemorySiteStore is stopped or dropped; hand it to the next one to play a restart. */
export class MemoryDisk {
  readonly readings: StoredReading[] = [];
  readonly events: SiteEvent[] = [];
  readonly journal: (NewJournalRow & { readonly entryId: number })[] = [];
  readonly outbox = new Map<string, OutboxMessage & { readonly state: string }>();
  readonly snapshots = new Map<string, { readonly json: string; readonly at_epochMs: number }>();
}

/** The store port in memory: real behaviour without a disk, and a disk that can be made to fail. */
export class MemorySiteStore implements SiteStore {
  readonly #disk: MemoryDisk;
  readonly #now_epochMs: () => number;
  #failure: Extract<StoreHealth, { kind: "failing" }> | undefined;
  #unwritten: (() => void)[] = [];
  #latestKnown_epochMs: number | undefined;
  #isOpen = false;

  constructor(now_epochMs: () => number, disk = new MemoryDisk()) {
    this.#now_epochMs = now_epochMs;
    this.#disk = disk;
  }

  /** From now on nothing reaches the disk, until `recover`. */
  fail(reason: string, since_monotonicMs: number): void {
    this.#failure = { kind: "failing", reason, since_monotonicMs };
  }

  recover(): void {
    this.#failure = undefined;
    for (const write of this.#unwritten.splice(0)) write();
  }

  start(): Promise<void> {
    const instants = [
      ...this.#disk.readings.map((reading) => reading.at_epochMs),
      ...this.#disk.events.map((event) => event.at_epochMs),
      ...this.#disk.journal.map((row) => row.enteredAt_epochMs),
      ...[...this.#disk.snapshots.values()].map((snapshot) => snapshot.at_epochMs),
    ];
    this.#latestKnown_epochMs = instants.length === 0 ? undefined : Math.max(...instants);
    this.#isOpen = true;
    return Promise.resolve();
  }

  stop(): Promise<void> {
    this.#isOpen = false;
    return Promise.resolve();
  }

  appendReading(reading: StoredReading): void {
    if (!Number.isFinite(reading.value) || !Number.isFinite(reading.at_epochMs)) return;
    void this.#write(() => this.#disk.readings.push({ ...reading }));
  }

  recordEvent(event: SiteEvent): Promise<boolean> {
    return this.#write(() => this.#disk.events.push(structuredClone(event)));
  }

  saveSnapshot(name: string, state: unknown): Promise<boolean> {
    let json: string;
    try {
      json = JSON.stringify({ state });
    } catch {
      return Promise.resolve(false);
    }
    const at_epochMs = this.#now_epochMs();
    return this.#write(() => this.#disk.snapshots.set(name, { json, at_epochMs }));
  }

  loadSnapshot(name: string): Promise<unknown> {
    const saved = this.#disk.snapshots.get(name);
    if (saved === undefined) return Promise.resolve(undefined);
    return Promise.resolve((JSON.parse(saved.json) as { readonly state?: unknown }).state);
  }

  keepOutbox({ added, settled, snapshot }: OutboxChange): Promise<boolean> {
    const at_epochMs = this.#now_epochMs();
    return this.#write(() => {
      for (const message of added) {
        if (!this.#disk.outbox.has(message.messageKey)) {
          this.#disk.outbox.set(message.messageKey, { ...message, state: "waiting" });
        }
      }
      for (const { messageKey, outcome } of settled) {
        const known = this.#disk.outbox.get(messageKey);
        if (known !== undefined) this.#disk.outbox.set(messageKey, { ...known, state: outcome });
      }
      if (snapshot === undefined) return;
      const json = JSON.stringify({ state: snapshot.state });
      this.#disk.snapshots.set(snapshot.name, { json, at_epochMs });
    });
  }

  waitingMessages(): Promise<readonly OutboxMessage[]> {
    return Promise.resolve(
      [...this.#disk.outbox.values()]
        .filter(({ state }) => state === "waiting")
        .map(({ messageKey, channel, createdAt_epochMs, contentJson }) => ({
          messageKey,
          channel,
          createdAt_epochMs,
          contentJson,
        })),
    );
  }

  keepJournalRow(row: NewJournalRow): Promise<JournalKeeping> {
    if (!this.#isOpen) return Promise.resolve({ kind: "not kept", reason: "the store is stopped" });
    if (this.#failure !== undefined) {
      return Promise.resolve({ kind: "not kept", reason: this.#failure.reason });
    }
    const isWithdrawn = (entryId: number): boolean =>
      this.#disk.journal.some(({ withdraws }) => withdraws === entryId);
    if (row.withdraws !== undefined && isWithdrawn(row.withdraws)) {
      return Promise.resolve({ kind: "not kept", reason: "it is withdrawn already" });
    }
    const entryId = Math.max(0, ...this.#disk.journal.map((known) => known.entryId)) + 1;
    this.#disk.journal.push({ ...row, entryId });
    return Promise.resolve({ kind: "kept", entryId });
  }

  recentJournal({ perSubject }: { readonly perSubject: number }): Promise<readonly StoredJournalRow[]> {
    const gone = new Map(
      this.#disk.journal.map(({ withdraws, enteredAt_epochMs }) => [withdraws, enteredAt_epochMs]),
    );
    const newestFirst = this.#disk.journal
      .filter(({ withdraws }) => withdraws === undefined)
      .map((row): StoredJournalRow => {
        const withdrawnAt_epochMs = gone.get(row.entryId);
        return withdrawnAt_epochMs === undefined
          ? { ...row, withdrawn: false }
          : { ...row, withdrawn: true, withdrawnAt_epochMs };
      })
      .sort((a, b) => b.at_epochMs - a.at_epochMs || b.entryId - a.entryId);
    const counts = new Map<string, number>();
    const kept = newestFirst.filter(({ kind, subject, withdrawn }) => {
      const series = JSON.stringify([kind, subject, withdrawn]);
      const count = (counts.get(series) ?? 0) + 1;
      counts.set(series, count);
      return count <= perSubject;
    });
    return Promise.resolve(kept.reverse());
  }

  events(query: { from_epochMs: number; to_epochMs: number; limit: number }): Promise<readonly SiteEvent[]> {
    const inSpan = this.#disk.events
      .filter(({ at_epochMs }) => at_epochMs >= query.from_epochMs && at_epochMs < query.to_epochMs)
      .sort((a, b) => a.at_epochMs - b.at_epochMs);
    return Promise.resolve(query.limit > 0 ? inSpan.slice(-query.limit) : []);
  }

  readings(query: {
    sensorId: string;
    from_epochMs: number;
    to_epochMs: number;
  }): Promise<readonly ReadingSummary[]> {
    const inSpan = this.#disk.readings
      .filter(
        ({ sensorId, at_epochMs }) =>
          sensorId === query.sensorId && at_epochMs >= query.from_epochMs && at_epochMs < query.to_epochMs,
      )
      .sort((a, b) => a.at_epochMs - b.at_epochMs);
    const width_ms = inSpan.length <= mostRows ? 1 : summaryWidth_ms(query.to_epochMs - query.from_epochMs);
    const buckets = new Map<number, StoredReading[]>();
    for (const reading of inSpan) {
      const from_epochMs = floorTo(reading.at_epochMs, width_ms);
      buckets.set(from_epochMs, [...(buckets.get(from_epochMs) ?? []), reading]);
    }
    return Promise.resolve(
      [...buckets].map(([from_epochMs, readings]) => {
        const values = readings.map(({ value }) => value);
        return {
          sensorId: query.sensorId,
          quantity: readings[0]!.quantity,
          from_epochMs,
          minimum: Math.min(...values),
          mean: values.reduce((sum, value) => sum + value, 0) / values.length,
          maximum: Math.max(...values),
          count: values.length,
        };
      }),
    );
  }

  runHousekeeping(): Promise<HousekeepingOutcome> {
    return Promise.resolve({ kind: "done", slices: 0, longestSlice_ms: 0, deletedRows: 0 });
  }

  backupTo(): Promise<BackupOutcome> {
    return Promise.resolve({ kind: "failed", reason: "a store in memory has no file" });
  }

  latestKnown_epochMs(): number | undefined {
    return this.#latestKnown_epochMs;
  }

  health(): StoreHealth {
    return this.#failure ?? { kind: "ok" };
  }

  #write(write: () => void): Promise<boolean> {
    if (!this.#isOpen) return Promise.resolve(false);
    if (this.#failure !== undefined) {
      this.#unwritten.push(write);
      return Promise.resolve(false);
    }
    write();
    return Promise.resolve(true);
  }
}
