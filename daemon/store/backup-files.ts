import type { BackupContent } from "../ports/site-store.js";

/** A copy that is to be made, and which older ones go once it is there. */
export interface NightlyCopy {
  readonly name: string;
  readonly content: BackupContent;
}

const prefixes: Readonly<Record<BackupContent, string>> = {
  everything: "whole",
  "without readings": "night",
};
/** Of the whole copies; each is nearly as large as the database. A judgement. */
const wholeCopiesKept = 2;
const copyName = /^(?:night|whole)-\d{4}-\d{2}-\d{2}\.db$/;

/** @param date  of the site, YYYY-MM-DD. @param names  in the folder. */
export function nightlyCopy(
  date: string,
  names: readonly string[],
  whole: "monthly" | "nightly",
): NightlyCopy {
  const hasWholeOfMonth = names.some((name) =>
    name.startsWith(`${prefixes.everything}-${date.slice(0, 7)}-`),
  );
  const content = whole === "nightly" || !hasWholeOfMonth ? "everything" : "without readings";
  return { name: `${prefixes[content]}-${date}.db`, content };
}

/** The copies beyond those that are kept, by the dates in their names. Other files are nobody's business here. */
export function surplusCopies(
  names: readonly string[],
  kept: { readonly nights: number; readonly whole: "monthly" | "nightly" },
): readonly string[] {
  const ours = names.filter((name) => copyName.test(name)).sort();
  const beyond = (content: BackupContent, count: number): readonly string[] =>
    ours.filter((name) => name.startsWith(prefixes[content])).slice(0, -count);
  return [
    ...beyond("without readings", kept.nights),
    ...beyond("everything", kept.whole === "nightly" ? kept.nights : wholeCopiesKept),
  ];
}

/**
 * The newest copy, and its date, YYYY-MM-DD; undefined where there is none. One of a day to come, by a clock that was wrong, says
 * nothing of the last night.
 */
export function newestCopy(
  names: readonly string[],
  today: string,
): { readonly name: string; readonly date: string } | undefined {
  return names
    .filter((name) => copyName.test(name))
    .map((name) => ({ name, date: name.slice(name.indexOf("-") + 1, -".db".length) }))
    .filter(({ date }) => date <= today)
    .sort((a, b) => (a.date < b.date ? -1 : 1))
    .at(-1);
}
