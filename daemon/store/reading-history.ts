import type Database from "better-sqlite3";
import type { MeasuredQuantity } from "../../lib/readings/reading.js";
import type { ReadingSummary } from "../ports/site-store.js";
import type { StoreAnswers } from "./store-messages.js";
import { keyAt } from "./history-key.js";
import { floorTo, mostRows, summaryWidth_ms } from "./summary-width.js";

const minute_ms = 60_000;

interface Progress {
  readonly name: string;
  readonly rolledUntil_epochMs: number;
  readonly deletedUntil_epochMs: number;
}

export interface ReadingQuery {
  readonly sensorId: string;
  readonly from_epochMs: number;
  readonly to_epochMs: number;
}

/** Answers questions about a sensor's past from whichever table still holds the span. */
export class ReadingHistory {
  readonly #series: Database.Statement;
  readonly #raw: Database.Statement;
  readonly #progress: Database.Statement;
  readonly #summary: Database.Statement;

  constructor(database: Database.Database) {
    this.#series = database.prepare("SELECT seriesId FROM series WHERE sensorId = ?").pluck();
    this.#progress = database.prepare("SELECT * FROM progress");
    this.#raw = database.prepare(
      `SELECT sensorId, quantity, at_epochMs AS from_epochMs, value AS minimum, value AS mean, value AS maximum, 1 AS count
         FROM readings JOIN series USING (seriesId)
        WHERE timeAndSeries >= ${keyAt("@from_epochMs")} AND timeAndSeries < ${keyAt("@to_epochMs")}
          AND sensorId = @sensorId
        ORDER BY timeAndSeries LIMIT @limit`,
    );
    // The three sources cover spans that touch and do not overlap, so that nothing counts twice.
    this.#summary = database.prepare(
      `WITH source AS (
         SELECT seriesId, from_epochMs, minimum, mean, maximum, count FROM fifteenMinute
          WHERE timeAndSeries >= ${keyAt("@fifteenFrom_epochMs")} AND timeAndSeries < ${keyAt("@fifteenTo_epochMs")}
         UNION ALL
         SELECT seriesId, from_epochMs, minimum, mean, maximum, count FROM oneMinute
          WHERE timeAndSeries >= ${keyAt("@oneFrom_epochMs")} AND timeAndSeries < ${keyAt("@oneTo_epochMs")}
         UNION ALL
         SELECT seriesId, at_epochMs, value, value, value, 1 FROM readings
          WHERE timeAndSeries >= ${keyAt("@rawFrom_epochMs")} AND timeAndSeries < ${keyAt("@rawTo_epochMs")}
       )
       SELECT sensorId, quantity, from_epochMs - from_epochMs % @width_ms AS bucket, min(minimum) AS minimum,
              sum(mean * count) / sum(count) AS mean, max(maximum) AS maximum, sum(count) AS count
         FROM source JOIN series USING (seriesId) WHERE sensorId = @sensorId
        GROUP BY bucket, seriesId ORDER BY bucket, seriesId`,
    );
  }

  of(query: ReadingQuery): StoreAnswers["readings"] {
    if (this.#series.get(query.sensorId) === undefined) return { raw: true, rows: [] };
    const progress = new Map((this.#progress.all() as Progress[]).map((row) => [row.name, row]));
    const until = (name: string, which: "rolledUntil_epochMs" | "deletedUntil_epochMs"): number =>
      progress.get(name)?.[which] ?? 0;

    if (query.from_epochMs >= until("readings", "deletedUntil_epochMs")) {
      const rows = this.#raw.all({ ...query, limit: mostRows + 1 }) as ReadingSummary[];
      if (rows.length <= mostRows) return { raw: true, rows };
    }

    const width_ms = summaryWidth_ms(query.to_epochMs - query.from_epochMs);
    const rawFrom_epochMs = until("oneMinute", "rolledUntil_epochMs");
    const oneFrom_epochMs =
      width_ms > minute_ms
        ? until("fifteenMinute", "rolledUntil_epochMs")
        : until("oneMinute", "deletedUntil_epochMs");
    const from_epochMs = floorTo(query.from_epochMs, width_ms);
    const { to_epochMs } = query;
    const rows = this.#summary.all({
      sensorId: query.sensorId,
      width_ms,
      fifteenFrom_epochMs: from_epochMs,
      fifteenTo_epochMs: Math.min(oneFrom_epochMs, to_epochMs),
      oneFrom_epochMs: Math.max(from_epochMs, oneFrom_epochMs),
      oneTo_epochMs: Math.min(rawFrom_epochMs, to_epochMs),
      rawFrom_epochMs: Math.max(from_epochMs, rawFrom_epochMs),
      rawTo_epochMs: to_epochMs,
    }) as {
      sensorId: string;
      quantity: MeasuredQuantity;
      bucket: number;
      minimum: number;
      mean: number;
      maximum: number;
      count: number;
    }[];
    return { raw: false, rows: rows.map(({ bucket, ...row }) => ({ ...row, from_epochMs: bucket })) };
  }
}
