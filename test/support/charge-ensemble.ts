import { drawCharge, type ChargeConditions, type DrawnCharge } from "../../lib/simulation/drawn-charge.js";
import { idealRunOut_epochMs } from "../../lib/simulation/ideal-forecast.js";
import {
  simulateCharge,
  type SimulatedCharge,
  type SupplyTruth,
} from "../../lib/simulation/simulated-charge.js";
import type { SupplyFault } from "../../lib/simulation/supply-fault.js";
import { normalQuantile } from "../../lib/estimation/normal-quantile.js";
import { toldCo2_g } from "./naive-supply.js";
import { leastRemainingDeviation_g } from "./remaining-information.js";
import type { AmountUnderTest, SupplyAnswer, SupplyMethod } from "./supply-under-test.js";

/** Points of a charge's life at which it is looked at; what is left of the deliverable. */
export const stages = ["full", "half", "quarter"] as const;
export type Stage = (typeof stages)[number];

/** How a method did at one instant. Grams in points: hundredths of the charge as told. */
export interface Score {
  readonly remainingError_percent: number;
  readonly deliverableError_percent: number;
  readonly in80: boolean | undefined;
  readonly in95: boolean | undefined;
  readonly deliverableIn80: boolean | undefined;
  readonly halfWidth80_percent: number | undefined;
  /** Forecast less true run-out, over the time that is truly left. */
  readonly runOutError_ratio: number | undefined;
  readonly runOutIn80: boolean | undefined;
}

export interface MethodOnCharge {
  readonly method: string;
  readonly overTime: readonly Score[];
  readonly at: Readonly<Partial<Record<Stage, Score>>>;
  readonly stepTime_us: number;
  /** What the method threw; the charge then counts as not answered. */
  readonly thrown?: string;
}

export interface ScoredCharge {
  readonly seed: number;
  readonly days: number | undefined;
  /** Run-out error of a forecast that knows all but the chance to come, over the time left. */
  readonly idealRunOutError_ratio: Readonly<Partial<Record<Stage, number>>>;
  /** Standard deviation with which grams left can be known at best, points. */
  readonly leastRemainingDeviation_percent: Readonly<Partial<Record<Stage, number>>>;
  readonly methods: readonly MethodOnCharge[];
}

const hour_ms = 3_600_000;
const lookEvery_h = 6;

const within = (value: number, interval: readonly [number, number] | undefined): boolean | undefined =>
  interval === undefined ? undefined : value >= interval[0] && value <= interval[1];

function scoreOf(charge: SimulatedCharge, truth: SupplyTruth, answer: SupplyAnswer): Score {
  const told_g = toldCo2_g(charge.drawn.told);
  const percent = (part_g: number): number => (100 * part_g) / told_g;
  const { remaining, deliverable, runOut } = answer;
  const left_ms = charge.runOut_epochMs === undefined ? undefined : charge.runOut_epochMs - truth.at_epochMs;
  const halfWidth_g = (amount: AmountUnderTest): number | undefined =>
    amount.interval80 === undefined ? undefined : (amount.interval80[1] - amount.interval80[0]) / 2;
  const halfWidth = halfWidth_g(remaining);
  const knowsEnd = left_ms !== undefined && left_ms > 0 && runOut !== undefined;
  return {
    remainingError_percent: percent(remaining.value_g - truth.co2Remaining_g),
    deliverableError_percent: percent(deliverable.value_g - truth.deliverable_g()),
    in80: within(truth.co2Remaining_g, remaining.interval80),
    in95: within(truth.co2Remaining_g, remaining.interval95),
    deliverableIn80: within(truth.deliverable_g(), deliverable.interval80),
    halfWidth80_percent: halfWidth === undefined ? undefined : percent(halfWidth),
    runOutError_ratio: knowsEnd ? (runOut.median_epochMs - truth.at_epochMs - left_ms) / left_ms : undefined,
    runOutIn80: knowsEnd ? within(truth.at_epochMs + left_ms, runOut.interval80) : undefined,
  };
}

/** The truth rows at which full, half and a quarter of the deliverable are left. */
export function stageRows(charge: SimulatedCharge): Readonly<Partial<Record<Stage, SupplyTruth>>> {
  const full = charge.truth.find((row) => row.at_epochMs >= charge.drawn.dosingFrom_epochMs);
  if (full === undefined) return {};
  const whole_g = full.deliverable_g();
  const gone_g = (row: SupplyTruth): number => full.co2Remaining_g - row.co2Remaining_g;
  const after = (share: number): SupplyTruth | undefined =>
    charge.truth.find((row) => row.at_epochMs >= full.at_epochMs && gone_g(row) >= share * whole_g);
  const half = after(0.5);
  const quarter = after(0.75);
  return {
    full,
    ...(half === undefined ? {} : { half }),
    ...(quarter === undefined ? {} : { quarter }),
  };
}

