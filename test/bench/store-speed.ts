import Database from "better-sqlite3";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { defaultBounds } from "../../daemon/store/write-queue.js";
import { SqliteSiteStore } from "../../daemon/store/sqlite-site-store.js";
import { createPinoLogger } from "../../daemon/system/pino-logger.js";
import { systemClock } from "../../daemon/system/system-clock.js";

const series = 400;
/** As many as the store holds in memory at most. */
const rows = defaultBounds.mostReadings;
const first_epochMs = Date.UTC(2026, 4, 4);

const reading = (row: number) => ({
  sensorId: `sensor-${row % series}`,
  quantity: "pH" as const,
  value: 6.8 + (row % 5) / 100,
  at_epochMs: first_epochMs + row * 3,
});

/** Rows a second by the daemon's store, until all of them are on disk, over rows a second by better-sqlite3 alone. */
export async function insertRatio(): Promise<number> {
  const folder = mkdtempSync(join(tmpdir(), "fizzward-store-speed-"));
  try {
    const ratios: number[] = [];
    // The best of a few: whatever else this machine does makes both slower.
    for (const attempt of [1, 2, 3]) {
      const bare_ms = insertBare(join(folder, `bare-${attempt}.db`));
      // What the end of the thread and of the file takes is not writing.
      const end_ms = await insertByStore(join(folder, `empty-${attempt}.db`), 1);
      const ours_ms = (await insertByStore(join(folder, `ours-${attempt}.db`), rows)) - end_ms;
      ratios.push(bare_ms / ours_ms);
    }
    return Math.max(...ratios);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** The same table, the same size of a transaction, every commit synced as well. */
function insertBare(file: string): number {
  const database = new Database(file);
  database.pragma("page_size = 1024");
  database.pragma("journal_mode = WAL");
  database.pragma("synchronous = FULL");
  database.exec("CREATE TABLE readings (timeAndSeries INTEGER PRIMARY KEY, value REAL NOT NULL)");
  const insert = database.prepare("INSERT INTO readings (timeAndSeries, value) VALUES (?, ?)");
  const batch = database.transaction((from: number) => {
    for (let row = from; row < Math.min(rows, from + defaultBounds.largestBatch); row += 1) {
      const { value, at_epochMs } = reading(row);
      insert.run(at_epochMs * 4096 + (row % series), value);
    }
  });
  const began_ms = performance.now();
  for (let from = 0; from < rows; from += defaultBounds.largestBatch) batch.immediate(from);
  const took_ms = performance.now() - began_ms;
  database.close();
  return took_ms;
}

async function insertByStore(file: string, count: number): Promise<number> {
  const logger = createPinoLogger({ level: "error", monotonic_ms: () => systemClock.monotonic_ms() });
  const store = new SqliteSiteStore(
    { file, batch_s: 60, retention: { raw_days: 14, oneMinute_days: 90, fifteenMinute_days: 1825 } },
    { clock: systemClock, logger },
  );
  await store.start();
  const began_ms = performance.now();
  for (let row = 0; row < count; row += 1) store.appendReading(reading(row));
  await store.stop();
  const took_ms = performance.now() - began_ms;
  const database = new Database(file, { readonly: true });
  const kept = database.prepare("SELECT count(*) FROM readings").pluck().get();
  database.close();
  if (kept !== count) throw new Error(`${String(kept)} of ${count} rows were kept`);
  return took_ms;
}
