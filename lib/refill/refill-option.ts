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
  const begins = [first_epochMs, last_epochMs, ...setting.days.closingsBetween(first_epochMs, last_epochMs)];
  for (let at = first_epochMs + step_ms; at < last_epochMs; at += step_ms) begins.push(at);
  return begins
    .sort((one, other) => one - other)
    .map((begins_epochMs) => ({ begins_epochMs, loss: lossOf(setting, fresh, begins_epochMs, dose_ratio) }))
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
  readonly chanceOfDate: ReadonlyMap<string, number>;
}

/** What is lost when a refill begins at an instant. */
function lossOf(
  setting: RefillSetting,
  fresh: FreshCharge,
  begins_epochMs: number,
  dose_ratio: number,
): RefillLoss {
  const { request, days, draws } = setting;
  const closed_epochMs = begins_epochMs + request.habits.handling_min * minute_ms;
  const ready_ms = readyDrawsOf_ms(fresh.ready);
  const weight = 1 / (draws.length * ready_ms.length);
  const chanceOfDate = new Map<string, number>();
  let chance_ratio = 0;
  let expected_days = 0;
  const gapEnds_epochMs = ready_ms.map((after_ms) => {
    const ready_epochMs = closed_epochMs + after_ms;
    return request.hasSpareVessel ? exchangeAt(setting, ready_epochMs) : ready_epochMs;
  });
  // Most draws outlast the beginning, and share one gap.
  const gaps = new Map<number, number>();
  for (const draw of draws) {
    const runOut_epochMs = days.instantAfter(draw.open_ms / dose_ratio) ?? Infinity;
    const from_epochMs = request.hasSpareVessel ? runOut_epochMs : Math.min(runOut_epochMs, begins_epochMs);
    gaps.set(from_epochMs, (gaps.get(from_epochMs) ?? 0) + weight);
  }
  for (const [gapFrom_epochMs, share] of gaps) {
    for (const gapTo_epochMs of gapEnds_epochMs) {
      const lost = days.missedBetween(gapFrom_epochMs, gapTo_epochMs);
      if (lost.length === 0) continue;
      chance_ratio += share;
      expected_days += share * lost.length;
      for (const { date } of lost) chanceOfDate.set(date, (chanceOfDate.get(date) ?? 0) + share);
    }
  }
  return { chance_ratio: rounded(chance_ratio), expected_days: rounded(expected_days), chanceOfDate };
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
    lostDays: [...loss.chanceOfDate]
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
