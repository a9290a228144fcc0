import type { Bounded } from "../charge-plan/plan-request.js";
import { wallClockAt } from "../schedule/civil-time.js";
import type { ChargeReport, Verified } from "./charge-report.js";
import type { ServedComparison, ServedContrast } from "./compare-charges.js";

type Row = readonly string[];

/** The charges as a table of plain text, oldest first, a line each; intervals are 95 %. */
export function chargeTable(reports: readonly ChargeReport[], timeZone: string): readonly string[] {
  const sorted = [...reports].sort((one, other) => one.closed_epochMs - other.closed_epochMs);
  const head: Row = [
    "charge",
    "closed",
    "with",
    "delivered g",
    "yield %",
    "leak g/day",
    "ready h",
    "settled bar",
    "dosing days",
    "run-out error",
    "cost/day",
    "ended",
  ];
  const rows = sorted.map((report): Row => {
    const { cost } = report;
    return [
      report.chargeId,
      wallClockAt(report.closed_epochMs, timeZone).date,
      report.closedWith,
      span(report.delivered_g, 1),
      span(percent(report.yield_ratio), 0),
      report.leak_gPerDay === undefined ? "-" : span(report.leak_gPerDay, 2),
      besideForecast(report.ready_h, report.actualReady_h),
      besideForecast(report.settledGauge_bar, undefined),
      String(report.dosing_days),
      runOutWords(report),
      cost?.perDay === undefined ? "-" : `${cost.perDay.toPrecision(2)} ${cost.currency}`,
      report.ended.kind,
    ];
  });
  const widths = head.map((title, k) => Math.max(title.length, ...rows.map((row) => row[k]?.length ?? 0)));
  return [head, ...rows].map((row) =>
    row
      .map((cell, k) => cell.padEnd(widths[k] ?? 0))
      .join("  ")
      .trimEnd(),
  );
}

const measureWords = {
  yield: "yield",
  costPerGram: "cost of a gram delivered",
  readyTime: "time until ready",
} as const;
const byWords = { closedWith: "closing method", recipe: "recipe" } as const;

/** A comparison in plain sentences. Nothing is put above another unless its interval says so. */
export function comparisonSentences(comparison: ServedComparison): readonly string[] {
  const { measure, by, groups, contrasts, best, leftOut } = comparison;
  const subject = `${measureWords[measure]} by ${byWords[by]}`;
  if (groups.length === 0) {
    return [`The ${subject} cannot be told yet: no charge counts for it.`, ...outWords(leftOut)];
  }
  const means = groups.map(({ name, charges, mean, low, high }) => {
    const interval =
      low === undefined || high === undefined
        ? ""
        : ` (${amount(low, comparison)} to ${amount(high, comparison)})`;
    const count = `from ${charges} ${charges === 1 ? "charge" : "charges"}`;
    return `${name} ${amount(mean, comparison)} ${unitOf(comparison)}${interval} ${count}`;
  });
  return [
    `The ${subject}: ${means.join("; ")}.`,
    ...contrasts.map((contrast) => contrastSentence(contrast, comparison)),
    ...(contrasts.length === 0 ? ["There is nothing to compare with yet."] : []),
    ...(best !== undefined && contrasts.length > 1 ? [`${best} served best.`] : []),
    ...(best === undefined && contrasts.length > 1 ? ["Which served best cannot be told yet."] : []),
    ...outWords(leftOut),
  ];
}

function amount(value: number, { measure }: ServedComparison): string {
  if (measure === "yield") return (100 * value).toFixed(0);
  return measure === "readyTime" ? value.toFixed(1) : value.toPrecision(2);
}

function unitOf({ measure, currency }: ServedComparison): string {
  if (measure === "yield") return "%";
  return measure === "readyTime" ? "h" : (currency ?? "");
}

function contrastSentence(contrast: ServedContrast, comparison: ServedComparison): string {
  const { one, other, better, effect, reason, chargesNeeded } = contrast;
  const names = `${one} or ${other}`;
  switch (reason) {
    case "too few":
      return `${names}: cannot be told yet; no two charges are alike enough to show how far charges scatter.`;
    case "confounded":
      return `${names}: cannot be told; recipe and closing method always changed together. Close one recipe both ways.`;
    case "open":
    case "told": {
      if (effect === undefined) return `${names}: cannot be told yet.`;
      const size = comparison.isRatio
        ? `${other} is ${effect.value.toFixed(2)} times ${one} (${effect.low.toFixed(2)} to ${effect.high.toFixed(2)})`
        : `${other} is ${points(effect.value)} points from ${one} (${points(effect.low)} to ${points(effect.high)})`;
      if (better !== undefined) return `${better} served better: ${size}.`;
      const needed =
        chargesNeeded === undefined
          ? "; a difference so small would take more than 50 charges of each"
          : `; about ${chargesNeeded} charges of each would tell a difference of this size`;
      return `${names}: cannot be told yet; ${size}${needed}.`;
    }
  }
}

function outWords(leftOut: ServedComparison["leftOut"]): readonly string[] {
  return leftOut.length === 0
    ? []
    : [`Not counted: ${leftOut.map(({ chargeId, reason }) => `${chargeId} (${reason})`).join(", ")}.`];
}

function runOutWords({ runOut_days }: ChargeReport): string {
  if (runOut_days === undefined) return "-";
  const { error_ratio, isInside } = runOut_days;
  return `${error_ratio >= 0 ? "+" : "-"}${Math.abs(100 * error_ratio).toFixed(0)} %${isInside ? "" : " outside"}`;
}

function besideForecast(found: Verified | undefined, actual: number | undefined): string {
  if (found === undefined) return actual === undefined ? "-" : actual.toFixed(1);
  return `${found.actual.toFixed(1)} of ${found.predicted.toFixed(1)}${found.isInside ? "" : " outside"}`;
}

function percent({ value, low, high }: Bounded): Bounded {
  return { value: 100 * value, low: 100 * low, high: 100 * high };
}

function span({ value, low, high }: Bounded, digits: number): string {
  return `${value.toFixed(digits)} (${low.toFixed(digits)}-${high.toFixed(digits)})`;
}

function points(ratio: number): string {
  return `${ratio < 0 ? "-" : "+"}${Math.abs(100 * ratio).toFixed(1)}`;
}
