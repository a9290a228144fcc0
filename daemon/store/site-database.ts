import type Database from "better-sqlite3";
import type { SiteEvent } from "../ports/site-store.js";
import { JournalTable } from "./journal-table.js";
import { unmarkCopy } from "./open-database.js";
import { OutboxTable } from "./outbox-table.js";
import { ReadingHistory } from "./reading-history.js";
import type { PackedReadings } from "./packed-readings.js";
import type { SentWrite, StoreAnswers } from "./store-messages.js";
import { keyAt, seriesPerInstant } from "./history-key.js";
import { floorTo } from "./summary-width.js";

type EventRow = Omit<SiteEvent, "details"> & { readonly details: string };

const parsedDetails = (json: string): Readonly<Record<string, unknown>> => {
  try {
    const details: unknown = JSON.parse(json);
    return typeof details === "object" && details !== null ? { ...details } : {};
  } catch {
    return { unreadable: json };
  }
};

/** The snapshot that holds the trips: as long as it is not saved, a copy that was put back has to be known as one. */
const stateOfTrips = "control";

/** The prepared statements; each write is one transaction and may be repeated. */
export class SiteDatabase {
  readonly history: ReadingHistory;
  readonly journal: JournalTable;
  readonly outbox: OutboxTable;
  readonly #insertReadings: Database.Transaction<(readings: PackedReadings) => void>;
  readonly #insertEvent: Database.Transaction<(write: Extract<SentWrite, { kind: "event" }>) => void>;
  readonly #changeOutbox: Database.Transaction<(write: Extract<SentWrite, { kind: "outbox" }>) => void>;
  readonly #unmarkCopy: () => void;
  readonly #saveSnapshot: Database.Statement;
  readonly #loadSnapshot: Database.Statement;
  readonly #events: Database.Statement;
  readonly #seriesIds = new Map<string, number>();
  readonly #snapshotsOnDisk = new Map<string, string>();

