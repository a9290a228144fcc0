/** What the two sides of the storage thread say to each other; plain data only, as it is cloned. */
import type {
  BackupContent,
  BackupOutcome,
  HousekeepingOutcome,
  OutboxMessage,
  ReadingSummary,
  SettledMessage,
  SiteEvent,
  StoredJournalRow,
  StoredReading,
} from "../ports/site-store.js";
import type { JournalColumns } from "./journal-table.js";
import type { FileReturn } from "./database-file.js";
import type { Migration } from "./migrate.js";
import type { PackedReadings } from "./packed-readings.js";
import type { Retention } from "./retention.js";
import type { StoreFault } from "./store-fault.js";

export interface StoreWorkerData {
  readonly file: string;
  readonly busyTimeout_ms: number;
  /** How often the folder is looked at for whether the file is still there. */
  readonly fileCheck_ms: number;
  readonly retention: Retention;
  readonly migrations: readonly Migration[];
}

/** One transaction. Each may be repeated without harm: its result may have been lost with the thread. */
export type StoreWrite =
  | { readonly kind: "readings"; readonly readings: readonly StoredReading[] }
  | {
      readonly kind: "event";
      /** Given by the sender, so that a repeated event is known. */
      readonly eventId: number;
      readonly event: Omit<SiteEvent, "details">;
      readonly detailsJson: string;
    }
  | {
      readonly kind: "snapshot";
      readonly name: string;
      readonly json: string;
      readonly at_epochMs: number;
    }
  | {
      readonly kind: "outbox";
      readonly added: readonly OutboxMessage[];
      readonly settled: readonly SettledMessage[];
      readonly snapshot:
        { readonly name: string; readonly json: string; readonly at_epochMs: number } | undefined;
    }
  /** Like an event, its id is given by the sender. */
  | { readonly kind: "journal"; readonly row: JournalColumns };

/** A write as it goes to the storage thread. */
export type SentWrite = Exclude<StoreWrite, { readonly kind: "readings" }> | PackedReadings;

export type StoreQuery =
  | { readonly kind: "snapshot"; readonly name: string }
  | {
      readonly kind: "events";
      readonly from_epochMs: number;
      readonly to_epochMs: number;
      readonly limit: number;
    }
  | {
      readonly kind: "readings";
      readonly sensorId: string;
      readonly from_epochMs: number;
      readonly to_epochMs: number;
    }
  | { readonly kind: "recentJournal"; readonly perSubject: number }
  | { readonly kind: "waitingMessages" }
  | { readonly kind: "housekeeping"; readonly now_epochMs: number }
  | { readonly kind: "backup"; readonly file: string; readonly content: BackupContent };

export interface StoreAnswers {
  readonly snapshot: string | undefined;
  readonly events: readonly SiteEvent[];
  readonly readings: { readonly raw: boolean; readonly rows: readonly ReadingSummary[] };
  readonly recentJournal: readonly StoredJournalRow[];
  readonly waitingMessages: readonly OutboxMessage[];
  readonly housekeeping: HousekeepingOutcome;
  readonly backup: BackupOutcome;
}

/** What opening found and did. */
export interface StoreOpening {
  readonly schemaVersion: number;
  readonly latestKnown_epochMs: number | undefined;
  readonly highestEventId: number;
  /** After the file of an open database was taken away. */
  readonly fileReturn: FileReturn | undefined;
  readonly highestJournalId: number;
  /** The file is a copy that somebody put in the store's place. */
  readonly isCopyPutBack: boolean;
  readonly migratedFrom: number | undefined;
  readonly backupFile: string | undefined;
  /** The log beside the file was damaged when it was opened: what was written last is not known. */
  readonly logDamage: { readonly reason: string; readonly keptAs: string } | undefined;
  readonly setAside:
    | {
        readonly file: string;
        readonly reason: string;
        readonly snapshotsKept: number;
        readonly journalKept: number;
      }
    | undefined;
}

export type ToStoreWorker =
  /** "full": as at start. "probe": the connection stays, one page is written to see whether that works. */
  | { readonly kind: "open"; readonly how: "full" | "probe"; readonly now_epochMs: number }
  | { readonly kind: "write"; readonly writeId: number; readonly write: SentWrite }
  | { readonly kind: "query"; readonly queryId: number; readonly query: StoreQuery }
  | { readonly kind: "close" };

export type FromStoreWorker =
  | { readonly kind: "opened"; readonly opening: StoreOpening | undefined }
  | { readonly kind: "unusable"; readonly fault: StoreFault }
  /** The files under the open database are no longer those that were opened. */
  | { readonly kind: "fileLost"; readonly fault: StoreFault }
  | { readonly kind: "written"; readonly writeId: number }
  | { readonly kind: "writeFailed"; readonly writeId: number; readonly fault: StoreFault }
  | { readonly kind: "answer"; readonly queryId: number; readonly answer: unknown }
  | { readonly kind: "queryFailed"; readonly queryId: number; readonly fault: StoreFault }
  | { readonly kind: "closed" };
