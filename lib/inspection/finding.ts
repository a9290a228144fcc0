/** "good" holds, "look at this" may wait, "mend this first" does not, "not known" could not be looked at from here. */
export type Verdict = "good" | "look at this" | "mend this first" | "not known";

/** What an inspection says of one thing. */
export interface Finding {
  readonly subject: string;
  readonly verdict: Verdict;
  /** What was found, and what to do about it. */
  readonly told: string;
}

/** A line for each, and below them what they come to. */
export function findingLines(findings: readonly Finding[]): readonly string[] {
  const verdictWidth = Math.max(...findings.map(({ verdict }) => verdict.length));
  const subjectWidth = Math.max(...findings.map(({ subject }) => subject.length));
  const count = (verdict: Verdict): number =>
    findings.filter((finding) => finding.verdict === verdict).length;
  const toMend = count("mend this first");
  return [
    ...findings.map(
      ({ subject, verdict, told }) =>
        `${verdict.padEnd(verdictWidth)}  ${subject.padEnd(subjectWidth)}  ${told}`,
    ),
    `${toMend === 0 ? "nothing" : toMend} to mend first, ${count("look at this")} to look at, ${count("not known")} not known, ${count("good")} good`,
  ];
}

/** 0 where nothing has to be mended first, else 1. */
export function exitCodeOf(findings: readonly Finding[]): 0 | 1 {
  return findings.some(({ verdict }) => verdict === "mend this first") ? 1 : 0;
}