function idealErrors(charge: SimulatedCharge): Readonly<Partial<Record<Stage, number>>> {
  const errors: Partial<Record<Stage, number>> = {};
  const rows = stageRows(charge);
  for (const stage of ["half", "quarter"] as const) {
    const now = rows[stage];
    if (now === undefined || charge.runOut_epochMs === undefined) continue;
    const forecast_epochMs = idealRunOut_epochMs(charge.drawn, now);
    if (forecast_epochMs === undefined || charge.runOut_epochMs <= now.at_epochMs) continue;
    errors[stage] = (forecast_epochMs - charge.runOut_epochMs) / (charge.runOut_epochMs - now.at_epochMs);
  }
  return errors;
}

function leastDeviations(charge: SimulatedCharge): Readonly<Partial<Record<Stage, number>>> {
  const deviations: Partial<Record<Stage, number>> = {};
  const rows = stageRows(charge);
  for (const stage of ["half", "quarter"] as const) {
    const now = rows[stage];
    if (now === undefined) continue;
    deviations[stage] = (100 * leastRemainingDeviation_g(charge, now)) / toldCo2_g(charge.drawn.told);
  }
  return deviations;
}

/** Runs one method over one charge's rows and holds its answers against the truth. */
export function scoreMethod(charge: SimulatedCharge, method: SupplyMethod): MethodOnCharge {
  try {
    return scoreAnswers(charge, method);
  } catch (error) {
    if (!(error instanceof Error)) throw error;
    return { method: method.name, overTime: [], at: {}, stepTime_us: NaN, thrown: error.message };
  }
}

function scoreAnswers(charge: SimulatedCharge, method: SupplyMethod): MethodOnCharge {
  const looked = stageRows(charge);
  const estimator = method.start(charge.drawn.told);
  const overTime: Score[] = [];
  const at: Partial<Record<Stage, Score>> = {};
  let next = 0;
  let spent = 0n; // nanoseconds
  const end_epochMs = charge.runOut_epochMs ?? Infinity;
  for (const truth of charge.truth) {
    if (truth.at_epochMs >= end_epochMs) break;
    const before = process.hrtime.bigint();
    for (; (charge.readings[next]?.at_epochMs ?? Infinity) <= truth.at_epochMs; next += 1) {
      estimator.step(charge.readings[next]!);
    }
    spent += process.hrtime.bigint() - before;
    const hours = Math.round((truth.at_epochMs - charge.drawn.traceFrom_epochMs) / hour_ms);
    const isLook = hours % lookEvery_h === 0;
    const here = stages.filter((stage) => looked[stage] === truth);
    if (!isLook && here.length === 0) continue;
    const answer = estimator.answerAt(truth.at_epochMs);
    if (answer === undefined) continue;
    const score = scoreOf(charge, truth, answer);
    if (isLook) overTime.push(score);
    for (const stage of here) at[stage] = score;
  }
  return { method: method.name, overTime, at, stepTime_us: Number(spent) / 1000 / Math.max(1, next) };
}

export interface EnsemblePlan {
  readonly charges: number;
  readonly firstSeed: number;
  readonly conditions: ChargeConditions;
  readonly methods: readonly SupplyMethod[];
  /** By default none. */
  readonly faultsOf?: (drawn: DrawnCharge) => readonly SupplyFault[];
  /** Also what chance alone makes of the run-out, and how well grams left can be known: takes about as long as a simulation. */
  readonly withIdeal?: boolean;
  readonly onCharge?: (charge: SimulatedCharge, done: number) => void;
}

/** Draws, simulates and scores one charge after the other; the seeds count up from the first. */
export function runEnsemble(plan: EnsemblePlan): readonly ScoredCharge[] {
  return Array.from({ length: plan.charges }, (_, index) => {
    const seed = plan.firstSeed + index;
    const drawn = drawCharge(seed, plan.conditions);
    const charge = simulateCharge(drawn, { faults: plan.faultsOf?.(drawn) ?? [] });
    plan.onCharge?.(charge, index + 1);
    return {
      seed,
      days:
        charge.runOut_epochMs === undefined
          ? undefined
          : (charge.runOut_epochMs - charge.drawn.dosingFrom_epochMs) / (24 * hour_ms),
      idealRunOutError_ratio: plan.withIdeal === true ? idealErrors(charge) : {},
      leastRemainingDeviation_percent: plan.withIdeal === true ? leastDeviations(charge) : {},
      methods: plan.methods.map((method) => scoreMethod(charge, method)),
    };
  });
}

/** The value below which a share of the others lies; NaN of none. */
export function quantile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  const at = (sorted.length - 1) * share;
  const low = sorted[Math.floor(at)] ?? NaN;
  const high = sorted[Math.ceil(at)] ?? NaN;
  return low === high ? low : low + (high - low) * (at - Math.floor(at));
}

