import type { GaugeReadBy } from "../../lib/simulation/drawn-charge.js";
import { stages, type MethodSummary, type Stage } from "./charge-ensemble.js";

export interface Verdict {
  readonly text: string;
  readonly met: boolean;
}

/** Limits asked of the estimator, by how the gauge is read. */
export const limits = {
  device: {
    coverage80_ratio: [0.75, 0.85],
    halfWidthAtHalf_percent: 4,
    runOutMedian_ratio: 0.08,
    runOutP95_ratio: 0.2,
  },
  eye: { runOutMedian_ratio: 0.12, runOutP95_ratio: 0.35 },
  /** Of the median error of the better of the usual methods. */
  ofUsualMethods_ratio: 0.5,
  /** Where an estimator that knows all that can be known does not reach that: of its median error. */
  ofLeastError_ratio: 1.3,
} as const;

const number = (value: number, digits: number): string =>
  Number.isFinite(value) ? value.toFixed(digits) : value === Infinity ? "none" : "-";
const percent = (ratio: number): string => number(100 * ratio, 1);

/** The figures of all methods side by side, one line each. Points are hundredths of the charge as told. */
export function ensembleLines(summaries: readonly MethodSummary[]): readonly string[] {
  const wide = 54;
  const column = 34;
  const row = (title: string, cell: (summary: MethodSummary) => string): string =>
    `  ${title.padEnd(wide)}${summaries.map((summary) => cell(summary).padStart(column)).join("")}`;
  return [
    row("", (s) => s.method),
    row("80 % interval of grams left holds, over time, %", (s) => percent(s.overTime.coverage80_ratio)),
    row("95 % interval of grams left holds, over time, %", (s) => percent(s.overTime.coverage95_ratio)),
    row("error of grams left over time, 95th percentile, points", (s) =>
      number(s.overTime.remainingErrorP95_percent, 1),
    ),
    ...stages.flatMap((stage) => [
      row(`at ${stage} of the deliverable: charges`, (s) => String(s.at[stage].charges)),
      row("  80 % / 95 % interval of grams left holds, %", (s) =>
        [s.at[stage].coverage80_ratio, s.at[stage].coverage95_ratio].map(percent).join(" / "),
      ),
      row("  half-width of the 80 % interval, median, points", (s) =>
        number(s.at[stage].halfWidth80_percent, 2),
      ),
      row("  error of grams left, median / 95th / mean, points", (s) => {
        const error = s.at[stage].remainingError_percent;
        return [error.median, error.p95, error.bias].map((value) => number(value, 1)).join(" / ");
      }),
      row("  error of the deliverable, median / 95th, points", (s) => {
        const error = s.at[stage].deliverableError_percent;
        return [error.median, error.p95].map((value) => number(value, 1)).join(" / ");
      }),
      row("  80 % interval of the deliverable holds, %", (s) =>
        percent(s.at[stage].deliverableCoverage80_ratio),
      ),
      row("  error of the run-out, median / 95th, % of time left", (s) => {
        const error = s.at[stage].runOutError_ratio;
        return [error.median, error.p95].map(percent).join(" / ");
      }),
      row("  80 % interval of the run-out holds, %", (s) => percent(s.at[stage].runOutCoverage80_ratio)),
    ]),
    row("charges on which it threw", (s) => String(s.thrown.length)),
    row("time for a row, us", (s) => number(s.stepTime_us, 1)),
  ];
}

/** Holds the first method against the limits, and against the others. */
export function verdictsOf(
  readBy: GaugeReadBy,
  summaries: readonly MethodSummary[],
  /** The least median error of grams left that there can be, points; where it was reckoned. */
  leastError_percent: Readonly<Partial<Record<Stage, number>>> = {},
): readonly Verdict[] {
  const [ours, ...usual] = summaries;
  if (ours === undefined) return [];
  const verdicts: Verdict[] = [];
  const atMost = (text: string, value: number, limit: number, digits: number): void => {
    verdicts.push({ text: `${text}: ${value.toFixed(digits)}, at most ${limit}`, met: value <= limit });
  };
  const half = ours.at.half;
  const [firstThrown] = ours.thrown;
  verdicts.push({
    text: `no charge on which it throws${firstThrown === undefined ? "" : `: ${ours.thrown.length}, the first at ${firstThrown}`}`,
    met: firstThrown === undefined,
  });
  if (readBy === "device") {
    const [least, most] = limits.device.coverage80_ratio;
    const { coverage80_ratio } = ours.overTime;
    verdicts.push({
      text: `80 % interval of grams left over time: ${percent(coverage80_ratio)} %, ${100 * least} to ${100 * most}`,
      met: coverage80_ratio >= least && coverage80_ratio <= most,
    });
    atMost("half-width at half, points", half.halfWidth80_percent, limits.device.halfWidthAtHalf_percent, 2);
  }
  const runOut = readBy === "eye" ? limits.eye : limits.device;
  atMost("run-out at half, median error", half.runOutError_ratio.median, runOut.runOutMedian_ratio, 3);
  atMost("run-out at half, 95th percentile", half.runOutError_ratio.p95, runOut.runOutP95_ratio, 3);
  for (const stage of ["half", "quarter"] as const) {
    const overUsual = (pick: (summary: MethodSummary) => number): number =>
      pick(ours) / Math.min(...usual.map(pick));
    const usualLimit = limits.ofUsualMethods_ratio;
    const remaining = overUsual((summary) => summary.at[stage].remainingError_percent.median);
    const overLeast = ours.at[stage].remainingError_percent.median / (leastError_percent[stage] ?? NaN);
    verdicts.push({
      text:
        `grams left at ${stage}, median error over that of the best usual method: ${number(remaining, 2)}, at most ${usualLimit}; ` +
        `over the least that can be: ${number(overLeast, 2)}, or at most ${limits.ofLeastError_ratio}`,
      met: remaining <= usualLimit || overLeast <= limits.ofLeastError_ratio,
    });
    atMost(
      `deliverable at ${stage}, median error over that of the best usual method`,
      overUsual((summary) => summary.at[stage].deliverableError_percent.median),
      usualLimit,
      2,
    );
  }
  return verdicts;
}
