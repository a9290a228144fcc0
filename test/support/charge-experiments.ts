import type { SuppliedCharge, SupplyReading } from "../../lib/estimation/supply-trace.js";
import { drawCharge, type ChargeConditions, type DrawnCharge } from "../../lib/simulation/drawn-charge.js";
import {
  simulateCharge,
  type SimulatedCharge,
  type SimulationRun,
} from "../../lib/simulation/simulated-charge.js";
import { quantile } from "./charge-ensemble.js";
import { mostLossDeviations, pairedRows } from "./loss-information.js";

/** What a detector can say of a supply. */
export type SupplyFinding = "leak" | "valve-passes" | "charge-too-weak" | "charge-too-strong";

export interface SupplyDetectorUnderTest {
  /** Takes a row; the findings that stand after it. */
  step(reading: SupplyReading): readonly SupplyFinding[];
}

/** Made for one vessel: its charge as told, and what it may hold. */
export type SupplyDetectorMaker = (site: {
  readonly charge: SuppliedCharge;
  readonly ratedPressureGauge_bar: number;
}) => SupplyDetectorUnderTest;

export interface ExperimentOutcome {
  readonly kind: "done";
  readonly name: string;
  readonly runs: number;
  readonly figures: Readonly<Record<string, number>>;
  readonly limits: readonly { readonly text: string; readonly met: boolean }[];
}

/** Without a detector nothing is run, and nothing counts as passed. */
export type ExperimentResult =
  ExperimentOutcome | { readonly kind: "no-detector-yet"; readonly name: string };

export interface Experiment {
  readonly id: string;
  readonly name: string;
  readonly findings: readonly SupplyFinding[];
  run(
    maker: SupplyDetectorMaker,
    plan: { readonly runs: number; readonly firstSeed: number },
  ): ExperimentOutcome;
}

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;

/** Share of the runs that has to be within a time for "found within" it. */
const foundShare = 0.95;

/**
 * A rating for which the plan of a charge is just permitted: planned pressure with 8 % of model and weighing, warmed
 * by 10 K at 0.2 bar each, is 0.9 of it.
 */
export function ratedFor_bar(drawn: DrawnCharge): number {
  return (1.08 * drawn.plannedGauge_bar + 2) / 0.9;
}

/** When each finding was first made, and how often it came up anew. */
function findingsOf(
  charge: SimulatedCharge,
  maker: SupplyDetectorMaker,
  wanted: readonly SupplyFinding[],
): readonly number[] {
  const detector = maker({
    charge: charge.drawn.told,
    ratedPressureGauge_bar: ratedFor_bar(charge.drawn),
  });
  const at_epochMs: number[] = [];
  let standing = false;
  for (const reading of charge.readings) {
    const found = detector.step(reading).some((finding) => wanted.includes(finding));
    if (found && !standing) at_epochMs.push(reading.at_epochMs);
    standing = found;
  }
  return at_epochMs;
}

const simulated = (seed: number, conditions: ChargeConditions, run: SimulationRun = {}): SimulatedCharge =>
  simulateCharge(drawCharge(seed, conditions), run);

const seedsOf = (plan: { readonly runs: number; readonly firstSeed: number }): readonly number[] =>
  Array.from({ length: plan.runs }, (_, index) => plan.firstSeed + index);

const shareWithin = (delays_h: readonly number[], limit_h: number): number =>
  delays_h.filter((delay_h) => delay_h <= limit_h).length / delays_h.length;

function delayFigures(delays_h: readonly number[], limit_h: number): Readonly<Record<string, number>> {
  return {
    foundInTime_ratio: shareWithin(delays_h, limit_h),
    medianDelay_h: quantile(delays_h, 0.5),
    p95Delay_h: quantile(delays_h, 0.95),
  };
}

function leakExperiment(dailySwing_K: number, limit_h: number): Experiment {
  const name = `leak of 1 g a day, daily swing ${dailySwing_K} K, within ${limit_h} h`;
  const conditions: ChargeConditions = {
    readBy: "transducer",
    settled: true,
    leastDays: 25,
    dailySwing_K,
  };
  return {
    id: `leak-${dailySwing_K}K`,
    name,
    findings: ["leak"],
    run(maker, plan) {
      let falseBefore = 0;
      const delays_h = seedsOf(plan).map((seed) => {
        const drawn = drawCharge(seed, conditions);
        // The onset is at no special time of the day.
        const onset_epochMs = drawn.traceFrom_epochMs + 5 * day_ms + (seed % 72) * hour_ms;
        const charge = simulateCharge(drawn, {
          until_epochMs: onset_epochMs + 12 * day_ms,
          gaps: "none",
          faults: [{ kind: "vessel-leak", onset_epochMs, leak_gPerDay: 1 }],
        });
        const found = findingsOf(charge, maker, ["leak"]);
        falseBefore += found.filter((at_epochMs) => at_epochMs < onset_epochMs).length;
        const first_epochMs = found.find((at_epochMs) => at_epochMs >= onset_epochMs);
        return first_epochMs === undefined ? Infinity : (first_epochMs - onset_epochMs) / hour_ms;
      });
      const figures = { ...delayFigures(delays_h, limit_h), falseBeforeOnset: falseBefore };
      return {
        kind: "done",
        name,
        runs: plan.runs,
        figures,
        limits: [
          {
            text: `${100 * foundShare} % found within ${limit_h} h`,
            met: shareWithin(delays_h, limit_h) >= foundShare,
          },
        ],
      };
    },
  };
}

