import Database from "better-sqlite3";
import { migrate, type Migration } from "./migrate.js";

/** What cannot be measured again. `series` and `progress` go with the readings. */
const keptTables = ["events", "snapshots", "journal", "outbox"] as const;

/** A new file with all that the database holds but for the measured values, of one instant. */
export const copyWithoutReadings = async (
  database: Database.Database,
  file: string,
  migrations: readonly Migration[],
): Promise<void> => {
  const copy = new Database(file);
  try {
    await migrate(copy, migrations);
  } finally {
    copy.close();
  }
  database.prepare("ATTACH ? AS copied").run(file);
  try {
    database.transaction(() => {
      for (const table of keptTables) {
        database.exec(`INSERT INTO copied.${table} SELECT * FROM main.${table}`);
      }
    })();
  } finally {
    database.exec("DETACH copied");
  }
};
