import type { EstimatedCo2 } from "../../lib/estimation/supply-estimate.js";
import { toldRunOut } from "../../lib/estimation/run-out.js";
import { instantInZone } from "../cli/instant-text.js";
import type { RefillAdvice } from "./refill-advice.js";
import type { FlowFactor } from "../../lib/supply-watch/surge-outlook.js";
import type { ToldSupply, VesselSupply } from "./vessel-supply.js";

/** What must be told at once when it changes. Grams and run-out move slowly and go out with the next document. */
export function supplyEssence(supply: VesselSupply | undefined): readonly unknown[] {
  if (supply === undefined) return [];
  const { charge, told, failure } = supply;
  return [
    charge?.closedAt_epochMs,
    failure,
    told?.source,
    told?.pressureRead_epochMs !== undefined && told.source === "by eye" ? told.pressureRead_epochMs : null,
    told?.estimate.phase,
    told?.limits,
    told?.estimate.warnings.map(({ id }) => id),
    told?.refill?.usual.verdict,
    told?.refill?.usual.lastSensible?.date,
  ];
}

/**
 * What is left in a vessel, when it runs out, and from what that is known. Every field is null until an estimate is made, and the
 * run-out until its day is known.
 */
export function supplyFields(
  supply: VesselSupply | undefined,
  { now_epochMs, timeZone }: { readonly now_epochMs: number; readonly timeZone: string },
): Readonly<Record<string, unknown>> {
  const told = supply?.told;
  const instant = (at_epochMs: number | undefined): string | null =>
    at_epochMs === undefined ? null : instantInZone(at_epochMs, timeZone);
  const age_s = (at_epochMs: number | undefined): number | null =>
    at_epochMs === undefined ? null : Math.max(0, Math.round((now_epochMs - at_epochMs) / 1000));
  const charge = {
    chargeClosedAt: instant(supply?.charge?.closedAt_epochMs),
    chargeFrom: supply?.charge?.from ?? null,
    supplyFailure: supply?.failure ?? null,
  };
  if (told === undefined) return { ...charge, phase: null };
  const { estimate, use } = told;
  const { leak_gPerDay, charge_g } = estimate;
  const runOut = toldRunOut(estimate.runOut, estimate.at_epochMs);
  return {
    ...charge,
    phase: estimate.phase,
    chargeCo2_g: rounded(charge_g, 1),
    ...amountFields("co2Remaining", estimate.remaining, charge_g),
    ...amountFields("co2Deliverable", estimate.deliverable, charge_g),
    usePerDay_g: rounded(use.total_gPerDay, 2),
    usePerDayByTank_g: Object.fromEntries(
      use.byTank.map(({ tankId, co2_gPerDay }) => [tankId, rounded(co2_gPerDay, 2)]),
    ),
    leak_gPerDay: rounded(leak_gPerDay.value, 2),
    leakDeviation_gPerDay: rounded(leak_gPerDay.deviation, 2),
    runOut: {
      median: instant(runOut?.median_epochMs),
      low80: instant(runOut?.low80_epochMs),
      high80: instant(runOut?.high80_epochMs),
    },
    dosingLeft_days:
      runOut === undefined ? null : rounded(Math.max(0, runOut.median_epochMs - now_epochMs) / 86_400_000, 1),
    dosingDaysLeft:
      told.refill === undefined || runOut === undefined
        ? null
        : {
            median: told.refill.daysLeft.median,
            low80: told.refill.daysLeft.low80,
            high80: told.refill.daysLeft.high80,
          },
    refill: told.refill === undefined ? null : refillFields(told.refill, instant),
    pressureFrom: told.source,
    pressureAge_s: age_s(told.pressureRead_epochMs),
    supplyAge_s: age_s(estimate.at_epochMs),
    surge: surgeFields(told.surge),
    warnings: estimate.warnings.map(({ id, text }) => ({ id, text })),
  };
}

function surgeFields(surge: ToldSupply["surge"]): Readonly<Record<string, unknown>> | null {
  if (surge === undefined) return null;
  const { outlook, verdict, signs, untilSurge_days } = surge;
  const factor = ({ value, low80, high80 }: FlowFactor): Readonly<Record<string, number>> => ({
    value: rounded(value, 2),
    low80: rounded(low80, 2),
    high80: rounded(high80, 2),
  });
  return {
    verdict: verdict.kind,
    flowNow_ratio: factor(outlook.now),
    flowAtEnd_ratio: factor(outlook.atEnd),
    untilSurge_days: untilSurge_days === undefined ? null : rounded(untilSurge_days, 1),
    signs: signs.map(({ kind, flow_ratio }) => ({ kind, flow_ratio: factor(flow_ratio) })),
  };
}

function refillFields(
  { usual, sentences }: RefillAdvice,
  instant: (at_epochMs: number | undefined) => string | null,
): Readonly<Record<string, unknown>> {
  return {
    closedWith: usual.closedWith,
    verdict: usual.verdict,
    nextAt: instant(usual.next?.begins_epochMs),
    lastSensibleAt: instant(usual.lastSensible?.begins_epochMs),
    latestPossibleAt: instant(usual.latestPossible?.begins_epochMs),
    sentences,
  };
}

function amountFields(name: string, amount: EstimatedCo2, charge_g: number): Record<string, unknown> {
  const { value_g, low80_g, high80_g, low95_g, high95_g } = amount;
  return {
    [`${name}_g`]: rounded(value_g, 1),
    [`${name}80_g`]: [rounded(low80_g, 1), rounded(high80_g, 1)],
    [`${name}95_g`]: [rounded(low95_g, 1), rounded(high95_g, 1)],
    [`${name}_percent`]: Math.round((100 * value_g) / charge_g),
  };
}

function rounded(value: number, digits: number): number {
  return Number(value.toFixed(digits));
}
