import type { SupplyEstimate } from "../../lib/estimation/supply-estimate.js";
import { isRunOutVague } from "../../lib/estimation/run-out.js";
import { wallClockAt } from "../../lib/schedule/civil-time.js";
import { plainText } from "../../lib/told/plain-text.js";
import { day, grams, said, type SaidPart } from "../../lib/told/said.js";
import type { SiteEvent } from "../ports/site-store.js";
import type { SupplyMemory, SupplySummary, ToldRunOut } from "./supply-memory.js";
import type { ToldSupply } from "./vessel-supply.js";

const day_ms = 86_400_000;
/** A run-out that has moved by less than this share of the time left is the same. */
const moved_ratio = 0.1;

/** "2026-03-24 14:10" */
export function civilMinute(at_epochMs: number, timeZone: string): string {
  const { date, timeOfDay } = wallClockAt(at_epochMs, timeZone);
  return `${date} ${timeOfDay.slice(0, 5)}`;
}

/** What is told from now on; the very same where there is nothing new to tell. At most once a day. */
export function newlyTold(before: ToldRunOut | undefined, estimate: SupplyEstimate): ToldRunOut | undefined {
  const { at_epochMs, phase, runOut } = estimate;
  if (phase !== "dosing" && phase !== "ready") return before;
  if (isRunOutVague(runOut, at_epochMs)) return before;
  if (before !== undefined) {
    const moved_ms = Math.abs(runOut.median_epochMs - before.median_epochMs);
    const left_ms = before.median_epochMs - before.at_epochMs;
    if (at_epochMs - before.at_epochMs < day_ms || moved_ms < moved_ratio * left_ms) return before;
  }
  return { at_epochMs, median_epochMs: runOut.median_epochMs };
}

/** "charge cellar runs out about 2026-03-24: ..." */
export function runOutEvent(vesselId: string, { estimate, source }: ToldSupply, timeZone: string): SiteEvent {
  const { runOut, remaining, deliverable, at_epochMs } = estimate;
  const date = (instant_epochMs: number): string => wallClockAt(instant_epochMs, timeZone).date;
  const on = (instant_epochMs: number): SaidPart => day(date(instant_epochMs));
  const reason = said`between ${on(runOut.low80_epochMs)} and ${on(runOut.high80_epochMs)} in four of five cases; ${grams(remaining.value_g, 0)} of CO2 are left, ${grams(deliverable.value_g, 0)} of it can be dosed`;
  return {
    at_epochMs,
    area: "charge",
    subject: vesselId,
    what: `runs out about ${date(runOut.median_epochMs)}`,
    reason: plainText(reason),
    details: {
      runOut: { ...runOut },
      co2Remaining_g: remaining.value_g,
      co2Deliverable_g: deliverable.value_g,
      pressureFrom: source,
      said: said`runs out about ${on(runOut.median_epochMs)}, ${reason}`,
    },
  };
}

export function summaryOf({ estimate, source }: ToldSupply): SupplySummary {
  const { at_epochMs, charge_g, remaining, leak_gPerDay } = estimate;
  return {
    at_epochMs,
    charge_g,
    gave_g: charge_g - remaining.value_g,
    gaveLow80_g: charge_g - remaining.high80_g,
    gaveHigh80_g: charge_g - remaining.low80_g,
    leak_gPerDay: leak_gPerDay.value,
    pressureFrom: source,
  };
}

/** The record of a charge that another has replaced: what it gave, leak included, as far as it is known. */
export function endedCharge(
  vesselId: string,
  { chargeKey, closedAt_epochMs }: Pick<SupplyMemory, "chargeKey" | "closedAt_epochMs">,
  summary: SupplySummary,
  endedAt_epochMs: number,
  now_epochMs: number,
): SiteEvent {
  const { charge_g, gave_g } = summary;
  const days = (endedAt_epochMs - closedAt_epochMs) / day_ms;
  const reason = said`refilled after ${days.toFixed(0)} days; it gave ${grams(gave_g, 0)} of CO2 of ${grams(charge_g, 0)}`;
  return {
    at_epochMs: now_epochMs,
    area: "charge",
    subject: vesselId,
    what: "ended",
    reason: plainText(reason),
    details: {
      charge: chargeKey,
      closedAt_epochMs,
      endedAt_epochMs,
      ...summary,
      said: said`ended, ${reason}`,
    },
  };
}
