import type {
  RefusedSugarPlan,
  SugarAmounts,
  SugarOutlook,
  SugarPlan,
} from "../../lib/charge-plan/plan-sugar.js";
import { fermentationPressureError_ratio } from "../../lib/vessel/fermentation.js";
import { pressureInUnits, row, sentence, wrapped } from "./plan-layout.js";
import { costRows, limitWords, tenthsDown } from "./plan-text.js";

/** A charge of sugar and yeast as the keeper reads it, line by line. */
export function sugarPlanText(
  vesselId: string,
  plan: SugarPlan,
  vesselRows: readonly string[],
): readonly string[] {
  const { fullConversion: full, deliverableAtMost_g } = plan;
  const usual = `${plan.yield.usualLow_g.toFixed(0)} to ${plan.yield.usualHigh_g.toFixed(0)} g`;
  return [
    `Charge of sugar and yeast for ${vesselId}`,
    ...vesselRows,
    "",
    ...wrapped(
      `${sentence(plan.verdict.text)}.${plan.verdict.kind === "may-reach" ? "" : " That the gauge stays below it is not a fault: do not add sugar."}`,
      "",
    ),
    "",
    "Weigh",
    ...amountRows(plan.amounts),
    "",
    "Pressure on the gauge",
    ...outlookRows(plan),
    row(
      "if all ferments out",
      `${full.roomGauge_bar.toFixed(1)} bar at ${full.room_degC.toFixed(0)} degC, ${full.hottestGauge_bar.toFixed(1)} bar at ` +
        `${full.hottest_degC.toFixed(0)} degC, there at most ${full.hottestHighGauge_bar.toFixed(1)} bar (95 %)`,
    ),
    row(
      "highest allowed",
      `${full.highestAllowedGauge_bar.toFixed(1)} bar, for the upper bound on the hottest day with all fermented out`,
    ),
    ...wrapped(
      "Where yeast stops is known badly: growth ends near 15 g/L of dissolved CO2, and published stop pressures make the " +
        `bounds. The upper 95 % counts the weighing and ${(100 * fermentationPressureError_ratio).toFixed(0)} % of the absolute ` +
        "pressure.",
      "  ",
    ),
    "",
    "CO2",
    row("in the sugar", `${plan.yield.co2_g.toFixed(0)} g by stoichiometry; ${usual} usually come of it`),
    row(
      "reaches the tanks",
      deliverableAtMost_g > 0
        ? `at most ${deliverableAtMost_g.toFixed(0)} g, while yeast works on as gas is drawn`
        : "nothing: the plateau does not reach the regulator's least inlet pressure",
    ),
    ...(plan.cost === undefined ? [] : costRows(plan.cost, "least")),
    "",
    "Take care",
    ...plan.cautions.flatMap(({ text }) => wrapped(text, "- ")),
  ];
}

/** Why there is no such charge, and what would fit. */
export function sugarRefusalText(
  vesselId: string,
  refused: RefusedSugarPlan,
  vesselRows: readonly string[],
): readonly string[] {
  const { largest } = refused;
  const lines = [
    `No charge of sugar and yeast is planned for ${vesselId}.`,
    ...vesselRows,
    "",
    ...wrapped(`${sentence(refused.reason)}.`, ""),
  ];
  if (refused.limit !== "pressure-not-stated") {
    lines.push(
      ...wrapped("Every gram is counted as fermented out: that yeast stops earlier is weak evidence.", ""),
    );
  }
  if (largest === undefined) return lines;
  return [
    ...lines,
    "",
    "The most that fits",
    ...amountRows(largest),
    row(
      "hottest day",
      `at most ${largest.highGauge_bar.toFixed(1)} bar at ${largest.hottest_degC.toFixed(0)} degC (95 %), all fermented out`,
    ),
    row("bound by", limitWords[largest.limit]),
    ...outlookRows(largest),
    row("verdict", largest.verdict.text),
    ...wrapped(
      `Ask for it with --sugar ${tenthsDown(largest.sucrose_g).toFixed(1)} to see what to take care of, before anything is weighed.`,
      "",
    ),
  ];
}

function amountRows({ sucrose_g, water_kg }: SugarAmounts): readonly string[] {
  return [
    row("table sugar (sucrose)", `${sucrose_g.toFixed(1)} g`),
    row("water", `${water_kg.toFixed(2)} kg`),
    row("yeast", "as its packet says; often about 1 g of dry yeast a litre (common practice, no source)"),
  ];
}

function outlookRows({ plateau, workingFromGauge_bar }: SugarOutlook): readonly string[] {
  const ends = plateau.endsWith === "sugar" ? "ends with the sugar" : "where growth ends";
  return [
    row(
      "expected plateau",
      `${pressureInUnits(plateau.temperature_degC, plateau.pressureGauge_bar, plateau)}, ${ends}`,
    ),
    row(
      "working range",
      `from ${workingFromGauge_bar.toFixed(1)} bar, by default what the regulator needs; another with --working-from`,
    ),
  ];
}
