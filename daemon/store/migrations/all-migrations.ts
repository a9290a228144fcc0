import type { Migration } from "../migrate.js";
import { siteHistory } from "./0001-site-history.js";
import { journal } from "./0002-journal.js";
import { outbox } from "./0003-outbox.js";

/** Forward only, each exactly once, never edited after a release: a change is a further entry. */
export const allMigrations: readonly Migration[] = [
  { version: 1, sql: siteHistory },
  { version: 2, sql: journal },
  { version: 3, sql: outbox },
];
