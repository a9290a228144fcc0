import type { SiteEvent, StoredReading } from "../ports/site-store.js";
import type { JournalColumns } from "./journal-table.js";
import type { StoreWrite } from "./store-messages.js";

export interface WriteQueueBounds {
  /** Readings in memory, about 100 bytes each; beyond it the oldest go. */
  readonly mostReadings: number;
  /** Events in memory; only a disk that fails for days reaches it. */
  readonly mostEvents: number;
  /** Readings in one transaction. */
  readonly largestBatch: number;
  /** Durable writes handed over and not yet answered. */
  readonly window: number;
}

export const defaultBounds: WriteQueueBounds = {
  mostReadings: 30_000,
  mostEvents: 10_000,
  largestBatch: 2000,
  window: 16,
};

interface Pending {
  readonly writeId: number;
  readonly write: StoreWrite;
  readonly accepted_monotonicMs: number;
  /** Who waits for the outcome; emptied by the first answer, while the write itself is kept until it succeeds. */
  readonly waiting: ((onDisk: boolean) => void)[];
}

/**
 * What is not yet on disk, in memory and bounded: events and snapshots in their order, readings in batches.
 * A write that was handed over stays here until it is confirmed, so that nothing hangs on the storage thread's life.
 */
export class WriteQueue {
  readonly #bounds: WriteQueueBounds;
  #nextWriteId = 1;
  #nextEventId = 1;
  #durable: Pending[] = [];
  #inFlight = new Map<number, Pending>();
  #readings: StoredReading[] = [];
  #readingsDue = 0;
  #readingsDropped = 0;
  #eventsDropped = 0;

  constructor(bounds: WriteQueueBounds) {
    this.#bounds = bounds;
  }

  get readingsDropped(): number {
    return this.#readingsDropped;
  }

  get eventsDropped(): number {
    return this.#eventsDropped;
  }

  /** True when everything that is due is on disk; readings that wait for their batch do not count. */
  get isDrained(): boolean {
    return this.#durable.length === 0 && this.#inFlight.size === 0 && this.#readingsDue === 0;
  }

  /** Event ids go on after those in the file. */
  continueAfter(highestEventId: number): void {
    this.#nextEventId = Math.max(this.#nextEventId, highestEventId + 1);
  }

  /** True where a batch is now to be written. */
  addReading(reading: StoredReading): boolean {
    this.#readings.push(reading);
    this.#dropOldestReadings();
    if (this.#readings.length < this.#bounds.largestBatch) return false;
    this.makeReadingsDue();
    return true;
  }

  countDroppedReading(): void {
    this.#readingsDropped++;
  }

  makeReadingsDue(): void {
    this.#readingsDue = this.#readings.length;
  }

  addEvent(event: SiteEvent, detailsJson: string, now_monotonicMs: number): Promise<boolean> {
    const { at_epochMs, area, subject, what, reason } = event;
    const waiting = this.#append(
      {
        kind: "event",
        eventId: this.#nextEventId++,
        event: { at_epochMs, area, subject, what, reason },
        detailsJson,
      },
      now_monotonicMs,
    );
    this.#dropOldestEvent();
    return new Promise((resolve) => waiting.push(resolve));
  }

  /** Tried once: who entered it waits for the answer, and enters it again when it was not kept. */
  addJournalRow(row: JournalColumns, now_monotonicMs: number): Promise<boolean> {
    const waiting = this.#append({ kind: "journal", row }, now_monotonicMs);
    return new Promise((resolve) => waiting.push(resolve));
  }

  addOutbox(write: Extract<StoreWrite, { kind: "outbox" }>, now_monotonicMs: number): Promise<boolean> {
    const waiting = this.#append(write, now_monotonicMs);
    return new Promise((resolve) => waiting.push(resolve));
  }

  /** A newer state of the same name takes the place of one that was not handed over yet. */
  addSnapshot(name: string, json: string, at_epochMs: number, now_monotonicMs: number): Promise<boolean> {
    const older = this.#durable.findIndex(({ write }) => write.kind === "snapshot" && write.name === name);
    const superseded = older === -1 ? [] : this.#durable.splice(older, 1);
    const accepted_monotonicMs = superseded[0]?.accepted_monotonicMs ?? now_monotonicMs;
    const waiting = this.#append({ kind: "snapshot", name, json, at_epochMs }, accepted_monotonicMs);
    waiting.push(...superseded.flatMap((pending) => pending.waiting));
    return new Promise((resolve) => waiting.push(resolve));
  }