  constructor(database: Database.Database) {
    this.history = new ReadingHistory(database);
    this.journal = new JournalTable(database);
    this.outbox = new OutboxTable(database);
    this.#insertReadings = this.#prepareReadings(database);
    this.#insertEvent = this.#prepareEvent(database);
    this.#unmarkCopy = () => unmarkCopy(database);
    this.#saveSnapshot = database.prepare(
      `INSERT INTO snapshots (name, json, at_epochMs) VALUES (@name, @json, @at_epochMs)
         ON CONFLICT DO UPDATE SET json = excluded.json, at_epochMs = excluded.at_epochMs`,
    );
    this.#changeOutbox = database.transaction((write) => {
      this.outbox.change(write.added, write.settled);
      if (write.snapshot !== undefined) this.#saveSnapshot.run(write.snapshot);
    });
    this.#loadSnapshot = database.prepare("SELECT json FROM snapshots WHERE name = ?").pluck();
    this.#events = database.prepare(
      `SELECT at_epochMs, area, subject, what, reason, details FROM events
        WHERE at_epochMs >= @from_epochMs AND at_epochMs < @to_epochMs
        ORDER BY at_epochMs DESC, eventId DESC LIMIT @limit`,
    );
  }

  write(write: SentWrite): void {
    switch (write.kind) {
      case "packed readings":
        try {
          this.#insertReadings.immediate(write);
        } catch (error) {
          // Ids given inside a transaction that was rolled back do not exist.
          this.#seriesIds.clear();
          throw error;
        }
        return;
      case "event":
        this.#insertEvent.immediate(write);
        return;
      case "journal":
        this.journal.insert(write.row);
        return;
      case "outbox":
        this.#changeOutbox.immediate(write);
        if (write.snapshot !== undefined) this.#snapshotsOnDisk.set(write.snapshot.name, write.snapshot.json);
        return;
      case "snapshot":
        // State that did not change is on disk already; most ticks change nothing.
        if (this.#snapshotsOnDisk.get(write.name) === write.json) return;
        this.#saveSnapshot.run({ name: write.name, json: write.json, at_epochMs: write.at_epochMs });
        if (write.name === stateOfTrips && !this.#snapshotsOnDisk.has(write.name)) this.#unmarkCopy();
        this.#snapshotsOnDisk.set(write.name, write.json);
        return;
    }
  }

  snapshot(name: string): string | undefined {
    const json = this.#loadSnapshot.get(name);
    return typeof json === "string" ? json : undefined;
  }

  events(query: { from_epochMs: number; to_epochMs: number; limit: number }): StoreAnswers["events"] {
    const rows = this.#events.all(query) as EventRow[];
    return rows.reverse().map((row) => ({ ...row, details: parsedDetails(row.details) }));
  }

  #prepareReadings(database: Database.Database): Database.Transaction<(readings: PackedReadings) => void> {
    const findSeries = database
      .prepare("SELECT seriesId FROM series WHERE sensorId = ? AND quantity = ?")
      .pluck();
    const addSeries = database.prepare("INSERT INTO series (sensorId, quantity) VALUES (?, ?)");
    const insert = database.prepare(
      `INSERT INTO readings (timeAndSeries, value) VALUES (${keyAt("?")} + ?, ?)
         ON CONFLICT DO UPDATE SET value = excluded.value`,
    );
    // A late reading sends the roll-up back to its bucket, but never to where the finer rows are gone already:
    // a bucket made again from a part of its rows would be wrong.
    const deletedUntil = database
      .prepare("SELECT max(deletedUntil_epochMs) FROM progress WHERE name IN ('readings', 'oneMinute')")
      .pluck();
    const rollUpAgainFrom = database.prepare(
      `UPDATE progress SET rolledUntil_epochMs = @bucket_epochMs
        WHERE name = @name AND rolledUntil_epochMs > @bucket_epochMs`,
    );
    const seriesIdOf = ({ sensorId, quantity }: PackedReadings["series"][number]): number => {
      const key = `${quantity} ${sensorId}`;
      let seriesId = this.#seriesIds.get(key);
      if (seriesId === undefined) {
        const found = findSeries.get(sensorId, quantity);
        seriesId = Number(found ?? addSeries.run(sensorId, quantity).lastInsertRowid);
        this.#seriesIds.set(key, seriesId);
      }
      return seriesId;
    };
    // Row by row from the columns: to make an object of each row takes longer than to insert it.
    return database.transaction(({ series, seriesIndices, values, instants_epochMs }: PackedReadings) => {
      const rollable_epochMs = Number(deletedUntil.get());
      const seriesIds = series.map(seriesIdOf);
      let earliest_epochMs = Number.MAX_SAFE_INTEGER;
      for (let row = 0; row < values.length; row += 1) {
        const seriesId = seriesIds[seriesIndices[row] ?? series.length];
        const at_epochMs = instants_epochMs[row];
        if (seriesId === undefined || at_epochMs === undefined) {
          throw new RangeError(`row ${row} of the batch belongs to no series`);
        }
        // Thousands of sensors were never configured; one more must not cost the others their readings.
        if (seriesId >= seriesPerInstant) continue;
        insert.run(at_epochMs, BigInt(seriesId), values[row]);
        if (at_epochMs >= rollable_epochMs) earliest_epochMs = Math.min(earliest_epochMs, at_epochMs);
      }
      rollUpAgainFrom.run({ name: "oneMinute", bucket_epochMs: floorTo(earliest_epochMs, 60_000) });
      rollUpAgainFrom.run({ name: "fifteenMinute", bucket_epochMs: floorTo(earliest_epochMs, 900_000) });
    });
  }

  #prepareEvent(
    database: Database.Database,
  ): Database.Transaction<(write: Extract<SentWrite, { kind: "event" }>) => void> {
    const insert = database.prepare(
      `INSERT INTO events (eventId, at_epochMs, area, subject, what, reason, details)
         VALUES (@eventId, @at_epochMs, @area, @subject, @what, @reason, @details) ON CONFLICT (eventId) DO NOTHING`,
    );
    const same = database
      .prepare(
        `SELECT 1 FROM events WHERE eventId = @eventId AND at_epochMs = @at_epochMs AND area = @area
           AND subject = @subject AND what = @what AND reason = @reason AND details = @details`,
      )
      .pluck();
    return database.transaction((write: Extract<SentWrite, { kind: "event" }>) => {
      const row = { ...write.event, eventId: write.eventId, details: write.detailsJson };
      if (insert.run(row).changes === 1 || same.get(row) !== undefined) return;
      // The id belongs to another event (a second writer): never lose ours to it.
      insert.run({ ...row, eventId: null });
    });
  }
}
