import type Database from "better-sqlite3";
import { keyAt, seriesPerInstant } from "./history-key.js";
import { floorTo } from "./summary-width.js";

/** How long each fineness is kept. Events and snapshots are never deleted. */
export interface Retention {
  readonly raw_days: number;
  readonly oneMinute_days: number;
  readonly fifteenMinute_days: number;
}

export interface SliceOutcome {
  /** False when there is nothing left to do. */
  readonly more: boolean;
  readonly deletedRows: number;
}

type HistoryTable = "readings" | "oneMinute" | "fifteenMinute";
type RolledTable = Exclude<HistoryTable, "readings">;

const minute_ms = 60_000;
const fifteenMinutes_ms = 15 * minute_ms;
const day_ms = 1440 * minute_ms;
/** Readings of the running minute and of the batch that is still in memory are not there yet. */
const settling = 2 * minute_ms;
const shortestSlice_ms = 5;
const longestSlice_ms = 15;

const span = `timeAndSeries >= ${keyAt("?")} AND timeAndSeries < ${keyAt("?")}`;

const rollUpSql = {
  oneMinute: `INSERT OR REPLACE INTO oneMinute (timeAndSeries, minimum, mean, maximum, count)
    SELECT ${keyAt(`at_epochMs - at_epochMs % ${minute_ms}`)} + seriesId AS bucket,
           min(value), avg(value), max(value), count(*)
      FROM readings WHERE ${span} GROUP BY bucket`,
  fifteenMinute: `INSERT OR REPLACE INTO fifteenMinute (timeAndSeries, minimum, mean, maximum, count)
    SELECT ${keyAt(`from_epochMs - from_epochMs % ${fifteenMinutes_ms}`)} + seriesId AS bucket,
           min(minimum), sum(mean * count) / sum(count), max(maximum), sum(count)
      FROM oneMinute WHERE ${span} GROUP BY bucket`,
} as const;

/**
 * Roll-up and deletion in slices of some milliseconds, each a transaction that also moves its progress mark: a
 * crash between or inside slices loses and doubles nothing. Freed pages are used again by later rows, so the file
 * stops growing by itself; a vacuum would rewrite the whole file for nothing and wear a flash card.
 */
export class Housekeeping {
  readonly #database: Database.Database;
  readonly #retention: Retention;
  readonly #elapsed_ms: () => number;
  #span_ms = 30 * minute_ms;

  constructor(database: Database.Database, retention: Retention, elapsed_ms: () => number) {
    this.#database = database;
    this.#retention = retention;
    this.#elapsed_ms = elapsed_ms;
  }

  /** Does one slice. Its length in history adapts so that it takes 5 to 15 ms on the machine at hand. */
  slice(now_epochMs: number): SliceOutcome {
    const begun_ms = this.#elapsed_ms();
    // Everything here can be done again, so its commits need not wait for the disk; their order is kept.
    this.#database.pragma("synchronous = NORMAL");
    try {
      return this.#database.transaction(() => this.#nextSlice(now_epochMs)).immediate();
    } finally {
      this.#database.pragma("synchronous = FULL");
      const took_ms = this.#elapsed_ms() - begun_ms;
      if (took_ms > longestSlice_ms) this.#span_ms = Math.max(minute_ms, this.#span_ms / 2);
      if (took_ms < shortestSlice_ms) this.#span_ms = Math.min(day_ms, this.#span_ms * 2);
    }
  }