  /** The next write to hand over, or undefined when there is none or enough are under way. */
  take(window: number, now_monotonicMs: number): { writeId: number; write: StoreWrite } | undefined {
    if (this.#inFlight.size >= Math.min(window, this.#bounds.window)) return undefined;
    const pending = this.#durable.shift() ?? this.#takeBatch(now_monotonicMs);
    if (pending === undefined) return undefined;
    this.#inFlight.set(pending.writeId, pending);
    return { writeId: pending.writeId, write: pending.write };
  }

  takeAny(now_monotonicMs: number): { writeId: number; write: StoreWrite } | undefined {
    return this.take(this.#bounds.window, now_monotonicMs);
  }

  confirm(writeId: number): void {
    const pending = this.#inFlight.get(writeId);
    this.#inFlight.delete(writeId);
    answer(pending, true);
  }

  /** The write itself is wrong and would fail for ever. */
  refuse(writeId: number): void {
    const pending = this.#inFlight.get(writeId);
    this.#inFlight.delete(writeId);
    if (pending?.write.kind === "readings") this.#readingsDropped += pending.write.readings.length;
    if (pending?.write.kind === "event") this.#eventsDropped++;
    answer(pending, false);
  }

  /** The disk failed: whoever waits hears it, the write is kept for another try. */
  keep(writeId: number): void {
    const pending = this.#inFlight.get(writeId);
    this.#inFlight.delete(writeId);
    if (pending === undefined) return;
    answer(pending, false);
    if (pending.write.kind === "journal") return;
    if (pending.write.kind === "readings") {
      this.#readings = [...pending.write.readings, ...this.#readings];
      this.#readingsDue += pending.write.readings.length;
      this.#dropOldestReadings();
      return;
    }
    const { write } = pending;
    const isSuperseded =
      write.kind === "snapshot" &&
      [...this.#durable, ...this.#inFlight.values()].some(
        (other) =>
          other.writeId > writeId && other.write.kind === "snapshot" && other.write.name === write.name,
      );
    if (isSuperseded) return;
    const later = this.#durable.findIndex((other) => other.writeId > writeId);
    this.#durable.splice(later === -1 ? this.#durable.length : later, 0, pending);
    this.#dropOldestEvent();
  }

  /** The storage thread is gone, and with it every answer that was still to come. */
  keepAllInFlight(): void {
    for (const writeId of [...this.#inFlight.keys()].sort((a, b) => b - a)) this.keep(writeId);
  }

  /**
   * Answers "not on disk" to all who have waited as long as the limit; their writes stay. Journal rows do not: those not
   * handed over are forgotten, and those under way wait on, since only their outcome says whether they were kept.
   */
  giveUpWaiting(limit_ms: number, now_monotonicMs: number): void {
    const isOverdue = ({ accepted_monotonicMs }: Pending): boolean =>
      now_monotonicMs - accepted_monotonicMs >= limit_ms;
    for (const pending of this.#inFlight.values()) {
      if (isOverdue(pending) && pending.write.kind !== "journal") answer(pending, false);
    }
    for (const pending of this.#durable.filter(isOverdue)) answer(pending, false);
    this.#durable = this.#durable.filter(
      (pending) => pending.write.kind !== "journal" || !isOverdue(pending),
    );
  }

  /** Nobody is told any more how it ended. */
  endWaiting(): void {
    for (const pending of [...this.#inFlight.values(), ...this.#durable]) answer(pending, false);
  }

  /** Since when the oldest write that is due has waited for its answer. */
  oldestUnanswered_monotonicMs(): number | undefined {
    let oldest_monotonicMs: number | undefined;
    for (const { accepted_monotonicMs } of [...this.#inFlight.values(), ...this.#durable]) {
      if (oldest_monotonicMs === undefined || accepted_monotonicMs < oldest_monotonicMs) {
        oldest_monotonicMs = accepted_monotonicMs;
      }
    }
    return oldest_monotonicMs;
  }

  /** Readings of one sensor that are not on disk yet, oldest first. */
  readingsInMemory(sensorId: string): readonly StoredReading[] {
    const underWay = [...this.#inFlight.values()].flatMap(({ write }) =>
      write.kind === "readings" ? write.readings : [],
    );
    return [...underWay, ...this.#readings].filter((reading) => reading.sensorId === sensorId);
  }

  #append(write: StoreWrite, accepted_monotonicMs: number): Pending["waiting"] {
    const pending: Pending = { writeId: this.#nextWriteId++, write, accepted_monotonicMs, waiting: [] };
    this.#durable.push(pending);
    return pending.waiting;
  }

  #takeBatch(now_monotonicMs: number): Pending | undefined {
    if (this.#readingsDue === 0) return undefined;
    // One batch at a time, so that a kill loses no more than one.
    for (const { write } of this.#inFlight.values()) if (write.kind === "readings") return undefined;
    const readings = this.#readings.splice(0, Math.min(this.#readingsDue, this.#bounds.largestBatch));
    this.#readingsDue -= readings.length;
    return {
      writeId: this.#nextWriteId++,
      write: { kind: "readings", readings },
      accepted_monotonicMs: now_monotonicMs,
      waiting: [],
    };
  }

  #dropOldestReadings(): void {
    // Above the bound a tenth goes at once: shifting a long array for every reading would cost time.
    const excess = this.#readings.length - this.#bounds.mostReadings;
    if (excess <= 0) return;
    const dropped = Math.max(excess, Math.ceil(this.#bounds.mostReadings / 10));
    this.#readings.splice(0, dropped);
    this.#readingsDue = Math.max(0, this.#readingsDue - dropped);
    this.#readingsDropped += dropped;
  }

  #dropOldestEvent(): void {
    // Snapshots are one for each name, so the bound is about events.
    if (this.#durable.length <= this.#bounds.mostEvents) return;
    const oldest = this.#durable.findIndex(({ write }) => write.kind === "event");
    const [dropped] = oldest === -1 ? [] : this.#durable.splice(oldest, 1);
    if (dropped === undefined) return;
    this.#eventsDropped++;
    answer(dropped, false);
  }
}

const answer = (pending: Pending | undefined, onDisk: boolean): void => {
  for (const resolve of pending?.waiting.splice(0) ?? []) resolve(onDisk);
};
