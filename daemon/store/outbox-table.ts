import type Database from "better-sqlite3";
import type { OutboxMessage, SettledMessage } from "../ports/site-store.js";

const keptSettled_ms = 30 * 86_400_000;

/** The messages that wait for their channel, and those that no longer do. */
export class OutboxTable {
  readonly #insert: Database.Statement;
  readonly #settle: Database.Statement;
  readonly #forget: Database.Statement;
  readonly #waiting: Database.Statement;

  constructor(database: Database.Database) {
    this.#insert = database.prepare(
      `INSERT INTO outbox (messageKey, channel, createdAt_epochMs, content, state)
         VALUES (@messageKey, @channel, @createdAt_epochMs, @contentJson, 'waiting') ON CONFLICT DO NOTHING`,
    );
    this.#settle = database.prepare(
      `UPDATE outbox SET state = @outcome, settledAt_epochMs = @at_epochMs
        WHERE messageKey = @messageKey AND state = 'waiting'`,
    );
    this.#forget = database.prepare("DELETE FROM outbox WHERE state <> 'waiting' AND settledAt_epochMs < ?");
    this.#waiting = database.prepare(
      `SELECT messageKey, channel, createdAt_epochMs, content AS contentJson FROM outbox
        WHERE state = 'waiting' ORDER BY createdAt_epochMs, rowid`,
    );
  }

  /** May be repeated without harm. To be called inside a transaction. */
  change(added: readonly OutboxMessage[], settled: readonly SettledMessage[]): void {
    for (const message of added) this.#insert.run(message);
    for (const message of settled) {
      this.#settle.run(message);
      this.#forget.run(message.at_epochMs - keptSettled_ms);
    }
  }

  waiting(): readonly OutboxMessage[] {
    return this.#waiting.all() as readonly OutboxMessage[];
  }
}
