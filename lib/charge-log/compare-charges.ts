import { normalQuantile95 } from "../numerics/normal-distribution.js";
import { blockContrast, meanOutcome, pooledScatter, type Contrast, type Outcome } from "./block-contrast.js";
import type { ChargeReport } from "./charge-report.js";

/**
 * - yield: delivered over theoretical; more is better
 * - costPerGram: less is better; compared as a ratio
 * - readyTime: from closing to settled; less is better; compared as a ratio
 */
export const chargeMeasures = ["yield", "costPerGram", "readyTime"] as const;
export type ChargeMeasure = (typeof chargeMeasures)[number];

export interface ServedGroup {
  readonly name: string;
  readonly charges: number;
  readonly mean: number;
  /** 95 %; undefined where the charges do not show how far they scatter. */
  readonly low: number | undefined;
  readonly high: number | undefined;
}

/** One against another. `better` only where the interval says so. */
export interface ServedContrast {
  readonly one: string;
  readonly other: string;
  readonly better: string | undefined;
  /** other less one, or other over one for a ratio. */
  readonly effect: { readonly value: number; readonly low: number; readonly high: number } | undefined;
  readonly reason: "told" | "open" | "too few" | "confounded";
  readonly chargesNeeded: number | undefined;
}

export interface ServedComparison {
  readonly measure: ChargeMeasure;
  readonly by: "closedWith" | "recipe";
  /** Effects are other over one, and not other less one. */
  readonly isRatio: boolean;
  /** Of a cost. */
  readonly currency: string | undefined;
  readonly groups: readonly ServedGroup[];
  readonly contrasts: readonly ServedContrast[];
  /** Better than every other by an interval of its own; undefined: cannot be told yet. */
  readonly best: string | undefined;
  readonly leftOut: readonly { readonly chargeId: string; readonly reason: string }[];
}

/** Between charges whose dosing ended at pressures further apart, yield tells of the pressure. A judgement, no source. */
const samePressure_bar = 0.3;
/** How well a keeper or a gauge tells when the pressure has settled. A judgement, no source. */
const seenReady_ratio = 0.05;

interface Measured {
  readonly report: ChargeReport;
  readonly value: number;
  readonly deviation: number;
}

/**
 * Which closing method and which recipe served best, with honest error bars: methods are compared among charges of one recipe and
 * recipes among charges closed in one way, by the scatter that all of them show. With few charges the answer is mostly that it cannot
 * be told yet. Yield and cost count charges that ran to their end, at the working pressure of the last one. The charges are
 * taken as independent; nobody drew lots, so what changed along with recipe or method, as the season, may be what was seen.
 * @see [NistSematech2012] 7.4.3 and 7.4.7.3
 */
export function compareCharges(
  reports: readonly ChargeReport[],
  measure: ChargeMeasure,
  by: "closedWith" | "recipe",
): ServedComparison {
  const isRatio = measure !== "yield";
  const latest = [...reports].sort((one, other) => one.closed_epochMs - other.closed_epochMs).at(-1);
  const measured: Measured[] = [];
  const leftOut: { readonly chargeId: string; readonly reason: string }[] = [];
  for (const report of reports) {
    const found = measuredOf(report, measure, latest);
    if (typeof found === "string") leftOut.push({ chargeId: report.chargeId, reason: found });
    else measured.push({ report, ...found });
  }
  const outcomes = measured.map(({ report, value, deviation }): Outcome => ({
    treatment: report[by],
    block: by === "recipe" ? report.closedWith : report.recipe,
    value,
    deviation,
  }));
  const scatter = pooledScatter(outcomes);
  const names = [...new Set(outcomes.map(({ treatment }) => treatment))].sort();
  const pairs = names.flatMap((one, k) => names.slice(k + 1).map((other) => ({ one, other })));
  const told = (value: number): number => (isRatio ? Math.exp(value) : value);
  const contrasts = pairs.map((pair): ServedContrast => {
    const contrast = blockContrast(outcomes, pair, scatter, pairs.length);
    return { ...pair, ...servedContrast(contrast, pair, isRatio, told) };
  });
  return {
    measure,
    by,
    isRatio,
    currency: measure === "costPerGram" ? latest?.cost?.currency : undefined,
    groups: names.map((name) => {
      const own = outcomes.filter(({ treatment }) => treatment === name);
      const { mean, low, high } = meanOutcome(own, scatter);
      return {
        name,
        charges: own.length,
        mean: told(mean),
        low: low === undefined ? undefined : told(low),
        high: high === undefined ? undefined : told(high),
      };
    }),
    contrasts,
    best: names.find(
      (name) =>
        names.length > 1 &&
        contrasts
          .filter(({ one, other }) => one === name || other === name)
          .every(({ better }) => better === name),
    ),
    leftOut,
  };
}

function servedContrast(
  contrast: Contrast,
  { one, other }: { readonly one: string; readonly other: string },
  isLessBetter: boolean,
  told: (value: number) => number,
): Omit<ServedContrast, "one" | "other"> {
  if (contrast.kind === "too few" || contrast.kind === "confounded") {
    return { better: undefined, effect: undefined, reason: contrast.kind, chargesNeeded: undefined };
  }
  const { kind, difference, low, high, needed } = contrast;
  const isOther = isLessBetter ? difference < 0 : difference > 0;
  return {
    better: kind === "told" ? (isOther ? other : one) : undefined,
    effect: { value: told(difference), low: told(low), high: told(high) },
    reason: kind,
    chargesNeeded: needed,
  };
}

/** The value and its own standard deviation, or why the charge does not count. */
function measuredOf(
  report: ChargeReport,
  measure: ChargeMeasure,
  latest: ChargeReport | undefined,
): { readonly value: number; readonly deviation: number } | string {
  if (measure === "readyTime") {
    const ready_h = report.actualReady_h;
    if (ready_h === undefined || !(ready_h > 0)) return "nobody saw when it was ready";
    return { value: Math.log(ready_h), deviation: seenReady_ratio };
  }
  if (report.ended.kind === "running") return "still running";
  if (report.ended.kind === "refilled early") return "refilled before its end";
  const apart_bar = Math.abs(report.workingPressureGauge_bar - (latest?.workingPressureGauge_bar ?? 0));
  if (apart_bar > samePressure_bar) return "another working pressure";
  if (measure === "yield") {
    const { value, low, high } = report.yield_ratio;
    return { value, deviation: (high - low) / (2 * normalQuantile95) };
  }
  const perGram = report.cost?.perGram;
  if (perGram === undefined || !(perGram.value > 0)) return "no prices, or nothing delivered";
  if (report.cost?.currency !== latest?.cost?.currency) return "another currency";
  return {
    value: Math.log(perGram.value),
    deviation: Math.log(perGram.high / perGram.low) / (2 * normalQuantile95),
  };
}
