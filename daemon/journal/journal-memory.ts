import {
  subjectOf,
  type FactOf,
  type JournalEntry,
  type JournalKind,
  type JournalView,
} from "../../lib/journal/journal-entry.js";

/** Of each kind and subject in memory: more than a year of daily entries. */
export const keptInMemory = 500;

export interface JournalQuery {
  readonly subject?: string;
  readonly since_epochMs?: number;
  readonly newest: number;
}

/** The entries at hand, each kind and subject in the order of time. */
export class JournalMemory implements JournalView {
  readonly #series = new Map<string, readonly JournalEntry[]>();

  add(entry: JournalEntry): void {
    const entries = [...this.#of(entry.fact.kind, subjectOf(entry.fact).id), entry].sort(byTime);
    this.#put(entry, entries.length > 2 * keptInMemory ? entries.slice(-keptInMemory) : entries);
  }

  /** The same entry, from now on counting no more. */
  withdraw(entry: JournalEntry, withdrawnAt_epochMs?: number): JournalEntry {
    const withdrawn = { ...entry, withdrawn: true, withdrawnAt_epochMs };
    const entries = this.#of(entry.fact.kind, subjectOf(entry.fact).id);
    this.#put(
      entry,
      entries.map((known) => (known.entryId === entry.entryId ? withdrawn : known)),
    );
    return withdrawn;
  }

  find(entryId: number): JournalEntry | undefined {
    return this.#all().find((entry) => entry.entryId === entryId);
  }

  latest<Kind extends JournalKind>(kind: Kind, subjectId: string): JournalEntry<FactOf<Kind>> | undefined {
    const entries = this.#of(kind, subjectId);
    for (let place = entries.length - 1; place >= 0; place -= 1) {
      const entry = entries[place];
      if (entry !== undefined && countsAs(kind, entry)) return entry;
    }
    return undefined;
  }

  entriesOf<Kind extends JournalKind>(
    kind: Kind,
    subjectId: string,
    since_epochMs: number,
  ): readonly JournalEntry<FactOf<Kind>>[] {
    return this.#of(kind, subjectId)
      .filter((entry) => countsAs(kind, entry))
      .filter(({ at_epochMs }) => at_epochMs >= since_epochMs);
  }

  withdrawnOf<Kind extends JournalKind>(
    kind: Kind,
    subjectId: string,
    since_epochMs: number,
  ): readonly JournalEntry<FactOf<Kind>>[] {
    return this.#of(kind, subjectId).filter(
      (entry): entry is JournalEntry<FactOf<Kind>> =>
        isOf(kind, entry) &&
        entry.withdrawnAt_epochMs !== undefined &&
        entry.withdrawnAt_epochMs >= since_epochMs,
    );
  }

  /** The newest entries, withdrawn ones too, oldest first. */
  list({ subject, since_epochMs, newest }: JournalQuery): readonly JournalEntry[] {
    const found = this.#all()
      .filter(
        ({ fact, at_epochMs }) =>
          (subject === undefined || subjectOf(fact).id === subject) &&
          (since_epochMs === undefined || at_epochMs >= since_epochMs),
      )
      .sort(byTime);
    return newest > 0 ? found.slice(-newest) : [];
  }

  #all(): JournalEntry[] {
    return [...this.#series.values()].flat();
  }

  #of(kind: JournalKind, subjectId: string): readonly JournalEntry[] {
    return this.#series.get(seriesKey(kind, subjectId)) ?? [];
  }

  #put(like: JournalEntry, entries: readonly JournalEntry[]): void {
    this.#series.set(seriesKey(like.fact.kind, subjectOf(like.fact).id), entries);
  }
}

function seriesKey(kind: JournalKind, subjectId: string): string {
  return `${kind}|${subjectId}`;
}

function byTime(a: JournalEntry, b: JournalEntry): number {
  return a.at_epochMs - b.at_epochMs || a.entryId - b.entryId;
}

function countsAs<Kind extends JournalKind>(
  kind: Kind,
  entry: JournalEntry,
): entry is JournalEntry<FactOf<Kind>> {
  return isOf(kind, entry) && !entry.withdrawn;
}

function isOf<Kind extends JournalKind>(
  kind: Kind,
  entry: JournalEntry,
): entry is JournalEntry<FactOf<Kind>> {
  return entry.fact.kind === kind;
}
