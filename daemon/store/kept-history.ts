import Database from "better-sqlite3";
import type { ReadingSummary, SiteEvent, StoredJournalRow } from "../ports/site-store.js";
import { JournalTable } from "./journal-table.js";
import { isOurs, latestInstant } from "./open-database.js";
import { ReadingHistory } from "./reading-history.js";
import { snapshotState } from "./snapshot-form.js";

/** A file that holds no history of ours. */
export class HistoryUnreadableError extends Error {
  override readonly name = "HistoryUnreadableError";
}

/** What a daemon has written, for a program that only looks: it changes nothing, and the daemon may run beside it. */
export interface KeptHistory {
  /** Oldest first: as they came, or rolled up where there are too many of them or they are old. */
  readings(sensorId: string, from_epochMs: number, to_epochMs: number): readonly ReadingSummary[];
  /** Oldest first. */
  valveEvents(
    from_epochMs: number,
    to_epochMs: number,
  ): readonly Pick<SiteEvent, "at_epochMs" | "area" | "subject" | "what">[];
  journal(): readonly StoredJournalRow[];
  /** A state that a restart would go on from. @throws HistoryUnreadableError where it cannot be read */
  snapshot(name: string): unknown;
  readonly latest_epochMs: number | undefined;
  close(): void;
}

const mostPerSubject = 5000;

/** @throws HistoryUnreadableError with what is wrong with the file */
export function openKeptHistory(file: string): KeptHistory {
  let database: Database.Database | undefined;
  try {
    database = new Database(file, { readonly: true, fileMustExist: true });
    if (!isOurs(database)) {
      throw new HistoryUnreadableError("it is no database of this program");
    }
    const history = new ReadingHistory(database);
    const journal = new JournalTable(database);
    const events = database.prepare(
      `SELECT at_epochMs, area, subject, what FROM events
        WHERE at_epochMs >= ? AND at_epochMs < ? AND (area = 'valve' OR (area = 'daemon' AND what = 'started'))
        ORDER BY at_epochMs, eventId`,
    );
    const snapshots = database.prepare("SELECT json FROM snapshots WHERE name = ?").pluck();
    const opened = database;
    return {
      readings: (sensorId, from_epochMs, to_epochMs) =>
        history.of({ sensorId, from_epochMs, to_epochMs }).rows,
      valveEvents: (from_epochMs, to_epochMs) =>
        events.all(from_epochMs, to_epochMs) as ReturnType<KeptHistory["valveEvents"]>,
      journal: () => journal.recent(mostPerSubject),
      snapshot: (name) => {
        const json: unknown = snapshots.get(name);
        if (typeof json !== "string") return undefined;
        const read = snapshotState(json);
        if (read.kind === "broken") throw new HistoryUnreadableError(read.reason);
        return read.state;
      },
      latest_epochMs: latestInstant(opened),
      close: () => opened.close(),
    };
  } catch (error) {
    database?.close();
    if (error instanceof HistoryUnreadableError) throw error;
    throw new HistoryUnreadableError(error instanceof Error ? error.message : String(error), {
      cause: error,
    });
  }
}
