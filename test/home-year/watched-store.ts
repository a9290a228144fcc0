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
} from "../../daemon/ports/site-store.js";

/** A message that its channel does not take is waited for no longer, in machine time. */
const longestDelivery_ms = 2000;

/**
 * A store between the daemon and the real one, of which one can know when it owes no answer: simulated time goes on only then,
 * since the disk does not run faster. Cut off, as by a kill, nothing more reaches the disk.
 */
export class WatchedStore implements SiteStore {
  readonly #store: SiteStore;
  readonly #undelivered = new Map<string, number>();
  #owed = 0;
  #isCutOff = false;
  #hasReadings = false;

  constructor(store: SiteStore) {
    this.#store = store;
  }

  /** Resolves once every write and question is answered, and every alert is with its receiver. */
  async settled(): Promise<void> {
    for (;;) {
      const patience_ms = performance.now() - longestDelivery_ms;
      for (const [key, since_ms] of this.#undelivered) {
        if (since_ms < patience_ms) this.#undelivered.delete(key);
      }
      if (this.#owed === 0 && this.#undelivered.size === 0) return;
      await new Promise((resolve) => setImmediate(resolve));
    }
  }

  /** Resolves once the readings that were handed to the store's thread before are written: it answers in order. */
  async readingsWritten(): Promise<void> {
    if (!this.#hasReadings || this.#isCutOff) return;
    this.#hasReadings = false;
    await this.#store.loadSnapshot("nothing of this name");
  }

  cutOff(): void {
    this.#isCutOff = true;
    this.#undelivered.clear();
  }

  start(): Promise<void> {
    return this.#store.start();
  }

  stop(): Promise<void> {
    return this.#store.stop();
  }

  appendReading(reading: StoredReading): void {
    if (this.#isCutOff) return;
    this.#hasReadings = true;
    this.#store.appendReading(reading);
  }

  recordEvent(event: SiteEvent): Promise<boolean> {
    return this.#written(() => this.#store.recordEvent(event));
  }

  saveSnapshot(name: string, state: unknown): Promise<boolean> {
    return this.#written(() => this.#store.saveSnapshot(name, state));
  }

  keepOutbox(change: OutboxChange): Promise<boolean> {
    if (!this.#isCutOff) {
      for (const { messageKey } of change.added) this.#undelivered.set(messageKey, performance.now());
    }
    for (const { messageKey } of change.settled) this.#undelivered.delete(messageKey);
    return this.#written(() => this.#store.keepOutbox(change));
  }

  keepJournalRow(row: NewJournalRow): Promise<JournalKeeping> {
    if (this.#isCutOff) return Promise.resolve({ kind: "not kept", reason: "the daemon was killed" });
    return this.#answered(this.#store.keepJournalRow(row));
  }

  loadSnapshot(name: string): Promise<unknown> {
    return this.#answered(this.#store.loadSnapshot(name));
  }

  waitingMessages(): Promise<readonly OutboxMessage[]> {
    return this.#answered(this.#store.waitingMessages());
  }

  recentJournal(query: { readonly perSubject: number }): Promise<readonly StoredJournalRow[]> {
    return this.#answered(this.#store.recentJournal(query));
  }

  events(query: Parameters<SiteStore["events"]>[0]): Promise<readonly SiteEvent[]> {
    return this.#answered(this.#store.events(query));
  }

  readings(query: Parameters<SiteStore["readings"]>[0]): Promise<readonly ReadingSummary[]> {
    return this.#answered(this.#store.readings(query));
  }

  runHousekeeping(now_epochMs: number): Promise<HousekeepingOutcome> {
    return this.#answered(this.#store.runHousekeeping(now_epochMs));
  }

  backupTo(file: string, content: BackupContent): Promise<BackupOutcome> {
    return this.#answered(this.#store.backupTo(file, content));
  }

  latestKnown_epochMs(): number | undefined {
    return this.#store.latestKnown_epochMs();
  }

  health(): StoreHealth {
    return this.#store.health();
  }

  #written(write: () => Promise<boolean>): Promise<boolean> {
    return this.#isCutOff ? Promise.resolve(false) : this.#answered(write());
  }

  async #answered<Answer>(answer: Promise<Answer>): Promise<Answer> {
    this.#owed += 1;
    try {
      return await answer;
    } finally {
      this.#owed -= 1;
    }
  }
}
