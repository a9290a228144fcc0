import type { SupplyEstimate } from "../../lib/estimation/supply-estimate.js";
import { isRunOutVague } from "../../lib/estimation/run-out.js";
import { leakInWords } from "../../lib/told/leak-words.js";
import { plainText } from "../../lib/told/plain-text.js";
import { day, said, type Said, type SaidPart } from "../../lib/told/said.js";
import { civilMinute } from "./supply-events.js";
import type { ToldSupply, VesselSupply } from "./vessel-supply.js";

/** Below a vessel's first line: what is left, when it ends, from what that is known. */
export function supplyLines(
  supply: VesselSupply | undefined,
  { now_epochMs, timeZone }: { readonly now_epochMs: number; readonly timeZone: string },
): readonly string[] {
  if (supply === undefined) return [];
  const { told, failure } = supply;
  const fault = failure === undefined ? [] : [`  what is left is not known anew: ${failure}`];
  if (told === undefined) return failure === undefined ? ["  what is left is being worked out"] : fault;
  const { estimate, use } = told;
  const tanks = use.byTank.map(({ tankId, co2_gPerDay }) => `${tankId} ${digits(co2_gPerDay)}`);
  return [
    `  CO2 left ${grams(estimate.remaining.value_g)} of ${grams(estimate.charge_g)} g (80 %: ${spanText(estimate)}), ${grams(estimate.deliverable.value_g)} g can be dosed; ${estimate.phase}`,
    ...(estimate.phase === "spent" ? [] : [`  ${runOutText(estimate, now_epochMs, timeZone)}`]),
    `  use ${digits(use.total_gPerDay)} g a day${tanks.length < 2 ? "" : ` (${tanks.join(", ")})`}, leak ${leakInWords(estimate.leak_gPerDay.value)}`,
    `  ${sourceText(told, timeZone)}`,
    // The first sentence counts what the lines above have told.
    ...(told.refill?.sentences.slice(1) ?? []).map((sentence) => `  ${sentence}`),
    ...estimate.warnings.map(({ text }) => `  ${text}`),
    ...fault,
  ];
}

/** "61 g until 03-24": for the one line of a terminal. */
export function supplyBrief(supply: VesselSupply | undefined, timeZone: string): string | undefined {
  const estimate = supply?.told?.estimate;
  if (estimate === undefined) return undefined;
  const left = `${grams(estimate.remaining.value_g)} g`;
  if (estimate.phase === "spent") return `${left}, spent`;
  return isRunOutVague(estimate.runOut, estimate.at_epochMs)
    ? left
    : `${left} until ${civilMinute(estimate.runOut.median_epochMs, timeZone).slice(5, 10)}`;
}

/** What follows "the charge ...". */
export function runOutText(...run: Parameters<typeof runOutSaid>): string {
  return plainText(runOutSaid(...run));
}

export function runOutSaid(
  { runOut, at_epochMs }: SupplyEstimate,
  now_epochMs: number,
  timeZone: string,
): Said {
  const date = (instant_epochMs: number): SaidPart =>
    day(civilMinute(instant_epochMs, timeZone).slice(0, 10));
  if (isRunOutVague(runOut, at_epochMs)) {
    return said`may run out from ${date(runOut.low80_epochMs)} on; on which day is not known yet: too little of its use has been seen`;
  }
  const left_h = Math.max(0, runOut.median_epochMs - now_epochMs) / 3_600_000;
  const left = left_h < nearEnd_h ? `${left_h.toFixed(0)} hours` : `${(left_h / 24).toFixed(0)} days`;
  return said`runs out about ${date(runOut.median_epochMs)}, in ${left} (80 %: ${date(runOut.low80_epochMs)} to ${date(runOut.high80_epochMs)})`;
}

/** Nearer to its end, hours are told. */
const nearEnd_h = 48;

function spanText({ remaining }: SupplyEstimate): string {
  return `${grams(remaining.low80_g)} to ${grams(remaining.high80_g)} g`;
}

function sourceText({ source, pressureRead_epochMs }: ToldSupply, timeZone: string): string {
  switch (source) {
    case "sensor":
      return "by the pressure sensor and the valve's open time";
    case "by eye":
      return `by the gauge read on ${pressureRead_epochMs === undefined ? "an unknown day" : civilMinute(pressureRead_epochMs, timeZone)} and the valve's open time`;
    case "nothing yet":
      return "by what was put in and the valve's open time alone; enter a gauge reading to make it surer";
  }
}

function grams(value_g: number): string {
  return value_g >= 10 ? value_g.toFixed(0) : value_g.toFixed(1);
}

function digits(value: number): string {
  return String(Number(value.toPrecision(2)));
}