  #nextSlice(now_epochMs: number): SliceOutcome {
    const newest_epochMs = this.#scalar(`SELECT max(timeAndSeries) / ${seriesPerInstant} FROM readings`);
    if (newest_epochMs === undefined) return { more: false, deletedRows: 0 };
    const settled = Math.max(0, Math.min(now_epochMs - settling, newest_epochMs));
    if (this.#rollUp("oneMinute", "readings", settled, minute_ms)) return { more: true, deletedRows: 0 };
    const rolledMinutes = this.#progress("oneMinute").rolledUntil_epochMs;
    if (this.#rollUp("fifteenMinute", "oneMinute", rolledMinutes, fifteenMinutes_ms)) {
      return { more: true, deletedRows: 0 };
    }
    const rolledQuarters = this.#progress("fifteenMinute").rolledUntil_epochMs;
    const keep = [
      { table: "readings", kept_days: this.#retention.raw_days, rolledUntil: rolledQuarters },
      { table: "oneMinute", kept_days: this.#retention.oneMinute_days, rolledUntil: rolledQuarters },
      { table: "fifteenMinute", kept_days: this.#retention.fifteenMinute_days, rolledUntil: Infinity },
    ] as const;
    // A clock that jumped ahead must not make the whole history look old: the newest reading counts as well.
    const now = Math.min(now_epochMs, newest_epochMs);
    for (const { table, kept_days, rolledUntil } of keep) {
      const deletedRows = this.#deleteUntil(table, Math.min(now - kept_days * day_ms, rolledUntil));
      if (deletedRows !== undefined) return { more: true, deletedRows };
    }
    return { more: false, deletedRows: 0 };
  }

  /** Returns false when the table is complete up to `until`. */
  #rollUp(into: RolledTable, from: HistoryTable, limit_epochMs: number, width_ms: number): boolean {
    const until_epochMs = floorTo(limit_epochMs, width_ms);
    const done_epochMs = this.#progress(into).rolledUntil_epochMs;
    if (done_epochMs >= until_epochMs) return false;
    const next = this.#scalar(
      `SELECT min(timeAndSeries) / ${seriesPerInstant} FROM ${from} WHERE timeAndSeries >= ${keyAt("?")}`,
      done_epochMs,
    );
    const begin = Math.max(done_epochMs, floorTo(Math.min(next ?? until_epochMs, until_epochMs), width_ms));
    const span_ms = Math.max(width_ms, floorTo(this.#span_ms, width_ms));
    const end_epochMs = Math.min(begin + span_ms, until_epochMs);
    this.#database.prepare(rollUpSql[into]).run(begin, end_epochMs);
    this.#database
      .prepare("UPDATE progress SET rolledUntil_epochMs = ? WHERE name = ?")
      .run(end_epochMs, into);
    return true;
  }

  /** Returns undefined when there is nothing older than `until`. */
  #deleteUntil(table: HistoryTable, limit_epochMs: number): number | undefined {
    // Whole quarters of an hour, so that no later bucket is made from what is left of one.
    const until_epochMs = floorTo(Math.max(0, limit_epochMs), fifteenMinutes_ms);
    const oldest = this.#scalar(
      `SELECT min(timeAndSeries) / ${seriesPerInstant} FROM ${table} WHERE timeAndSeries < ${keyAt("?")}`,
      until_epochMs,
    );
    if (oldest === undefined) return undefined;
    const span_ms = Math.max(fifteenMinutes_ms, floorTo(this.#span_ms, fifteenMinutes_ms));
    const end_epochMs = Math.min(floorTo(oldest, fifteenMinutes_ms) + span_ms, until_epochMs);
    const { changes } = this.#database
      .prepare(`DELETE FROM ${table} WHERE timeAndSeries < ${keyAt("?")}`)
      .run(end_epochMs);
    this.#database
      .prepare("UPDATE progress SET deletedUntil_epochMs = max(deletedUntil_epochMs, ?) WHERE name = ?")
      .run(end_epochMs, table);
    return changes;
  }

  #progress(name: HistoryTable): { rolledUntil_epochMs: number; deletedUntil_epochMs: number } {
    return this.#database.prepare("SELECT * FROM progress WHERE name = ?").get(name) as {
      rolledUntil_epochMs: number;
      deletedUntil_epochMs: number;
    };
  }

  #scalar(sql: string, ...parameters: readonly number[]): number | undefined {
    const value = this.#database
      .prepare(sql)
      .pluck()
      .get(...parameters);
    return typeof value === "number" ? value : undefined;
  }
}
