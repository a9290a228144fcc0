/**
 * What a line of the log may hold beside its words: one name for each thing, as the config, the topics and the page have it,
 * and plain values only. A new name is a line here. None may ever hold a secret; the adapter also censors known secret keys.
 */
export interface LogFields {
  /** Names of the config. */
  readonly site?: string;
  readonly vessel?: string;
  readonly valve?: string;
  readonly tank?: string;
  readonly sensor?: string;
  readonly relay?: string;
  readonly channel?: string;
  /** The alarm's id. */
  readonly alarm?: string;
  /** Of an event of the record: what it belongs to, and what it is about where that has no name of its own here. */
  readonly area?: string;
  readonly subject?: string;

  /** Why, in words. */
  readonly reason?: string | undefined;
  readonly stack?: string | undefined;
  /** The last of what a process said on its standard error. */
  readonly output?: string;
  readonly whatToDo?: string;
  readonly outcome?: string;
  readonly kind?: string;
  /** Entered at this machine or from afar. */
  readonly source?: string;

  readonly topic?: string;
  readonly address?: string;
  readonly clientId?: string;
  readonly protocolVersion?: number;
  readonly port?: number;
  readonly path?: string;
  readonly config?: string;
  readonly file?: string;
  /** Where a copy lies. */
  readonly keptAs?: string | undefined;
  readonly size_bytes?: number;
  readonly bytes?: number;
  readonly program?: string;
  readonly signal?: string;
  readonly command?: string;
  /** What a thread was to work out. */
  readonly job?: string;
  readonly snapshot?: string;
  readonly entryId?: number | undefined;
  /** The id of the entry that another takes back. */
  readonly withdraws?: number | undefined;
  readonly changed?: readonly string[];
  readonly channels?: readonly string[];

  /** Instants, RFC 3339, and civil days. */
  readonly at?: string;
  readonly until?: string | undefined;
  readonly day?: string;
  readonly failed_s?: number;

  readonly count?: number;
  /** What came and was not taken since the last such line. */
  readonly dropped?: number;
  readonly devices?: number;
  readonly cleared?: number;
  readonly snapshotsKept?: number;
  readonly journalKept?: number;
}

/** Structured log. error: something is lost or does not work; warn: it goes on without, or tries again; info: what was done. */
export interface Logger {
  debug(fields: LogFields, message: string): void;
  info(fields: LogFields, message: string): void;
  warn(fields: LogFields, message: string): void;
  error(fields: LogFields, message: string): void;
}
