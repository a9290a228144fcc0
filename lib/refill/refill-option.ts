import type { RunOut } from "../estimation/run-out.js";
import type { DosingCalendar } from "../schedule/dosing-calendar.js";
import type { DateOff } from "../schedule/dosing-windows.js";
import type { DosingDays } from "./dosing-days.js";
import { readyDrawsOf_ms, type Amount80, type ReadyAfter, type RunOutDraw } from "./outlook-draws.js";
import type { RefillHabits, RefillOpportunity } from "./refill-times.js";

/** A charge that could be put in next. */
export interface FreshCharge {
  readonly closedWith: "water" | "ice";
  readonly ready: ReadyAfter;
  /** What it would give; left out: how long it would last is not told. */
  readonly deliverable_g?: number;
}

export interface RefillRequest {
  readonly now_epochMs: number;
  readonly timeZone: string;
  /** Of every valve on the vessel. */
  readonly calendars: readonly DosingCalendar[];
  readonly runOut: RunOut;
  /** What the charge in the vessel still gives. */
  readonly deliverable: Amount80;
  readonly habits: RefillHabits;
  /** Dates on which nobody is home. */
  readonly away: readonly DateOff[];
  /** The ways to fill that are compared; the first is how it is usually done. */
  readonly fresh: readonly [FreshCharge, ...(readonly FreshCharge[])];
  /** Chance of losing a dosing day that is accepted, 0.01 to 0.5. */
  readonly acceptedLoss_ratio: number;
  /** true: the fresh charge goes into a second vessel, and the old one doses until it is exchanged. */
  readonly hasSpareVessel: boolean;
}

/** What happens if the refill begins at an instant. */
export interface RefillOption {
  readonly date: string;
  readonly begins_epochMs: number;
  /** Chance that at least one dosing day is lost, before, during or after the refill. */
  readonly lossChance_ratio: number;
  readonly expectedLost_days: number;
  /** Days that are lost with a chance of a tenth or more. */
  readonly lostDays: readonly { readonly date: string; readonly chance_ratio: number }[];
  readonly ready: { readonly median_epochMs: number; readonly late_epochMs: number };
  /** What the old charge would still have given; with a spare vessel nothing. */
  readonly unused: Amount80;
  /** Median end of the fresh charge at today's use; undefined where its amount is not stated or it lies too far off. */
  readonly freshRunOut_epochMs: number | undefined;
}

/** A request with what every option needs of it. */
export interface RefillSetting {
  readonly request: RefillRequest;
  readonly days: DosingDays;
  readonly draws: readonly RunOutDraw[];
  readonly opportunities: readonly RefillOpportunity[];
}

const minute_ms = 60_000;
const step_ms = 30 * minute_ms;
/** Days lost with a smaller chance are not named. */
const toldChance_ratio = 0.1;

/** The best of an opportunity, as `bestBeginning`, with all that follows from it. */
export function bestOption(
  setting: RefillSetting,
  fresh: FreshCharge,
  opportunity: RefillOpportunity,
): RefillOption {
  const { begins_epochMs, loss } = bestBeginning(setting, fresh, opportunity, 1);
  return optionOf(setting, fresh, opportunity.date, begins_epochMs, loss);
}

/**
 * The best instant of an opportunity to begin: the least chance of a loss, then the least loss, then the earliest.
 * @param dose_ratio  dose from now on over today's
 */
export function bestBeginning(
  setting: RefillSetting,
  fresh: FreshCharge,
  { first_epochMs, last_epochMs }: RefillOpportunity,
  dose_ratio: number,
): { readonly begins_epochMs: number; readonly loss: RefillLoss } {
  const runOuts = runOutsOf(setting, dose_ratio);
  const begins = [first_epochMs, last_epochMs, ...setting.days.closingsBetween(first_epochMs, last_epochMs)];
  for (let at = first_epochMs + step_ms; at < last_epochMs; at += step_ms) begins.push(at);
  return begins
    .sort((one, other) => one - other)
    .map((begins_epochMs) => ({ begins_epochMs, loss: lossOf(setting, fresh, begins_epochMs, runOuts) }))
    .reduce((found, other) => (isLess(other.loss, found.loss) ? other : found));
}

function isLess(one: RefillLoss, other: RefillLoss): boolean {
  return one.chance_ratio === other.chance_ratio
    ? one.expected_days < other.expected_days
    : one.chance_ratio < other.chance_ratio;
}

export interface RefillLoss {
  readonly chance_ratio: number;
  readonly expected_days: number;
}

/** The instants at which the draws end, earliest first; beyond the days that were looked at, Infinity. */
function runOutsOf({ days, draws }: RefillSetting, dose_ratio: number): readonly number[] {
  return draws
    .map((draw) => days.instantAfter(draw.open_ms / dose_ratio) ?? Infinity)
    .sort((one, other) => one - other);
}

/** A stretch without gas, and how likely it is. */
interface Gap {
  readonly from_epochMs: number;
  readonly to_epochMs: number;
  readonly share_ratio: number;
}

/** The stretches without gas when a refill begins at an instant. Draws that outlast the beginning share one. */
function gapsOf(
  setting: RefillSetting,
  fresh: FreshCharge,
  begins_epochMs: number,
  runOuts: readonly number[],
): readonly Gap[] {
  const { request } = setting;
  const closed_epochMs = begins_epochMs + request.habits.handling_min * minute_ms;
  const ends = new Map<number, number>();
  const ready_ms = readyDrawsOf_ms(fresh.ready);
  for (const after_ms of ready_ms) {
    const ready_epochMs = closed_epochMs + after_ms;
    const to_epochMs = request.hasSpareVessel ? exchangeAt(setting, ready_epochMs) : ready_epochMs;
    ends.set(to_epochMs, (ends.get(to_epochMs) ?? 0) + 1);
  }
  const starts = new Map<number, number>();
  for (const runOut_epochMs of runOuts) {
    const from_epochMs = request.hasSpareVessel ? runOut_epochMs : Math.min(runOut_epochMs, begins_epochMs);
    starts.set(from_epochMs, (starts.get(from_epochMs) ?? 0) + 1);
  }
  const weight = 1 / (runOuts.length * ready_ms.length);
  const gaps: Gap[] = [];
  for (const [from_epochMs, count] of starts) {
    for (const [to_epochMs, times] of ends) {
      if (to_epochMs > from_epochMs)
        gaps.push({ from_epochMs, to_epochMs, share_ratio: weight * count * times });
    }
  }
  return gaps;
}

