import type { MeasuredQuantity } from "../../lib/readings/reading.js";

export interface StoredReading {
  readonly sensorId: string;
  readonly quantity: MeasuredQuantity;
  readonly value: number;
  readonly at_epochMs: number;
}

/** Something that was done or believed, with its reason. Durable at once. */
export interface SiteEvent {
  readonly at_epochMs: number;
  /** "valve", "alarm", "trip", "override", "config", "charge", "clock", "daemon", "store" ... */
  readonly area: string;
  /** The vessel, valve, tank or sensor it is about; empty for the whole site. */
  readonly subject: string;
  /** What happened, in the past tense: "opened", "closed", "raised", "cleared" ... */
  readonly what: string;
  readonly reason: string;
  readonly details: Readonly<Record<string, unknown>>;
}

export type StoreHealth =
  /** `note`: writing works, but something about the history must be known, as a damaged file set aside. */
  | {
      readonly kind: "ok";
      readonly note?: string;
      /** The saved states may be of earlier than the last that were saved. */
      readonly lostTheLatest?: boolean;
    }
  | { readonly kind: "failing"; readonly reason: string; readonly since_monotonicMs: number };

/** A reading rolled up over a span, or a raw one (count 1). */
export interface ReadingSummary {
  readonly sensorId: string;
  readonly quantity: MeasuredQuantity;
  readonly from_epochMs: number;
  readonly minimum: number;
  readonly mean: number;
  readonly maximum: number;
  readonly count: number;
}

/** A journal entry as the store keeps it: what the fact says is the journal's matter, not the store's. */
export interface NewJournalRow {
  readonly at_epochMs: number;
  readonly enteredAt_epochMs: number;
  readonly source: "local" | "remote";
  /** The kind of the fact, or "withdrawal". */
  readonly kind: string;
  readonly subject: string;
  readonly factJson: string;
  readonly note: string;
  /** Only of a withdrawal: the entry that no longer counts. An entry is withdrawn once. */
  readonly withdraws?: number;
}

export interface StoredJournalRow extends Omit<NewJournalRow, "withdraws"> {
  readonly entryId: number;
  readonly withdrawn: boolean;
  readonly withdrawnAt_epochMs?: number;
}

export type JournalKeeping =
  | { readonly kind: "kept"; readonly entryId: number }
  /** Not on disk and not tried again. `reason` says what to do. */
  | { readonly kind: "not kept"; readonly reason: string };

/** A message to a person, which goes out until its channel has taken it. */
export interface OutboxMessage {
  /** Stays the same however often it is tried: a receiver that has it knows it by that. */
  readonly messageKey: string;
  readonly channel: string;
  readonly createdAt_epochMs: number;
  /** What it says is the alerts' matter, not the store's. */
  readonly contentJson: string;
}

export interface SettledMessage {
  readonly messageKey: string;
  readonly outcome: "delivered" | "given up";
  readonly at_epochMs: number;
}

/** All of it is on disk, or nothing. */
export interface OutboxChange {
  readonly added: readonly OutboxMessage[];
  readonly settled: readonly SettledMessage[];
  /** A state that belongs to it, as `saveSnapshot` takes it. */
  readonly snapshot?: { readonly name: string; readonly state: unknown };
}

export type HousekeepingOutcome =
  | {
      readonly kind: "done";
      readonly slices: number;
      /** The longest time for which the work kept other writes waiting. */
      readonly longestSlice_ms: number;
      readonly deletedRows: number;
    }
  | { readonly kind: "failed"; readonly reason: string };

/** "without readings": states, journal, events and messages, but none of the measured values, which are nearly all of the size. */
export type BackupContent = "everything" | "without readings";

export type BackupOutcome =
  | { readonly kind: "verified"; readonly file: string; readonly size_bytes: number }
  | { readonly kind: "failed"; readonly reason: string };

/**
 * Everything that survives a restart. No method blocks or throws because the disk is slow or full; only the
 * queries of history and journal can reject, and the control path never asks them.
 */
export interface SiteStore {
  /** Opens, migrates (with a backup before) and resolves when writing works; else rejects with its reason. */
  start(): Promise<void>;
  /** Flushes and closes, within a few seconds even where the disk does not answer. */
  stop(): Promise<void>;
  /** Batched; may be lost in a power cut up to the batch interval. */
  appendReading(reading: StoredReading): void;
  /**
   * Resolves true once the event is on disk. Resolves false when the first try failed or was not answered in
   * time: the event is then kept in memory and tried again, so the caller need not repeat it. Never rejects.
   */
  recordEvent(event: SiteEvent): Promise<boolean>;
  /** Replaces the state that a restart goes on from. Durable, and false, as events are. */
  saveSnapshot(name: string, state: unknown): Promise<boolean>;
  /** The last saved state, or undefined when there is none or it can not be read (an event then says so). */
  loadSnapshot(name: string): Promise<unknown>;
  /** Durable, and false, as events are. */
  keepOutbox(change: OutboxChange): Promise<boolean>;
  /**
   * The messages that are not settled, oldest first.
   * @throws StoreUnavailableError when the store does not answer in time.
   */
  waitingMessages(): Promise<readonly OutboxMessage[]>;
  /**
   * Resolves "kept" once the entry is on disk, and "not kept" when it cannot be brought there: unlike an event it is then
   * forgotten, since a person waits for the answer and enters it again. Unanswered while the disk is. Never rejects.
   */
  keepJournalRow(row: NewJournalRow): Promise<JournalKeeping>;
  /**
   * Of each kind and subject the newest `perSubject` entries that count and as many withdrawn ones, oldest first. The
   * withdrawals themselves are not among them.
   * @throws StoreUnavailableError when the store does not answer in time.
   */
  recentJournal(query: { readonly perSubject: number }): Promise<readonly StoredJournalRow[]>;
  /**
   * The newest `limit` events with from <= at < to, oldest first.
   * @throws StoreUnavailableError when the store does not answer in time.
   */
  events(query: {
    readonly from_epochMs: number;
    readonly to_epochMs: number;
    readonly limit: number;
  }): Promise<readonly SiteEvent[]>;
  /**
   * Readings with from <= at < to, oldest first: raw while they are kept and few, else rolled up so that a chart
   * gets at most some thousand rows.
   * @throws StoreUnavailableError when the store does not answer in time.
   */
  readings(query: {
    readonly sensorId: string;
    readonly from_epochMs: number;
    readonly to_epochMs: number;
  }): Promise<readonly ReadingSummary[]>;
  /** Rolls up and deletes by the retention, in slices between other writes. Safe to repeat and to interrupt. */
  runHousekeeping(now_epochMs: number): Promise<HousekeepingOutcome>;
  /**
   * Copies the running database to a file of its own and checks the copy. Replaces an older file of that name. A copy that is
   * put in the database's place is known as one: its states count as of earlier than the last that were saved.
   */
  backupTo(file: string, content: BackupContent): Promise<BackupOutcome>;
  /** The latest instant found in the store at start; a civil clock before it is not plausible. */
  latestKnown_epochMs(): number | undefined;
  health(): StoreHealth;
}