const falseAlarmsPerYear: Experiment = {
  id: "false-alarms",
  name: "false alarms on sound charges, daily swing 0.5 to 3 K",
  findings: ["leak", "valve-passes"],
  run(maker, plan) {
    let days = 0;
    let alarms = 0;
    for (const seed of seedsOf(plan)) {
      const charge = simulated(seed, { readBy: seed % 2 === 0 ? "transducer" : "device", leastDays: 20 });
      alarms += findingsOf(charge, maker, ["leak", "valve-passes"]).length;
      days += charge.truth.length / 24;
    }
    const perYear = alarms / (days / 365.25);
    return {
      kind: "done",
      name: this.name,
      runs: plan.runs,
      figures: { simulatedYears: days / 365.25, alarms, perYear },
      limits: [{ text: "less than 1 a year", met: perYear < 1 }],
    };
  },
};

function weakExperiment(closedWith: "water" | "ice", limit_h: number): Experiment {
  const name = `charge 25 % short, closed with ${closedWith}, within ${limit_h} h`;
  const conditions: ChargeConditions = { readBy: "device", settled: false, closedWith };
  return {
    id: `short-${closedWith}`,
    name,
    findings: ["charge-too-weak"],
    run(maker, plan) {
      const firstFinding_h = (seed: number, weighed_ratio: number): number => {
        const drawn = drawCharge(seed, { ...conditions, weighed_ratio });
        const charge = simulateCharge(drawn, {
          until_epochMs: drawn.traceFrom_epochMs + 48 * hour_ms,
          gaps: "none",
        });
        const [first_epochMs] = findingsOf(charge, maker, ["charge-too-weak"]);
        return first_epochMs === undefined
          ? Infinity
          : (first_epochMs - drawn.told.closedAt_epochMs) / hour_ms;
      };
      const delays_h = seedsOf(plan).map((seed) => firstFinding_h(seed, 0.75));
      const sound_h = seedsOf(plan).map((seed) => firstFinding_h(seed, 1));
      const false_ratio = sound_h.filter(Number.isFinite).length / plan.runs;
      return {
        kind: "done",
        name,
        runs: plan.runs,
        figures: { ...delayFigures(delays_h, limit_h), falseOnSound_ratio: false_ratio },
        limits: [
          {
            text: `${100 * foundShare} % told within ${limit_h} h`,
            met: shareWithin(delays_h, limit_h) >= foundShare,
          },
          { text: "false on less than 5 % of sound charges", met: false_ratio < 0.05 },
        ],
      };
    },
  };
}

const tooStrong: Experiment = {
  id: "too-strong",
  name: "charge weighed 30 % too heavy, told before 80 % of the rating",
  findings: ["charge-too-strong"],
  run(maker, plan) {
    const tryOne = (seed: number, weighed_ratio: number) => {
      const drawn = drawCharge(seed, { readBy: "device", settled: false, weighed_ratio });
      const charge = simulateCharge(drawn, {
        step_s: 60,
        reading_s: 60,
        truth_s: 60,
        until_epochMs: drawn.traceFrom_epochMs + 48 * hour_ms,
        gaps: "none",
      });
      const rated_bar = ratedFor_bar(drawn);
      const passes80_epochMs = charge.truth.find(
        (row) => row.pressureGauge_bar >= 0.8 * rated_bar,
      )?.at_epochMs;
      const highest_bar = Math.max(...charge.truth.map((row) => row.pressureGauge_bar));
      const [told_epochMs] = findingsOf(charge, maker, ["charge-too-strong"]);
      return { passes80_epochMs, highest_bar, rated_bar, told_epochMs };
    };
    const heavy = seedsOf(plan).map((seed) => tryOne(seed, 1.3));
    const dangerous = heavy.filter((one) => one.passes80_epochMs !== undefined);
    const inTime = dangerous.filter(
      (one) => (one.told_epochMs ?? Infinity) < (one.passes80_epochMs ?? -Infinity),
    );
    const told = heavy.filter((one) => one.told_epochMs !== undefined);
    const sound = seedsOf(plan).map((seed) => tryOne(seed, 1));
    const falsely = sound.filter(
      (one) => one.told_epochMs !== undefined && one.highest_bar < 0.9 * one.rated_bar,
    );
    return {
      kind: "done",
      name: this.name,
      runs: plan.runs,
      figures: {
        passed80: dangerous.length,
        toldBefore80_ratio: inTime.length / Math.max(1, dangerous.length),
        toldAtAll_ratio: told.length / plan.runs,
        falseOnSound_ratio: falsely.length / plan.runs,
      },
      limits: [
        {
          text: "all that pass 80 % are told before",
          met: dangerous.length > 0 && inTime.length === dangerous.length,
        },
        { text: "false on less than 5 % of sound charges", met: falsely.length < 0.05 * plan.runs },
      ],
    };
  },
};

