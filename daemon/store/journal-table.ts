import type Database from "better-sqlite3";
import type { NewJournalRow, StoredJournalRow } from "../ports/site-store.js";

/** The columns of one row, in the form in which SQLite takes it. */
export interface JournalColumns {
  readonly entryId: number;
  readonly at_epochMs: number;
  readonly enteredAt_epochMs: number;
  readonly source: "local" | "remote";
  readonly kind: string;
  readonly subject: string;
  readonly fact: string;
  readonly note: string;
  readonly withdraws: number | null;
}

type ReadColumns = Omit<JournalColumns, "withdraws"> & {
  readonly withdrawn: 0 | 1;
  readonly withdrawnAt_epochMs: number | null;
};

export const journalColumnsOf = (entryId: number, row: NewJournalRow): JournalColumns => ({
  entryId,
  at_epochMs: row.at_epochMs,
  enteredAt_epochMs: row.enteredAt_epochMs,
  source: row.source,
  kind: row.kind,
  subject: row.subject,
  fact: row.factJson,
  note: row.note,
  withdraws: row.withdraws ?? null,
});

const columns = "entryId, at_epochMs, enteredAt_epochMs, source, kind, subject, fact, note, withdraws";
const parameters = columns.replaceAll(/\w+/g, "@$&");

/** The id was given to another entry: a second program writes into the same file. */
export class JournalIdTakenError extends Error {
  override readonly name = "JournalIdTakenError";

  constructor(readonly entryId: number) {
    super(`the journal has another entry ${entryId} already; does a second daemon use the same store.file?`);
  }
}

export class JournalTable {
  readonly #insert: Database.Transaction<(row: JournalColumns) => void>;
  readonly #recent: Database.Statement;

  constructor(database: Database.Database) {
    const insert = database.prepare(
      `INSERT INTO journal (${columns}) VALUES (${parameters}) ON CONFLICT (entryId) DO NOTHING`,
    );
    const find = database.prepare(`SELECT ${columns} FROM journal WHERE entryId = ?`);
    this.#insert = database.transaction((row: JournalColumns) => {
      if (insert.run(row).changes === 1) return;
      const found = find.get(row.entryId);
      if (JSON.stringify(found) !== JSON.stringify(row)) throw new JournalIdTakenError(row.entryId);
    });
    this.#recent = database.prepare(
      `WITH entries AS (
         SELECT *, EXISTS (SELECT 1 FROM journal AS later WHERE later.withdraws = journal.entryId) AS withdrawn,
             (SELECT later.enteredAt_epochMs FROM journal AS later WHERE later.withdraws = journal.entryId)
               AS withdrawnAt_epochMs
           FROM journal WHERE withdraws IS NULL
       ), ranked AS (
         SELECT *, row_number() OVER
             (PARTITION BY kind, subject, withdrawn ORDER BY at_epochMs DESC, entryId DESC) AS place
           FROM entries
       )
       SELECT entryId, at_epochMs, enteredAt_epochMs, source, kind, subject, fact, note, withdrawn, withdrawnAt_epochMs
         FROM ranked WHERE place <= ? ORDER BY at_epochMs, entryId`,
    );
  }

  /** May be repeated without harm. */
  insert(row: JournalColumns): void {
    this.#insert.immediate(row);
  }

  recent(perSubject: number): readonly StoredJournalRow[] {
    const rows = this.#recent.all(perSubject) as readonly ReadColumns[];
    return rows.map(({ fact, withdrawn, withdrawnAt_epochMs, ...row }) => ({
      ...row,
      factJson: fact,
      withdrawn: withdrawn === 1,
      ...(withdrawnAt_epochMs === null ? {} : { withdrawnAt_epochMs }),
    }));
  }
}

export const highestJournalId = (database: Database.Database): number =>
  Number(database.prepare("SELECT coalesce(max(entryId), 0) FROM journal").pluck().get());

/** What can still be read of the journal of a damaged file, in its order. */
export const salvagedJournal = (database: Database.Database, into: JournalColumns[]): void => {
  for (const row of database.prepare(`SELECT ${columns} FROM journal ORDER BY entryId`).iterate()) {
    into.push(row as JournalColumns);
  }
};

/** Into a fresh database. A withdrawal whose entry was lost is left out. */
export const restoreJournal = (database: Database.Database, rows: readonly JournalColumns[]): void => {
  const kept = new Set(rows.map(({ entryId }) => entryId));
  const insert = database.prepare(`INSERT OR IGNORE INTO journal (${columns}) VALUES (${parameters})`);
  database.transaction(() => {
    for (const row of rows) if (row.withdraws === null || kept.has(row.withdraws)) insert.run(row);
  })();
};
