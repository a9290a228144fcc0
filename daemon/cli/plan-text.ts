import {
  boundsInWords,
  type ChargeAmounts,
  type ChargePlan,
  type PlannedCost,
  type RefusedPlan,
} from "../../lib/charge-plan/plan-charge.js";
import type { SurgeOutlook } from "../../lib/charge-plan/plan-request.js";
import type { PressureOutlook } from "../../lib/charge-plan/pressure-outlook.js";
import { bounded, money, pressureInUnits, row, sentence, wrapped } from "./plan-layout.js";

/** A plan as the keeper reads it, line by line. */
export function planText(vesselId: string, plan: ChargePlan): readonly string[] {
  const { amounts, pressures, delivery, lasts, cost, readyTime, surge } = plan;
  const { unusable } = delivery;
  const lines = [
    `Charge for ${vesselId}`,
    "",
    "Weigh",
    ...amountRows(amounts),
    ...wrapped(`Acid: ${plan.acidReason}.`, "  "),
    "",
    "Pressure on the gauge once the charge has settled, with its 95 % bounds",
    ...pressureRows(pressures),
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
  if (lasts !== undefined) {
    lines.push(
      row("lasts", `${bounded(lasts.days, "days", 0)} at ${bounded(lasts.use_gPerDay, "g a day", 1)}`),
    );
    for (const { tank, co2_g, use_gPerDay } of lasts.tanks) {
      lines.push(row(`  ${tank}`, `${co2_g.toFixed(0)} g, at ${bounded(use_gPerDay, "g a day", 1)}`));
    }
  }
  if (readyTime !== undefined) {
    const { remark } = readyTime;
    lines.push(
      row("ready after", `${bounded(readyTime, "hours", 1)}${remark === undefined ? "" : `; ${remark}`}`),
    );
  }
  if (surge !== undefined) {
    const { flowAtEnd_ratio, remark } = surge;
    lines.push(
      ...wrapped(
        `up to ${flowAtEnd_ratio.toFixed(2)} times that at the start: ${surgeWords(surge)}.`,
        row("flow near the end", ""),
      ),
      ...wrapped(`${sentence(remark)}.`, "  "),
    );
  }
  if (cost !== undefined) lines.push(...costRows(cost));
  lines.push("", "Take care", ...plan.cautions.flatMap(({ text }) => wrapped(text, "- ")));
  return lines;
}

const whenSurging = "turn the needle valve back as the pressure falls, or use a better regulator";

/** An effect that nobody stated is a span, and its upper end only may come. */
function surgeWords({ verdict, supplyPressureEffect_ratio: { low, high } }: SurgeOutlook): string {
  if (verdict === "steady") return "nobody will notice";
  if (verdict === "creeps") {
    return `it ${low < high ? "may creep" : "creeps"} up; turn the needle valve back when the bubble counter shows it`;
  }
  return `it ${low < high ? "may surge" : "surges"}; ${whenSurging}`;
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

/** Why there is no plan, and what would fit. */
export function refusalText(vesselId: string, refused: RefusedPlan): readonly string[] {
  const lines = [`No charge is planned for ${vesselId}.`, ...wrapped(`${sentence(refused.reason)}.`, "")];
  if (refused.limit === "use-not-stated") lines.push("Say with --use-per-day what the tanks take, in grams.");
  const { largest } = refused;
  if (largest === undefined) return lines;
  return [
    ...lines,
    "",
    "The largest charge that fits",
    ...amountRows(largest),
    row(
      "hottest day",
      `at most ${largest.highGauge_bar.toFixed(1)} bar at ${largest.hottest_degC.toFixed(0)} degC (95 %)`,
    ),
    row(
      "reaches the tanks",
      `${largest.deliverable_g.toFixed(0)} g${largest.days === undefined ? "" : `, about ${largest.days.toFixed(0)} days`}`,
    ),
    row("bound by", limitWords[largest.limit]),
  ];
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
  const than = `${Math.abs(excess).toFixed(0)} % ${excess < 0 ? "less" : "more"} than the exact proportion`;
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

function pressureRows(pressures: ChargePlan["pressures"]): readonly string[] {
  const rows: readonly (readonly [string, PressureOutlook])[] = [
    ["cold, after sealing", pressures.cold],
    ["at room temperature", pressures.room],
    ["hottest day", pressures.hottest],
  ];
  return rows.map(([label, outlook]) =>
    row(label, pressureInUnits(outlook.temperature_degC, outlook.pressureGauge_bar, outlook)),
  );
}
