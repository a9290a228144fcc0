import {
  boundsInWords,
  type ChargeAmounts,
  type ChargePlan,
  type PlannedCost,
  type PlannedDays,
  type RefusedPlan,
} from "../../lib/charge-plan/plan-charge.js";
import type { SurgeOutlook } from "../../lib/charge-plan/plan-request.js";
import type { PressureOutlook } from "../../lib/charge-plan/pressure-outlook.js";
import { bounded, money, pressureInUnits, row, sentence, wrapped } from "./plan-layout.js";

/** What stands in a plan in place of what it cannot tell. */
export interface PlanRemarks {
  readonly readyNotTold?: string;
  readonly flowNotTold?: string;
  readonly costNotTold?: string;
  /** What to begin with where no daily use was stated. */
  readonly usualUse?: string;
  /** Sentences on further tanks. */
  readonly moreTanks?: readonly string[];
  /** The error of the daily use was not stated. */
  readonly isUseErrorAssumed?: boolean;
}

/** A plan as the keeper reads it, line by line. */
export function planText(
  vesselId: string,
  plan: ChargePlan,
  vesselRows: readonly string[],
  remarks: PlanRemarks = {},
): readonly string[] {
  const { amounts, pressures, delivery, lasts, cost, readyTime, surge } = plan;
  const { unusable } = delivery;
  const lines = [
    `Charge for ${vesselId}`,
    ...vesselRows,
    "",
    "Weigh",
    ...amountRows(amounts),
    ...wrapped(
      "A little more acid than the exact proportion frees gas that would stay behind; far more is wasted.",
      "  ",
    ),
    "",
    "Order of work",
    ...orderOfWork(amounts),
    "",
    "Pressure on the gauge once the charge has settled, with its 95 % bounds",
    ...pressureRows(pressures, amounts.filling.kind),
    row(
      "highest allowed",
      `${pressures.highestAllowedGauge_bar.toFixed(1)} bar, for the upper bound on the hottest day`,
    ),
    ...wrapped(boundsInWords, "  "),
    "",
    "CO2",
    row("in the charge", `${delivery.co2Available_g.toFixed(0)} g`),
    row("reaches the tanks", bounded(delivery.deliverable_g, "g", 0)),
    row(
      "stays in the vessel",
      `${unusable.co2_g.toFixed(0)} g (${(100 * unusable.share_ratio).toFixed(0)} %): ${unusable.gas_g.toFixed(1)} g as gas, ` +
        `${unusable.dissolved_g.toFixed(1)} g dissolved, ${unusable.bicarbonate_g.toFixed(1)} g as bicarbonate`,
    ),
  ];
  if (lasts !== undefined) lines.push(...lastsRows(lasts, remarks.isUseErrorAssumed ?? false));
  else if (remarks.usualUse !== undefined) {
    lines.push(row("lasts", "not told: no daily use was stated"), ...wrapped(remarks.usualUse, "  "));
  }
  if (remarks.moreTanks !== undefined) {
    lines.push("  with more tanks on it", ...remarks.moreTanks.flatMap((text) => wrapped(text, "    ")));
  }
  if (readyTime !== undefined) {
    const { remark } = readyTime;
    lines.push(
      row(
        "ready after",
        `about ${bounded(readyTime, "hours", readyTime.value < 2 ? 1 : 0)}${remark === undefined ? "" : `; ${remark}`}`,
      ),
    );
  } else if (remarks.readyNotTold !== undefined) {
    lines.push(...wrapped(remarks.readyNotTold, row("ready after", "")));
  }
  if (surge !== undefined) lines.push(...wrapped(`${flowWords(surge)}.`, row("flow near the end", "")));
  else if (remarks.flowNotTold !== undefined) {
    lines.push(...wrapped(remarks.flowNotTold, row("flow near the end", "")));
  }
  if (cost !== undefined) lines.push(...costRows(cost));
  else if (remarks.costNotTold !== undefined) lines.push(row("costs", remarks.costNotTold));
  lines.push("", "Take care", ...plan.cautions.flatMap(({ text }) => wrapped(text, "- ")));
  return lines;
}

function lastsRows({ days, use_gPerDay, tanks }: PlannedDays, isUseErrorAssumed: boolean): readonly string[] {
  const unit = days.value.toFixed(0) === "1" ? "day" : "days";
  return [
    row("lasts", `${bounded(days, unit, 0)} at ${bounded(use_gPerDay, "g a day", 1)}`),
    ...tanks.map(({ tank, co2_g, use_gPerDay: use }) =>
      row(`  ${tank}`, `${co2_g.toFixed(0)} g, at ${bounded(use, "g a day", 1)}`),
    ),
    ...(isUseErrorAssumed
      ? wrapped("That a daily use is known to 20 % is an assumption; state yours as 2.5+-0.4.", "  ")
      : []),
  ];
}

/** Whatever the maker says of a vessel goes before what can be said of all. */
function orderOfWork({ filling }: ChargeAmounts): readonly string[] {
  const isIced = filling.kind !== "water";
  return [
    ...wrapped(
      "What goes in first, and how the vessel is closed, is for the vessel's own instructions to say; they come before this " +
        "plan. Have the head, its seal and the tool at hand before acid, bicarbonate and water meet.",
      "  ",
    ),
    ...wrapped(
      "Close at once: gas comes as soon as they meet. Then stand back; the gauge goes on rising slowly, for hours.",
      "  ",
    ),
    ...(isIced
      ? wrapped(
          "Ice is there to give time to close: little reacts before it melts. So it starts slowly, and a day until the gauge has " +
            "come to rest is normal.",
          "  ",
        )
      : []),
  ];
}

