import { airEquilibriumCo2_mgPerL } from "./air-equilibrium.js";
import { watch } from "./closing-watch.js";
import { waterNow } from "./learning-minute.js";
import type { LearningMinute } from "./learning-minute.js";
import { followLitHours } from "./lit-hours.js";
import { beginSpans, endMorning, endNight } from "./learning-spans.js";
import type { LearningSample } from "./learnt-outlook.js";
import { median } from "./relaxation-fit.js";
import { co2ByHardness_mgPerL } from "./tank-learning-job.js";
import type { LearningJob } from "./tank-learning-job.js";
import { eveningKnowledge, latestFitted, nightKnowledge, tankDynamics } from "./tank-learning-knowledge.js";
import { withDue } from "./tank-learning-state.js";
import type { TankLearning } from "./tank-learning-state.js";

const minute_ms = 60_000;
const hour_ms = 3_600_000;

const sample_ms = 5 * minute_ms;

const overdoseEvery_ms = 10 * minute_ms;

/** The estimate's scale follows over so much time: a drop checker's colour counts for hours only. */
const scaleMemory_ms = 12 * hour_ms;

const usualAir = { temperature_degC: 25, roomCo2_ppm: 700 };

/** Hardness test and probe offset together, where the tank's estimate does not tell. */
const usualFactorSigma_ln = 0.2;

/**
 * Takes one minute into what is learnt. Cheap: whatever takes longer is put into `due`, to be done by `runLearningJob` and
 * given back by `withLearningResult`. More than one call a minute changes nothing.
 */
export function stepLearning(state: TankLearning, minute: LearningMinute): TankLearning {
  const { now_epochMs } = minute;
  const last_epochMs = state.lastStep_epochMs;
  const isClockBack = last_epochMs !== undefined && now_epochMs < last_epochMs - minute_ms;
  if (last_epochMs !== undefined && !isClockBack && now_epochMs - last_epochMs < minute_ms - 1000)
    return state;
  const begun = isClockBack ? withoutSpans(state) : state;
  const corrected =
    begun.correction === minute.correction
      ? begun
      : { ...withoutSpans(begun), correction: minute.correction };
  const measured = withReading(withScale(corrected, minute), minute);
  const ended = endMorning(endNight(measured, minute), minute);
  const opened = beginSpans(ended, minute);
  const watched = followLitHours(watch(opened, minute), minute);
  const { night, morning, lit } = watched;
  const isIdle = night === undefined && morning === undefined && lit === undefined;
  const kept = isIdle ? withoutSamples(watched) : watched;
  return { ...foresee(kept, minute), lastStep_epochMs: now_epochMs };
}

/** What a correction or a clock that was set makes incomparable. */
function withoutSpans(state: TankLearning): TankLearning {
  return { ...state, minutes: [], samples: [], night: undefined, morning: undefined, lit: undefined };
}

/** Outside of nights and mornings only the last minutes are kept, from which a night's start is known. */
function withoutSamples(state: TankLearning): TankLearning {
  return state.samples.length > 3 ? { ...state, samples: state.samples.slice(-3) } : state;
}

function withScale(state: TankLearning, minute: LearningMinute): TankLearning {
  const { pH, estimate } = minute;
  if (pH === undefined || estimate === undefined) return state;
  const byHardness_mgPerL = co2ByHardness_mgPerL(
    { pH, temperature_degC: minute.temperature_degC ?? null },
    minute.water,
  );
  if (byHardness_mgPerL === undefined) return state;
  const ratio = estimate.co2_mgPerL / byHardness_mgPerL;
  const isFirst = state.lastStep_epochMs === undefined;
  const share = isFirst ? 1 : Math.min(1, minute_ms / scaleMemory_ms);
  return { ...state, scale_ratio: state.scale_ratio * (ratio / state.scale_ratio) ** share };
}

function withReading(state: TankLearning, minute: LearningMinute): TankLearning {
  const { now_epochMs, pH, temperature_degC } = minute;
  const [first] = state.minutes;
  const isFull = first !== undefined && now_epochMs - first[0] >= sample_ms;
  const taken = isFull
    ? { ...state, samples: [...state.samples, mergedSample(state.minutes)], minutes: [] }
    : state;
  if (pH === undefined) return taken;
  const reading: LearningSample = [now_epochMs, pH, temperature_degC ?? null];
  return { ...taken, minutes: [...taken.minutes, reading], lastReading_epochMs: now_epochMs };
}

function mergedSample(minutes: readonly LearningSample[]): LearningSample {
  const warmth = minutes.flatMap(([, , temperature_degC]) =>
    temperature_degC === null ? [] : [temperature_degC],
  );
  const mean_epochMs = minutes.reduce((sum, [at_epochMs]) => sum + at_epochMs / minutes.length, 0);
  return [
    Math.round(mean_epochMs / 1000) * 1000,
    Number(median(minutes.map(([, pH]) => pH)).toFixed(4)),
    warmth.length === 0 ? null : Number(median(warmth).toFixed(2)),
  ];
}

/** Lead and plateau again where their grounds have changed, and how long an overdose lasts. */
function foresee(state: TankLearning, minute: LearningMinute): TankLearning {
  const { outlook } = state;
  const { now_epochMs, limits, water } = minute;
  const isNew = outlook === undefined || now_epochMs - outlook.at_epochMs >= hour_ms;
  const isFree = state.due.length === 0;
  const asked = isNew && isFree ? withDue(state, outlookJob(state, minute)) : state;
  const co2 = minute.estimate;
  if (co2 === undefined || co2.co2_mgPerL <= limits.co2Alarm_mgPerL) {
    return asked.overdose === undefined ? asked : { ...asked, overdose: undefined };
  }
  const isOld = asked.overdose === undefined || now_epochMs - asked.overdose.at_epochMs >= overdoseEvery_ms;
  const known = nightKnowledge(asked, "off", waterNow(asked, minute));
  if (!isOld || known === undefined || water.kh_dKH <= 0) return asked;
  return withDue(asked, {
    kind: "overdose",
    at_epochMs: now_epochMs,
    overdose: {
      ...co2,
      ...known,
      limit_mgPerL: limits.co2Alarm_mgPerL,
      settledCo2_mgPerL: known.settledCo2_mgPerL * asked.scale_ratio,
    },
  });
}

function outlookJob(state: TankLearning, minute: LearningMinute): LearningJob {
  const water = waterNow(state, minute);
  const { kh_dKH } = water;
  const night = latestFitted(state, "off", kh_dKH) ?? latestFitted(state, "running", kh_dKH);
  const lastMorning = state.mornings.at(-1);
  const start_mgPerL =
    lastMorning?.startCo2_mgPerL === undefined
      ? night?.settledCo2_mgPerL
      : (lastMorning.startCo2_mgPerL * kh_dKH) / lastMorning.kh_dKH;
  return {
    kind: "outlook",
    at_epochMs: minute.now_epochMs,
    tank: tankDynamics(state, water, minute.now_epochMs),
    evening: eveningKnowledge(state, water),
    startCo2_mgPerL: start_mgPerL ?? 1,
    target_mgPerL: minute.limits.co2TargetLow_mgPerL,
    scale_ratio: state.scale_ratio,
    night,
    airCo2_mgPerL: airEquilibriumCo2_mgPerL({
      ...usualAir,
      temperature_degC: Math.min(40, Math.max(0, water.temperature_degC ?? usualAir.temperature_degC)),
    }),
    factorSigma_ln: minute.estimate?.co2Sigma_ln ?? usualFactorSigma_ln,
  };
}
