import { civilMinute } from "../supply/supply-events.js";
import type { LeakTestView } from "./leak-test-keeper.js";

interface Civil {
  readonly now_epochMs: number;
  readonly timeZone: string;
}

/** How far a test is and what could be told by now, or what the last one found. */
export function leakTestLines(
  { test, isRunning, byNow }: LeakTestView,
  { now_epochMs, timeZone }: Civil,
): readonly string[] {
  const local = (at_epochMs: number): string => civilMinute(at_epochMs, timeZone);
  const { from_epochMs, until_epochMs, found } = test;
  if (found !== undefined) {
    const ended = `leak test ended ${local(found.ended_epochMs)}${found.isEarly ? ", before its time" : ""}`;
    return [`${ended}: ${found.sentences[0] ?? ""}`, ...found.sentences.slice(1)];
  }
  if (!isRunning) return [];
  const hours = (ms: number): string => (Math.max(0, ms) / 3_600_000).toFixed(1);
  const read =
    test.gaugeAccuracy_bar === undefined
      ? []
      : ["read the gauge again before the end, and give it to `leak-test end` or to the journal"];
  return [
    `leak test until ${local(until_epochMs)}: ${hours(now_epochMs - from_epochMs)} of ${hours(until_epochMs - from_epochMs)} h; its valves are held closed`,
    ...(byNow === undefined
      ? []
      : byNow.sentences.map((sentence, k) => (k === 0 ? `by now: ${sentence}` : sentence))),
    ...read,
  ];
}

/** In a vessel's document; null where none was ever made. */
export function leakTestFields(
  view: LeakTestView | undefined,
  instant: (at_epochMs: number) => string,
): unknown {
  if (view === undefined) return null;
  const { test, isRunning, byNow } = view;
  const told = test.found ?? byNow;
  const verdict = told?.verdict;
  return {
    state: isRunning ? "running" : "ended",
    beganAt: instant(test.from_epochMs),
    until: instant(test.until_epochMs),
    endedAt: test.found === undefined ? null : instant(test.found.ended_epochMs),
    readFrom: test.gaugeAccuracy_bar === undefined ? "sensor" : "by eye",
    verdict: verdict?.kind ?? null,
    why: verdict?.kind === "cannot-be-told" ? verdict.why : null,
    closed_h: verdict === undefined ? null : rounded(verdict.closed_h, 1),
    leak_gPerDay: verdict?.kind === "leaks" ? rounded(verdict.leak_gPerDay, 2) : null,
    leak95_gPerDay:
      verdict?.kind === "leaks"
        ? [rounded(verdict.low95_gPerDay, 2), rounded(verdict.high95_gPerDay, 2)]
        : verdict?.kind === "tight"
          ? [0, rounded(verdict.below_gPerDay, 2)]
          : null,
    sentences: told?.sentences ?? [],
  };
}

/** What must be told at once when it changes. */
export function leakTestEssence(view: LeakTestView | undefined): unknown {
  const told = view?.test.found ?? view?.byNow;
  return [view?.isRunning, view?.test.until_epochMs, told?.verdict.kind];
}

function rounded(value: number, digits: number): number {
  return Number(value.toFixed(digits));
}