/** Deviations that a finding takes which comes up less than once a year by chance. */
const sureDeviations = 5;

function stuckValveExperiment(leak_gPerH: number, limit_h: number): Experiment {
  const name = `closed valve passes ${leak_gPerH} g an hour, with a transducer, within ${limit_h} h`;
  const conditions: ChargeConditions = {
    readBy: "transducer",
    settled: true,
    leastDays: 15,
    dailySwing_K: 1.2,
  };
  return {
    id: `stuck-${leak_gPerH}`,
    name,
    findings: ["valve-passes", "leak"],
    run(maker, plan) {
      let falseBefore = 0;
      let missedThoughDataTell = 0;
      const delays_h = seedsOf(plan).map((seed) => {
        const drawn = drawCharge(seed, conditions);
        const sound: SimulationRun = {
          step_s: 60,
          reading_s: 60,
          gaps: "none",
          until_epochMs: drawn.traceFrom_epochMs + 5 * day_ms,
        };
        const { readings } = simulateCharge(drawn, sound);
        // It sticks at the first closing after four days.
        const since_epochMs = drawn.traceFrom_epochMs + 4 * day_ms;
        const closing = readings.find(
          (row, index) =>
            row.at_epochMs >= since_epochMs && !row.valveOpen && readings[index - 1]?.valveOpen === true,
        );
        const onset_epochMs = closing?.at_epochMs ?? since_epochMs;
        const charge = simulateCharge(drawn, {
          ...sound,
          until_epochMs: onset_epochMs + 24 * hour_ms,
          faults: [{ kind: "valve-leaks", onset_epochMs, leak_gPerH }],
        });
        const found = findingsOf(charge, maker, ["valve-passes", "leak"]);
        falseBefore += found.filter((at_epochMs) => at_epochMs < onset_epochMs).length;
        const first_epochMs = found.find((at_epochMs) => at_epochMs >= onset_epochMs);
        const delay_h = first_epochMs === undefined ? Infinity : (first_epochMs - onset_epochMs) / hour_ms;
        if (!(delay_h <= limit_h)) {
          const until: SimulationRun = {
            ...sound,
            truth_s: 60,
            until_epochMs: onset_epochMs + limit_h * hour_ms,
          };
          const loses = simulateCharge(drawn, {
            ...until,
            faults: [{ kind: "valve-leaks", onset_epochMs, leak_gPerH }],
          });
          const since = <Row extends { readonly at_epochMs: number }>(rows: readonly Row[]) =>
            rows.filter(({ at_epochMs }) => at_epochMs >= onset_epochMs);
          const rows = pairedRows(
            loses.readings,
            since(loses.truth),
            since(simulateCharge(drawn, until).truth),
          );
          const { noise_bar, resolution_bar } = drawn.gauge;
          const deviations = mostLossDeviations(rows, Math.hypot(noise_bar, resolution_bar / Math.sqrt(12)));
          if (deviations >= sureDeviations) missedThoughDataTell += 1;
        }
        return delay_h;
      });
      return {
        kind: "done",
        name,
        runs: plan.runs,
        figures: {
          ...delayFigures(delays_h, limit_h),
          falseBeforeOnset: falseBefore,
          missedThoughDataTell,
        },
        limits: [
          {
            text: `${100 * foundShare} % told within ${limit_h} h`,
            met: shareWithin(delays_h, limit_h) >= foundShare,
          },
        ],
      };
    },
  };
}

/** All of them, in the order of the report. */
export const chargeExperiments: readonly Experiment[] = [
  leakExperiment(1.2, 48),
  leakExperiment(3, 120),
  falseAlarmsPerYear,
  weakExperiment("water", 10),
  weakExperiment("ice", 30),
  tooStrong,
  stuckValveExperiment(0.25, 2),
  stuckValveExperiment(0.1, 6),
];

/** Runs an experiment where the detector for its findings exists. */
export function runExperiment(
  experiment: Experiment,
  detector: { readonly maker: SupplyDetectorMaker; readonly finds: readonly SupplyFinding[] } | undefined,
  plan: { readonly runs: number; readonly firstSeed: number },
): ExperimentResult {
  const able =
    detector !== undefined && experiment.findings.some((finding) => detector.finds.includes(finding));
  if (!able) return { kind: "no-detector-yet", name: experiment.name };
  return experiment.run(detector.maker, plan);
}