const isNumber = (value: number | undefined): value is number => value !== undefined && !Number.isNaN(value);
const mean = (all: readonly number[]): number => {
  const values = all.filter(isNumber);
  return values.length === 0 ? NaN : values.reduce((sum, value) => sum + value, 0) / values.length;
};
const shareOf = (values: readonly (boolean | undefined)[]): number =>
  mean(values.filter((value) => value !== undefined).map(Number));

/** How a method did at one stage over all charges. */
export interface StageSummary {
  readonly charges: number;
  readonly coverage80_ratio: number;
  readonly coverage95_ratio: number;
  readonly halfWidth80_percent: number;
  readonly remainingError_percent: { readonly median: number; readonly p95: number; readonly bias: number };
  readonly deliverableError_percent: { readonly median: number; readonly p95: number };
  readonly deliverableCoverage80_ratio: number;
  /** Over all charges: a method that gives no answer has missed. */
  readonly runOutError_ratio: { readonly median: number; readonly p95: number };
  readonly runOutCoverage80_ratio: number;
}

export interface MethodSummary {
  readonly method: string;
  /** Each charge counts alike, however long it lasted. */
  readonly overTime: {
    readonly coverage80_ratio: number;
    readonly coverage95_ratio: number;
    readonly remainingErrorP95_percent: number;
  };
  readonly at: Readonly<Record<Stage, StageSummary>>;
  readonly stepTime_us: number;
  /** Seeds of the charges on which the method threw, with what it said. */
  readonly thrown: readonly string[];
}

function stageSummary(scores: readonly Score[]): StageSummary {
  const size = (values: readonly number[]): readonly number[] => values.map(Math.abs);
  const remaining = scores.map((score) => score.remainingError_percent);
  const deliverable = size(scores.map((score) => score.deliverableError_percent));
  const runOut = size(scores.map((score) => score.runOutError_ratio ?? Infinity));
  return {
    charges: scores.length,
    coverage80_ratio: shareOf(scores.map((score) => score.in80)),
    coverage95_ratio: shareOf(scores.map((score) => score.in95)),
    halfWidth80_percent: quantile(scores.map((score) => score.halfWidth80_percent).filter(isNumber), 0.5),
    remainingError_percent: {
      median: quantile(size(remaining), 0.5),
      p95: quantile(size(remaining), 0.95),
      bias: mean(remaining),
    },
    deliverableError_percent: { median: quantile(deliverable, 0.5), p95: quantile(deliverable, 0.95) },
    deliverableCoverage80_ratio: shareOf(scores.map((score) => score.deliverableIn80)),
    runOutError_ratio: { median: quantile(runOut, 0.5), p95: quantile(runOut, 0.95) },
    runOutCoverage80_ratio: shareOf(scores.map((score) => score.runOutIn80)),
  };
}

/** Sums up each method that ran over the charges. */
export function summarise(charges: readonly ScoredCharge[]): readonly MethodSummary[] {
  const names = charges[0]?.methods.map((entry) => entry.method) ?? [];
  return names.map((name) => {
    const runs = charges.flatMap((charge) => charge.methods.filter((entry) => entry.method === name));
    const at = (stage: Stage): StageSummary => stageSummary(runs.flatMap((run) => run.at[stage] ?? []));
    return {
      method: name,
      overTime: {
        coverage80_ratio: mean(runs.map((run) => shareOf(run.overTime.map((score) => score.in80)))),
        coverage95_ratio: mean(runs.map((run) => shareOf(run.overTime.map((score) => score.in95)))),
        remainingErrorP95_percent: quantile(
          runs.flatMap((run) => run.overTime.map((score) => Math.abs(score.remainingError_percent))),
          0.95,
        ),
      },
      at: { full: at("full"), half: at("half"), quarter: at("quarter") },
      stepTime_us: mean(runs.map((run) => run.stepTime_us)),
      thrown: charges.flatMap((charge) =>
        charge.methods.flatMap((run) =>
          run.method === name && run.thrown !== undefined ? [`seed ${charge.seed}: ${run.thrown}`] : [],
        ),
      ),
    };
  });
}

/** Sizes of the run-out errors of the ideal forecast at a stage: what chance alone makes of them. */
export function idealErrorsAt(charges: readonly ScoredCharge[], stage: Stage): readonly number[] {
  return charges.flatMap((charge) => {
    const error = charge.idealRunOutError_ratio[stage];
    return error === undefined ? [] : [Math.abs(error)];
  });
}

const deviates = Array.from({ length: 40 }, (_, k) => normalQuantile((k + 0.5) / 40));

/** Median size of the error of grams left at a stage, over all charges, of an estimator that knows all that can be known; points. */
export function leastRemainingError_percent(charges: readonly ScoredCharge[], stage: Stage): number {
  return quantile(
    charges.flatMap((charge) => {
      const deviation = charge.leastRemainingDeviation_percent[stage];
      return deviation === undefined ? [] : deviates.map((deviate) => Math.abs(deviate * deviation));
    }),
    0.5,
  );
}