/** What the keeper sees of the creep, at the upper end of what is expected. */
function flowWords({ verdict, flowAtEnd_ratio }: SurgeOutlook): string {
  if (verdict === "steady") return "nobody will notice that the regulator creeps";
  const more = `up to ${(100 * (flowAtEnd_ratio - 1)).toFixed(0)} % more bubbles than at the start`;
  const todo = "look daily in the last days and turn the needle valve back; too much CO2 can harm the fish";
  return `${more}: ${todo}${verdict === "creeps" ? "" : ". A regulator that holds its pressure better would spare that"}`;
}

/** What it costs, beside a bought cylinder. `least` where what is delivered is the most that may be. */
export function costRows(cost: PlannedCost, bound: "value" | "least" = "value"): readonly string[] {
  const { currency, total, perGramDelivered: each, perGramFromCylinder: bought } = cost;
  const delivered =
    each === undefined
      ? ""
      : `, ${bound === "least" ? "at least " : ""}${money(100 * each, currency)} for 100 g delivered`;
  const beside = bought === undefined ? "" : `; from a bought cylinder ${money(100 * bought, currency)}`;
  return [row("costs", `${money(total, currency)}${delivered}${beside}`)];
}

/** Why there is no plan, and what would fit. Where only an option is missing, nothing is there to be weighed. */
export function refusalText(
  vesselId: string,
  refused: RefusedPlan,
  vesselRows: readonly string[],
  { usualUse }: Pick<PlanRemarks, "usualUse"> = {},
): readonly string[] {
  const lines = [
    `No charge is planned for ${vesselId}.`,
    ...vesselRows,
    "",
    ...wrapped(`${sentence(refused.reason)}.`, ""),
  ];
  if (refused.limit === "use-not-stated") {
    return [
      ...lines,
      "Say with --use-per-day what the tanks take, in grams.",
      ...(usualUse === undefined ? [] : wrapped(usualUse, "")),
    ];
  }
  const { largest } = refused;
  if (largest === undefined) return lines;
  const shown_g = tenthsDown(largest.sodiumBicarbonate_g);
  return [
    ...lines,
    "",
    "The largest charge that fits",
    ...amountRows({ ...largest, sodiumBicarbonate_g: shown_g }),
    row(
      "hottest day",
      `at most ${largest.highGauge_bar.toFixed(1)} bar at ${largest.hottest_degC.toFixed(0)} degC (95 %)`,
    ),
    row(
      "reaches the tanks",
      `${largest.deliverable_g.toFixed(0)} g${largest.days === undefined ? "" : `, about ${largest.days.toFixed(0)} days`}`,
    ),
    row("bound by", limitWords[largest.limit]),
    ...wrapped(
      `Ask for it with --bicarbonate ${shown_g.toFixed(1)} in place of what was asked, to see what to take care of, before ` +
        "anything is weighed.",
      "",
    ),
  ];
}

/** A largest amount as it is typed again: never more than it is. */
export function tenthsDown(amount: number): number {
  return Math.floor(10 * amount + 1e-9) / 10;
}

/** The limits in the words of a table. */
export const limitWords: Readonly<Record<RefusedPlan["limit"], string>> = {
  "rated-pressure": "rated pressure",
  "relief-opening-pressure": "pressure at which the relief device opens",
  "gas-space": "gas space",
  "neck-width": "width of the neck",
  "model-range": "range of the model",
  "pressure-not-stated": "pressure not stated",
  "use-not-stated": "use not stated",
};

function amountRows(amounts: ChargeAmounts): readonly string[] {
  const form = amounts.acidForm === "citric-acid-anhydrous" ? "anhydrous" : "monohydrate";
  const excess = 100 * amounts.acidExcess_ratio;
  const percent = Math.abs(excess).toFixed(0);
  const than =
    percent === "0"
      ? "the exact proportion"
      : `${percent} % ${excess < 0 ? "less" : "more"} than the exact proportion`;
  return [
    row("sodium bicarbonate", `${amounts.sodiumBicarbonate_g.toFixed(1)} g`),
    row("citric acid", `${amounts.citricAcid_g.toFixed(1)} g ${form}, ${than}`),
    ...fillingRows(amounts.filling),
    ...(amounts.residualLiquor_L === undefined
      ? []
      : [row("liquor left in", `${amounts.residualLiquor_L.toFixed(2)} L, of the last charge`)]),
  ];
}

function fillingRows({ kind, mass_kg, ice_kg }: ChargeAmounts["filling"]): readonly string[] {
  if (ice_kg === undefined) return [row(kind, `${mass_kg.toFixed(2)} kg`)];
  return [row("water", `${(mass_kg - ice_kg).toFixed(2)} kg`), row("ice", `${ice_kg.toFixed(2)} kg`)];
}

function pressureRows(
  { cold, room, hottest }: ChargePlan["pressures"],
  filling: ChargeAmounts["filling"]["kind"],
): readonly string[] {
  const outlookRow = (label: string, outlook: PressureOutlook): string =>
    row(label, pressureInUnits(outlook.temperature_degC, outlook.pressureGauge_bar, outlook));
  const isCooled = cold.temperature_degC < room.temperature_degC;
  return [
    outlookRow("cold, after sealing", cold),
    ...(isCooled
      ? [row("", filling === "water" ? "(the reaction cools it)" : "(ice and reaction cool it)")]
      : []),
    outlookRow("at room temperature", room),
    outlookRow("hottest day", hottest),
  ];
}
