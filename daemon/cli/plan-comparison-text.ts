import type { ComparedCandidate } from "../../lib/charge-plan/compare-candidates.js";
import { boundsInWords, type ChargeAmounts } from "../../lib/charge-plan/plan-charge.js";
import type { SugarAmounts } from "../../lib/charge-plan/plan-sugar.js";
import { wrapped } from "./plan-layout.js";
import { limitWords } from "./plan-text.js";

/** Several recipes, one a line. */
export function comparisonText(
  vesselId: string,
  compared: readonly ComparedCandidate[],
  vesselRows: readonly string[],
): readonly string[] {
  const currency = compared
    .map(({ outcome }) => costOf(outcome)?.currency)
    .find((name) => name !== undefined);
  const allColumns = [
    "recipe",
    "powder g",
    "acid g",
    "kg",
    "cold bar",
    "room bar",
    "hot, upper",
    "CO2 g",
    "days",
    "ready h",
    `cost ${currency ?? ""}`.trimEnd(),
    "verdict",
  ];
  const allCells = compared.map(cellsOf);
  // Nobody asked for what no recipe tells.
  const isShown = (column: number): boolean =>
    !optionalColumns.includes(column) || allCells.some((cells) => cells[column] !== "-");
  const shown = (cells: readonly string[]): readonly string[] => cells.filter((_, column) => isShown(column));
  const head = shown(allColumns);
  const body = allCells.map(shown);
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
  const allowed_bar = compared
    .map(({ outcome }) => highestAllowed_bar(outcome))
    .find((bar) => bar !== undefined);
  return [
    `Recipes for ${vesselId}`,
    ...vesselRows,
    "",
    ...table,
    "",
    ...(allowed_bar === undefined
      ? []
      : [`Highest allowed on the hottest day: ${allowed_bar.toFixed(1)} bar gauge.`]),
    ...wrapped(boundsInWords, ""),
    ...(compared.some(({ candidate }) => candidate.kind === "sugar-and-yeast")
      ? wrapped(
          "Of sugar and yeast: room is where yeast is expected to stop, hot every gram fermented out, CO2 the most that may come.",
          "",
        )
      : []),
    ...wrapped(
      "Ask for one recipe with --bicarbonate or --sugar to see the whole plan and what to take care of.",
      "",
    ),
  ];
}

function highestAllowed_bar(outcome: ComparedCandidate["outcome"]): number | undefined {
  if (outcome.kind === "plan") return outcome.pressures.highestAllowedGauge_bar;
  return outcome.kind === "sugar-plan" ? outcome.fullConversion.highestAllowedGauge_bar : undefined;
}

const nothing = ["-", "-", "-", "-", "-", "-", "-"] as const;
/** Time and cost. */
const optionalColumns: readonly number[] = [9, 10];

function costOf(outcome: ComparedCandidate["outcome"]) {
  return outcome.kind === "plan" || outcome.kind === "sugar-plan" ? outcome.cost : undefined;
}

function cellsOf({ candidate, outcome }: ComparedCandidate): readonly string[] {
  const { label } = candidate;
  switch (outcome.kind) {
    case "plan": {
      const { amounts, pressures, delivery, lasts, readyTime, cost } = outcome;
      return [
        label,
        ...acidCells(amounts),
        pressures.cold.pressureGauge_bar.toFixed(1),
        pressures.room.pressureGauge_bar.toFixed(1),
        pressures.hottest.highGauge_bar.toFixed(1),
        delivery.deliverable_g.value.toFixed(0),
        lasts === undefined ? "-" : lasts.days.value.toFixed(0),
        readyTime === undefined ? "-" : readyTime.value.toFixed(0),
        cost === undefined ? "-" : cost.total.toFixed(2),
        "fits",
      ];
    }
    case "refused": {
      const { requested, largest } = outcome;
      const powder_g = candidate.kind === "acid-and-bicarbonate" ? candidate.sodiumBicarbonate_g : 0;
      return [
        label,
        ...(requested === undefined ? [powder_g.toFixed(1), "-", "-"] : acidCells(requested)),
        ...nothing,
        refusedWords(outcome.limit, largest?.sodiumBicarbonate_g),
      ];
    }
    case "no-recipe":
      return [label, "-", "-", "-", ...nothing, `refused: ${outcome.reason}`];
    case "sugar-plan":
      return [
        label,
        ...sugarCells(outcome.amounts),
        "-",
        outcome.plateau.pressureGauge_bar.toFixed(1),
        outcome.fullConversion.hottestHighGauge_bar.toFixed(1),
        outcome.deliverableAtMost_g.toFixed(0),
        "-",
        "-",
        outcome.cost === undefined ? "-" : outcome.cost.total.toFixed(2),
        outcome.verdict.kind === "may-reach"
          ? `fits; ${outcome.verdict.text}`
          : `within the limits, but ${outcome.verdict.text}`,
      ];
    case "sugar-refused":
      return [
        label,
        ...sugarCells(outcome.requested),
        ...nothing,
        refusedWords(outcome.limit, outcome.largest?.sucrose_g),
      ];
  }
}

function refusedWords(limit: keyof typeof limitWords, most_g: number | undefined): string {
  return `refused, ${limitWords[limit]}${most_g === undefined ? "" : `; at most ${most_g.toFixed(1)} g`}`;
}

function acidCells({ sodiumBicarbonate_g, citricAcid_g, filling }: ChargeAmounts): readonly string[] {
  const { kind, mass_kg, ice_kg } = filling;
  return [
    sodiumBicarbonate_g.toFixed(1),
    citricAcid_g.toFixed(1),
    ice_kg === undefined
      ? `${mass_kg.toFixed(2)}${kind === "ice" ? " ice" : ""}`
      : `${(mass_kg - ice_kg).toFixed(2)} + ${ice_kg.toFixed(2)} ice`,
  ];
}

function sugarCells({ sucrose_g, water_kg }: SugarAmounts): readonly string[] {
  return [`${sucrose_g.toFixed(1)} sugar`, "-", water_kg.toFixed(2)];
}
