import type { EntryRefusal } from "../../lib/journal/judge-entry.js";
import { subjectOf, type JournalEntry } from "../../lib/journal/journal-entry.js";
import type { EntryOutcome } from "./journal.js";
import { factInWords, localTime, localTimeWithOffset, remarkInWords } from "./journal-words.js";

/** What the sender of an entry is told, as JSON. */
export type EntryAnswer =
  | {
      readonly accepted: true;
      readonly entryId: number;
      /** True where it had been entered before. */
      readonly known: boolean;
      readonly at: string;
      readonly subject: string;
      readonly fact: string;
      readonly remarks: readonly string[];
    }
  | { readonly accepted: false; readonly reason: string; readonly refusal?: EntryRefusal };

export function answerTo(outcome: EntryOutcome, timeZone: string): EntryAnswer {
  if (outcome.kind !== "kept") {
    const { reason, refusal } = outcome;
    return { accepted: false, reason, ...(refusal === undefined ? {} : { refusal }) };
  }
  const { entry, known, remarks } = outcome;
  return {
    accepted: true,
    entryId: entry.entryId,
    known,
    at: localTimeWithOffset(entry.at_epochMs, timeZone),
    subject: subjectOf(entry.fact).id,
    fact: factInWords(entry.fact),
    remarks: remarks.map((remark) => remarkInWords(remark, timeZone)),
  };
}

/** The same for a person at a terminal. */
export function answerText(outcome: Extract<EntryOutcome, { kind: "kept" }>, timeZone: string): string {
  const { entry, known, remarks } = outcome;
  const what = `${localTime(entry.at_epochMs, timeZone)}, ${subjectOf(entry.fact).id}, ${factInWords(entry.fact)}`;
  const first = known
    ? `was known already as entry ${entry.entryId}: ${what}`
    : `kept as entry ${entry.entryId}: ${what}`;
  return [first, ...remarks.map((remark) => remarkInWords(remark, timeZone))].join("\n");
}

/** An entry for a program. */
export function entryForProgram(entry: JournalEntry, timeZone: string): unknown {
  const { entryId, at_epochMs, enteredAt_epochMs, source, note, fact, withdrawn } = entry;
  return {
    entryId,
    at: localTimeWithOffset(at_epochMs, timeZone),
    enteredAt: localTimeWithOffset(enteredAt_epochMs, timeZone),
    source,
    note,
    withdrawn,
    ...fact,
  };
}
