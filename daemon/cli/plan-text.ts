import type { ComparedCandidate } from "../../lib/charge-plan/compare-candidates.js";
import {
  boundsInWords,
  type ChargeAmounts,
  type ChargePlan,
  type RefusedPlan,
} from "../../lib/charge-plan/plan-charge.js";
import type { Bounded } from "../../lib/charge-plan/plan-request.js";
import type { PressureOutlook } from "../../lib/charge-plan/pressure-outlook.js";
import { pressureFromBar, type PressureUnit } from "../../lib/quantities/units.js";

const width = 100;
const labelWidth = 24;

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
    lines.push(
      row(
        "flow near the end",
        `${surge.flowAtEnd_ratio.toFixed(2)} times that at the start; ${surge.remark}`,
      ),
    );
  }
  if (cost !== undefined) {
    const each = cost.perGramDelivered;
    lines.push(
      row(
        "costs",
        `${money(cost.total, cost.currency)}${each === undefined ? "" : `, ${money(100 * each, cost.currency)} for 100 g delivered`}`,
      ),
    );
  }
  lines.push("", "Take care", ...plan.cautions.flatMap(({ text }) => wrapped(text, "- ")));
  return lines;
}

/** Why there is no plan, and what would fit. */
export function refusalText(vesselId: string, refused: RefusedPlan): readonly string[] {
  const lines = [`No charge is planned for ${vesselId}.`, ...wrapped(`${sentence(refused.reason)}.`, "")];
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

/** Several recipes, one a line. */
export function comparisonText(vesselId: string, compared: readonly ComparedCandidate[]): readonly string[] {
  const head = [
    "recipe",
    "bicarb. g",
    "acid g",
    "kg",
    "cold bar",
    "room bar",
    "hot, upper",
    "CO2 g",
    "days",
    "verdict",
  ];
  const body = compared.map(({ candidate, outcome }) => {
    if (outcome.kind === "plan") {
      const { amounts, pressures, delivery, lasts } = outcome;
      return [
        candidate.label,
        ...amountCells(amounts),
        pressures.cold.pressureGauge_bar.toFixed(1),
        pressures.room.pressureGauge_bar.toFixed(1),
        pressures.hottest.highGauge_bar.toFixed(1),
        delivery.deliverable_g.value.toFixed(0),
        lasts === undefined ? "-" : lasts.days.value.toFixed(0),
        "fits",
      ];
    }
    const most =
      outcome.largest === undefined ? "" : `; at most ${outcome.largest.sodiumBicarbonate_g.toFixed(1)} g`;
    return [
      candidate.label,
      ...(outcome.requested === undefined
        ? [candidate.sodiumBicarbonate_g.toFixed(1), "-", "-"]
        : amountCells(outcome.requested)),
      ...["-", "-", "-", "-", "-"],
      `refused, ${limitWords[outcome.limit]}${most}`,
    ];
  });
  const rows = [head, ...body];
  const widths = head.map((_, column) => Math.max(...rows.map((cells) => (cells[column] ?? "").length)));
  const last = head.length - 1;
  const table = rows.map((cells) =>
    cells
      .map((cell, column) => {
        const size = widths[column] ?? 0;
        if (column === last) return cell;
        return column === 0 ? cell.padEnd(size) : cell.padStart(size);
      })
      .join("  "),
  );
  const allowed = compared.map(({ outcome }) => outcome).find((outcome) => outcome.kind === "plan");
  return [
    `Recipes for ${vesselId}`,
    "",
    ...table,
    "",
    ...(allowed === undefined
      ? []
      : [
          `Highest allowed on the hottest day: ${allowed.pressures.highestAllowedGauge_bar.toFixed(1)} bar gauge.`,
        ]),
    ...wrapped(boundsInWords, ""),
    ...wrapped("Ask for one recipe with --bicarbonate to see the whole plan and what to take care of.", ""),
  ];
}

const limitWords: Readonly<Record<RefusedPlan["limit"], string>> = {
  "rated-pressure": "rated pressure",
  "relief-opening-pressure": "pressure at which the relief device opens",
  "gas-space": "gas space",
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
    row(amounts.filling.kind, `${amounts.filling.mass_kg.toFixed(2)} kg`),
  ];
}

function amountCells(amounts: ChargeAmounts): readonly string[] {
  const { kind, mass_kg } = amounts.filling;
  return [
    amounts.sodiumBicarbonate_g.toFixed(1),
    amounts.citricAcid_g.toFixed(1),
    `${mass_kg.toFixed(2)}${kind === "ice" ? " ice" : ""}`,
  ];
}

const shownUnits: readonly PressureUnit[] = ["bar", "kgf/cm2", "psi"];

function pressureRows(pressures: ChargePlan["pressures"]): readonly string[] {
  const rows: readonly (readonly [string, PressureOutlook])[] = [
    ["cold, after sealing", pressures.cold],
    ["at room temperature", pressures.room],
    ["hottest day", pressures.hottest],
  ];
  return rows.map(([label, outlook]) => {
    const columns = shownUnits.map((unit) => {
      const digits = unit === "psi" ? 0 : 1;
      const [value = "", low = "", high = ""] = [
        outlook.pressureGauge_bar,
        outlook.lowGauge_bar,
        outlook.highGauge_bar,
      ].map((pressure_bar) => pressureFromBar(pressure_bar, unit).toFixed(digits));
      return `${value} (${low} to ${high}) ${unit}`;
    });
    return row(label, `${outlook.temperature_degC.toFixed(0).padStart(2)} degC  ${columns.join("   ")}`);
  });
}

function row(label: string, text: string): string {
  return `  ${label.padEnd(labelWidth)}${text}`;
}

function bounded(amount: Bounded, unit: string, digits: number): string {
  const high = Number.isFinite(amount.high) ? amount.high.toFixed(digits) : "no end";
  return `${amount.value.toFixed(digits)} ${unit} (${amount.low.toFixed(digits)} to ${high})`;
}

function money(amount: number, currency: string): string {
  return `${amount.toFixed(2)} ${currency}`.trimEnd();
}

function sentence(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}`;
}

function wrapped(text: string, lead: string): readonly string[] {
  const lines: string[] = [];
  let line = lead;
  for (const word of text.split(" ")) {
    if (line.length + word.length > width && line.trim() !== "") {
      lines.push(line.trimEnd());
      line = " ".repeat(lead.length);
    }
    line += `${word} `;
  }
  return [...lines, line.trimEnd()];
}