/** What is lost when a refill begins at an instant. */
function lossOf(
  setting: RefillSetting,
  fresh: FreshCharge,
  begins_epochMs: number,
  runOuts: readonly number[],
): RefillLoss {
  let chance_ratio = 0;
  let expected_days = 0;
  for (const { from_epochMs, to_epochMs, share_ratio } of gapsOf(setting, fresh, begins_epochMs, runOuts)) {
    const { first, end } = setting.days.missedRun(from_epochMs, to_epochMs);
    if (end === first) continue;
    chance_ratio += share_ratio;
    expected_days += share_ratio * (end - first);
  }
  return { chance_ratio: rounded(chance_ratio), expected_days: rounded(expected_days) };
}

/** The days that are lost so, each with its chance. */
function chanceOfDates(
  setting: RefillSetting,
  fresh: FreshCharge,
  begins_epochMs: number,
): ReadonlyMap<string, number> {
  const chances = new Map<string, number>();
  for (const gap of gapsOf(setting, fresh, begins_epochMs, runOutsOf(setting, 1))) {
    for (const { date } of setting.days.missedBetween(gap.from_epochMs, gap.to_epochMs)) {
      chances.set(date, (chances.get(date) ?? 0) + gap.share_ratio);
    }
  }
  return chances;
}

/**
 * What is lost at the least by an opportunity, however soon a fresh charge is ready: the days that the draws which end before it
 * miss until then. It only grows from one opportunity to the next.
 */
export function leastLossBy(setting: RefillSetting, at_epochMs: number): RefillLoss {
  const runOuts = runOutsOf(setting, 1);
  const lost = runOuts.map((runOut_epochMs) => {
    const { first, end } = setting.days.missedRun(runOut_epochMs, at_epochMs);
    return end - first;
  });
  return {
    chance_ratio: rounded(lost.filter((count) => count > 0).length / lost.length),
    expected_days: rounded(lost.reduce((sum, count) => sum + count, 0) / lost.length),
  };
}

/** Sums of equal weights, free of their rounding. */
function rounded(sum: number): number {
  return Math.round(sum * 1e9) / 1e9;
}

/** When somebody is there to exchange the vessels once the fresh one is ready. */
function exchangeAt({ opportunities, days }: RefillSetting, ready_epochMs: number): number {
  const then = opportunities.find((opportunity) => opportunity.last_epochMs >= ready_epochMs);
  return then === undefined ? days.to_epochMs : Math.max(then.first_epochMs, ready_epochMs);
}

function optionOf(
  setting: RefillSetting,
  fresh: FreshCharge,
  date: string,
  begins_epochMs: number,
  loss: RefillLoss,
): RefillOption {
  const { request, days } = setting;
  const closed_epochMs = begins_epochMs + request.habits.handling_min * minute_ms;
  const ready_epochMs = closed_epochMs + fresh.ready.value_h * 60 * minute_ms;
  return {
    date,
    begins_epochMs,
    lossChance_ratio: loss.chance_ratio,
    expectedLost_days: loss.expected_days,
    lostDays: [...chanceOfDates(setting, fresh, begins_epochMs)]
      .filter(([, chance_ratio]) => chance_ratio >= toldChance_ratio)
      .map(([lostDate, chance_ratio]) => ({ date: lostDate, chance_ratio: rounded(chance_ratio) }))
      .sort((one, other) => (one.date < other.date ? -1 : 1)),
    ready: {
      median_epochMs: ready_epochMs,
      late_epochMs: closed_epochMs + fresh.ready.high_h * 60 * minute_ms,
    },
    unused: request.hasSpareVessel
      ? { value_g: 0, low80_g: 0, high80_g: 0 }
      : unusedAt(setting, days.openUntil_ms(begins_epochMs)),
    freshRunOut_epochMs: freshRunOut(setting, fresh, ready_epochMs),
  };
}

function unusedAt({ draws }: RefillSetting, used_ms: number): Amount80 {
  const left_g = draws
    .map(({ open_ms, deliverable_g }) => (open_ms > used_ms ? deliverable_g * (1 - used_ms / open_ms) : 0))
    .sort((one, other) => one - other);
  const quantile_g = (share: number): number => left_g[Math.round(share * (left_g.length - 1))] ?? 0;
  const mean_g = left_g.reduce((sum, amount_g) => sum + amount_g, 0) / left_g.length;
  return { value_g: mean_g, low80_g: quantile_g(0.1), high80_g: quantile_g(0.9) };
}

function freshRunOut(
  { request, days }: RefillSetting,
  { deliverable_g }: FreshCharge,
  ready_epochMs: number,
): number | undefined {
  if (deliverable_g === undefined || !(request.deliverable.value_g > 0)) return undefined;
  const median_ms = days.openUntil_ms(request.runOut.median_epochMs);
  const lasts_ms = (median_ms * deliverable_g) / request.deliverable.value_g;
  return lasts_ms > 0 ? days.instantAfter(days.openUntil_ms(ready_epochMs) + lasts_ms) : undefined;
}
