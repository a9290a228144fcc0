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
  /** "valve", "alarm", "trip", "override", "config", "charge", "clock", "daemon" ... */
  readonly area: string;
  /** The vessel, valve, tank or sensor it is about; empty for the whole site. */
  readonly subject: string;
  /** What happened, in the past tense: "opened", "closed", "raised", "cleared" ... */
  readonly what: string;
  readonly reason: string;
  readonly details: Readonly<Record<string, unknown>>;
}

export type StoreHealth =
  | { readonly kind: "ok" }
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

/** Everything that survives a restart. No method blocks or throws because the disk is slow or full. */
export interface SiteStore {
  /** Opens, migrates (with a backup before) and resolves when writing works. */
  start(): Promise<void>;
  /** Flushes and closes. */
  stop(): Promise<void>;
  /** Batched; may be lost in a power cut up to the batch interval. */
  appendReading(reading: StoredReading): void;
  /** Resolves true once the event is on disk, false when it could not be written; never rejects. */
  recordEvent(event: SiteEvent): Promise<boolean>;
  /** Replaces the state that a restart goes on from. Durable as events are. */
  saveSnapshot(name: string, state: unknown): Promise<boolean>;
  /** The last saved state, or undefined. */
  loadSnapshot(name: string): Promise<unknown>;
  events(query: {
    readonly from_epochMs: number;
    readonly to_epochMs: number;
    readonly limit: number;
  }): Promise<readonly SiteEvent[]>;
  readings(query: {
    readonly sensorId: string;
    readonly from_epochMs: number;
    readonly to_epochMs: number;
  }): Promise<readonly ReadingSummary[]>;
  /** The latest instant found in the store at start; a civil clock before it is not plausible. */
  latestKnown_epochMs(): number | undefined;
  health(): StoreHealth;
}
