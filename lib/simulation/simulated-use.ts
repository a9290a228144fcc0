import type { DailyWindow } from "../estimation/supply-trace.js";
import {
  addDays,
  instantsOfWallClock,
  wallClockAt,
  type InstantsOfWallClock,
} from "../schedule/civil-time.js";
import { drawNormal } from "./random-source.js";

/** A span in which the valve is told to be open. */
export interface OpenSpan {
  readonly from_epochMs: number;
  readonly to_epochMs: number;
}

/** How people use their gas. */
export interface UseHabits {
  /** Chance of a day without dosing. */
  readonly skippedDay_ratio: number;
  /** Chance, each day, of an hour or two by hand outside the windows; and of a window that is ended early. */
  readonly openedByHand_ratio: number;
  readonly closedByHand_ratio: number;
  /** The needle valve: touched once in so many days, by a factor with this standard deviation of its logarithm. */
  readonly needleTouched_days: number;
  readonly needleTouch_ln: number;
  /** Wander of the flow through filter, needle and diffuser, standard deviation of the logarithm in a day. */
  readonly flowWander_ln: number;
}

const minute_ms = 60_000;
const fiveMinutes_ms = 5 * minute_ms;

function instantOf(found: InstantsOfWallClock): number {
  switch (found.kind) {
    case "once":
      return found.at_epochMs;
    case "twice":
      return found.earlier_epochMs;
    case "never":
      return found.change_epochMs;
  }
}

/** Spans that touch or overlap become one. */
function joined(spans: readonly OpenSpan[]): readonly OpenSpan[] {
  const result: OpenSpan[] = [];
  for (const span of [...spans].sort((a, b) => a.from_epochMs - b.from_epochMs)) {
    const last = result.at(-1);
    if (last !== undefined && span.from_epochMs <= last.to_epochMs) {
      result[result.length - 1] = {
        from_epochMs: last.from_epochMs,
        to_epochMs: Math.max(last.to_epochMs, span.to_epochMs),
      };
    } else if (span.to_epochMs > span.from_epochMs) result.push(span);
  }
  return result;
}

/**
 * When the valve is told to be open from one instant to another, in order, by windows of the wall clock and by what
 * people do besides. A window that closes before it opens ends on the next day. Whole multiples of 5 minutes.
 * @throws UnknownNameError for an unknown time zone
 */
export function plannedOpenSpans(
  plan: {
    readonly windows: readonly DailyWindow[];
    readonly timeZone: string;
    readonly from_epochMs: number;
    readonly to_epochMs: number;
    readonly habits: UseHabits;
  },
  random: () => number,
): readonly OpenSpan[] {
  const { habits } = plan;
  const spans: OpenSpan[] = [];
  let { date } = wallClockAt(plan.from_epochMs, plan.timeZone);
  const last = wallClockAt(plan.to_epochMs, plan.timeZone).date;
  const at = (day: string, minute: number): number =>
    instantOf(instantsOfWallClock(day, minute, plan.timeZone));
  for (; date <= last; date = addDays(date, 1)) {
    const skipped = random() < habits.skippedDay_ratio;
    const shortened = random() < habits.closedByHand_ratio;
    const extra = random() < habits.openedByHand_ratio;
    const how_min = 30 + 5 * Math.floor(30 * random());
    const when_min = 5 * Math.floor(288 * random());
    if (!skipped) {
      for (const window of plan.windows) {
        const overnight = window.closes_min <= window.opens_min;
        const from_epochMs = at(date, window.opens_min);
        const to_epochMs = at(overnight ? addDays(date, 1) : date, window.closes_min);
        const cut_ms = shortened ? how_min * minute_ms : 0;
        spans.push({ from_epochMs, to_epochMs: to_epochMs - cut_ms });
      }
    }
    if (extra) {
      const from_epochMs = at(date, when_min);
      spans.push({ from_epochMs, to_epochMs: from_epochMs + how_min * minute_ms });
    }
  }
  return joined(spans).flatMap((span) => {
    const from_epochMs = Math.max(span.from_epochMs, plan.from_epochMs);
    return span.to_epochMs > from_epochMs ? [{ from_epochMs, to_epochMs: span.to_epochMs }] : [];
  });
}

/**
 * Opening of the gas path over time, 1 at the start: steps where somebody touched the needle valve, and a slow wander.
 * To be asked in order of time.
 */
export function createFlowWander(
  habits: UseHabits,
  start_epochMs: number,
  random: () => number,
): (at_epochMs: number) => number {
  let opening_ln = 0;
  let last_epochMs = start_epochMs;
  return (at_epochMs) => {
    if (at_epochMs - last_epochMs < fiveMinutes_ms) return Math.exp(opening_ln);
    const passed_days = (at_epochMs - last_epochMs) / 86_400_000;
    last_epochMs = at_epochMs;
    opening_ln += habits.flowWander_ln * Math.sqrt(passed_days) * drawNormal(random);
    if (random() < passed_days / habits.needleTouched_days)
      opening_ln += habits.needleTouch_ln * drawNormal(random);
    return Math.exp(opening_ln);
  };
}
