import { airEquilibriumCo2_mgPerL } from "./air-equilibrium.js";
import { isHeld, notFallingBecause, type ClosedProofEvidence } from "./closed-proof.js";
import type { NightFit } from "./night-fit.js";
import { median } from "./relaxation-fit.js";
import {
  closedKnowledge,
  latestFitted,
  nightKnowledge,
  tankDynamics,
  usual,
  type WaterNow,
} from "./tank-learning-knowledge.js";
import {
  co2ByHardness_mgPerL,
  co2Readings,
  type LearningJob,
  type LearningResult,
  type LearningWater,
} from "./tank-learning-job.js";
import type { LearningSample } from "./learnt-outlook.js";
import type {
  Aeration,
  ClosedVerdict,
  LearntMorning,
  LearntNight,
  OpenNight,
  TankLearning,
} from "./tank-learning-state.js";

/** What one minute shows of a tank. */
export interface LearningMinute {
  readonly now_epochMs: number;
  /** Undefined while it is not fresh. */
  readonly pH: number | undefined;
  readonly temperature_degC: number | undefined;
  /** How the pH is corrected: another text as soon as another calibration counts. */
  readonly correction: string;
  readonly water: LearningWater;
  /** The tank's estimate by all that is known; undefined while it is not known. */
  readonly estimate: { readonly co2_mgPerL: number; readonly co2Sigma_ln: number } | undefined;
  /** Of the valve that feeds the tank, as its relays report. */
  readonly gas: "on" | "confirmed off" | "not known";
  readonly lightsAreOn: boolean;
  /** Undefined where none are planned within a day, or none were on. */
  readonly lightsOn_epochMs: number | undefined;
  readonly lightsOff_epochMs: number | undefined;
  /** When gas is due next. */
  readonly opens_epochMs: number | undefined;
  readonly aeration: Aeration | "not known";
  readonly waterChanges_epochMs: readonly number[];
  readonly limits: { readonly co2TargetLow_mgPerL: number; readonly co2Alarm_mgPerL: number };
}

const minute_ms = 60_000;
const hour_ms = 60 * minute_ms;
const sample_ms = 5 * minute_ms;
/** Shorter spans teach nothing, and are not fitted. */
const leastNight_ms = 3 * hour_ms;
const leastMorning_ms = 0.5 * hour_ms;
/** A night in which the daemon was started anew is somewhat shorter. */
const nearlyLongest_ratio = 0.8;
/** A day without light is cut here: the memory is bounded. */
const longestNight_ms = 24 * hour_ms;
/** So long a relay may be unheard, as after a restart, without a night or morning being over. */
const unheard_ms = 10 * minute_ms;
/** Over a longer pause of the daemon anything may have been done to the tank. */
const pause_ms = 3 * hour_ms;
/** After a longer gap in the readings the proof begins anew. */
const gap_ms = 30 * minute_ms;
const proofEvery_ms = 15 * minute_ms;
const overdoseEvery_ms = 10 * minute_ms;
/** The estimate's scale follows over so much time: a drop checker's colour counts for hours only. */
const scaleMemory_ms = 12 * hour_ms;
const keptNights = 20;
const keptMornings = 10;
/** Likelihoods beyond it are no surer. */
const largestRatio = 1e9;
/** One night in ten thousand, at most, may hold the gas off for a person by itself. */
const surelyStuckRatio = 1e4;
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
  const watched = watch(opened, minute);
  const kept =
    watched.night === undefined && watched.morning === undefined ? withoutSamples(watched) : watched;
  return { ...foresee(kept, minute), lastStep_epochMs: now_epochMs };
}

/** What a correction or a clock that was set makes incomparable. */
function withoutSpans(state: TankLearning): TankLearning {
  return { ...state, minutes: [], samples: [], night: undefined, morning: undefined };
}

/** Outside of nights and mornings only the last minutes are kept, from which a night's start is known. */
function withoutSamples(state: TankLearning): TankLearning {
  return state.samples.length > 3 ? { ...state, samples: state.samples.slice(-3) } : state;
}

function waterNow(state: TankLearning, minute: LearningMinute): WaterNow {
  const latest = state.samples.at(-1)?.[2];
  return { kh_dKH: minute.water.kh_dKH, temperature_degC: minute.temperature_degC ?? latest ?? null };
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

function isQuiet({ gas, lightsAreOn }: LearningMinute): boolean {
  return gas === "confirmed off" && !lightsAreOn;
}

function hasOtherAeration(known: Aeration, now: LearningMinute["aeration"]): boolean {
  return now !== "not known" && now !== known;
}

/** Whether a span that stood when it was last seen does no longer stand. */
function isOver(
  span: { readonly from_epochMs: number; readonly seen_epochMs: number; readonly aeration: Aeration },
  minute: LearningMinute,
  stands: boolean,
): boolean {
  const unseen_ms = minute.now_epochMs - span.seen_epochMs;
  const wasLit =
    minute.lightsAreOn ||
    (minute.lightsOff_epochMs !== undefined && minute.lightsOff_epochMs > span.from_epochMs + minute_ms);
  if (wasLit || unseen_ms > pause_ms || hasOtherAeration(span.aeration, minute.aeration)) return true;
  if (stands) return false;
  return minute.gas !== "not known" || unseen_ms > unheard_ms;
}

function endNight(state: TankLearning, minute: LearningMinute): TankLearning {
  const { night } = state;
  if (night === undefined) return state;
  const isTooLong = minute.now_epochMs - night.from_epochMs > longestNight_ms;
  if (!isTooLong && !isOver(night, minute, isQuiet(minute))) {
    return isQuiet(minute) ? { ...state, night: { ...night, seen_epochMs: minute.now_epochMs } } : state;
  }
  const until_epochMs = night.seen_epochMs;
  const samples = state.samples.filter(([at_epochMs]) => at_epochMs <= until_epochMs);
  const last = co2Readings(samples.slice(-3), minute.water).map(({ co2_mgPerL }) => co2_mgPerL);
  const ended = {
    ...state,
    night: undefined,
    samples: state.samples.slice(-3),
    startCo2_mgPerL: last.length === 0 ? undefined : median(last),
    darkBefore: { until_epochMs, duration_ms: until_epochMs - night.from_epochMs },
  };
  if (until_epochMs - night.from_epochMs < leastNight_ms) return ended;
  const { from_epochMs } = night;
  const job: LearningJob = {
    kind: "night",
    from_epochMs,
    until_epochMs,
    samples: samples.filter(([at_epochMs]) => at_epochMs >= from_epochMs),
    water: minute.water,
    waterChanges_epochMs: minute.waterChanges_epochMs,
  };
  const { verdict } = state;
  if (verdict?.nightFrom_epochMs === night.from_epochMs && verdict.proof.kind !== "gas stopped") {
    const because =
      verdict.proof.kind === "not falling"
        ? `CO2 did not fall: ${notFallingBecause}`
        : "gas did not stop in it";
    return withDue(
      withNight(ended, {
        ...nightOf(night, until_epochMs, minute.water),
        fit: { kind: "not used", because },
      }),
      { ...job, isForRestOnly: true },
    );
  }
  return withDue(
    // Its place is kept, with how it was aerated, until the result comes.
    withNight(ended, {
      ...nightOf(night, until_epochMs, minute.water),
      fit: { kind: "not used", because: "its fit is not made yet" },
    }),
    job,
  );
}

function nightOf(
  night: OpenNight,
  until_epochMs: number,
  { kh_dKH }: LearningWater,
): Omit<LearntNight, "fit"> {
  return { from_epochMs: night.from_epochMs, until_epochMs, aeration: night.aeration, kh_dKH };
}

function withNight(state: TankLearning, night: LearntNight): TankLearning {
  const others = state.nights.filter(({ from_epochMs }) => from_epochMs !== night.from_epochMs);
  return { ...state, nights: [...others, night].slice(-keptNights) };
}

function withDue(state: TankLearning, job: LearningJob): TankLearning {
  // Of proofs and outlooks only the newest is of use; nights and mornings all count.
  const isOutdated = (other: LearningJob): boolean =>
    other.kind === job.kind && job.kind !== "night" && job.kind !== "morning";
  return { ...state, due: [...state.due.filter((other) => !isOutdated(other)), job] };
}

function endMorning(state: TankLearning, minute: LearningMinute): TankLearning {
  const { morning } = state;
  if (morning === undefined) return state;
  const stands = minute.gas === "on" && !minute.lightsAreOn;
  if (!isOver(morning, minute, stands)) {
    return stands ? { ...state, morning: { ...morning, seen_epochMs: minute.now_epochMs } } : state;
  }
  const ended = { ...state, morning: undefined, samples: state.samples.slice(-3) };
  const { from_epochMs, seen_epochMs: until_epochMs } = morning;
  // Only gas that ran up to the lights shows a dose; one that was closed before shows its own end.
  const ranToLights = minute.lightsAreOn && minute.now_epochMs - until_epochMs <= unheard_ms;
  if (!ranToLights || until_epochMs - from_epochMs < leastMorning_ms) return ended;
  if (!isAfterTheNight(state, from_epochMs)) return ended;
  const known = nightKnowledge(state, morning.aeration, waterNow(state, minute));
  if (known === undefined || hadGas(state.nights.at(-1), state.verdict)) return ended;
  return withDue(ended, {
    kind: "morning",
    from_epochMs,
    until_epochMs,
    samples: [...state.samples, ...state.minutes].filter(
      ([at_epochMs]) => at_epochMs >= from_epochMs && at_epochMs <= until_epochMs,
    ),
    water: minute.water,
    startCo2_mgPerL: state.startCo2_mgPerL,
    known,
  });
}

/**
 * With several spans of light a day each opening begins from another CO2: only the one after the day's longest dark teaches, so
 * that dose and lead are always those of the same window.
 */
function isAfterTheNight({ darkBefore, nights }: TankLearning, opened_epochMs: number): boolean {
  if (darkBefore === undefined || opened_epochMs - darkBefore.until_epochMs > unheard_ms) return false;
  const longest_ms = nights
    .filter(({ until_epochMs }) => opened_epochMs - until_epochMs < longestNight_ms)
    .reduce((longest, night) => Math.max(longest, night.until_epochMs - night.from_epochMs), leastNight_ms);
  return darkBefore.duration_ms >= nearlyLongest_ratio * longest_ms;
}

/** After a night in which gas flowed on, a morning's rise begins from nowhere known. */
function hadGas(night: LearntNight | undefined, verdict: ClosedVerdict | undefined): boolean {
  return (
    verdict !== undefined &&
    verdict.proof.kind !== "gas stopped" &&
    verdict.nightFrom_epochMs === night?.from_epochMs
  );
}

function beginSpans(state: TankLearning, minute: LearningMinute): TankLearning {
  const { now_epochMs, aeration } = minute;
  if (aeration === "not known") return state;
  if (state.night === undefined && isQuiet(minute)) {
    return {
      ...state,
      morning: undefined,
      night: {
        from_epochMs: now_epochMs,
        seen_epochMs: now_epochMs,
        aeration,
        watchFrom_epochMs: now_epochMs,
        proof: undefined,
        proofDue_epochMs: now_epochMs + proofEvery_ms,
        againFrom_epochMs: undefined,
      },
    };
  }
  if (
    state.night === undefined &&
    state.morning === undefined &&
    minute.gas === "on" &&
    !minute.lightsAreOn
  ) {
    return { ...state, morning: { from_epochMs: now_epochMs, seen_epochMs: now_epochMs, aeration } };
  }
  return state;
}

/** Whether the gas stopped: asked each quarter of an hour, begun anew where something else moved the CO2. */
function watch(state: TankLearning, minute: LearningMinute): TankLearning {
  const { night, lastReading_epochMs } = state;
  const { now_epochMs } = minute;
  if (night === undefined) return state;
  const isSilent = lastReading_epochMs === undefined || now_epochMs - lastReading_epochMs > gap_ms;
  const changed_epochMs = Math.max(
    Number.NEGATIVE_INFINITY,
    ...minute.waterChanges_epochMs.filter((at_epochMs) => at_epochMs <= now_epochMs),
  );
  if (isSilent || changed_epochMs > night.watchFrom_epochMs) {
    const watchFrom_epochMs = isSilent ? now_epochMs : changed_epochMs;
    return {
      ...state,
      due: state.due.filter(({ kind }) => kind !== "proof"),
      night: {
        ...night,
        watchFrom_epochMs,
        proof: undefined,
        againFrom_epochMs: undefined,
        proofDue_epochMs: now_epochMs + proofEvery_ms,
      },
    };
  }
  if (now_epochMs < night.proofDue_epochMs || night.proof?.kind === "gas stopped") return state;
  const water = waterNow(state, minute);
  const until_epochMs = Math.min(
    minute.opens_epochMs ?? now_epochMs + 12 * hour_ms,
    minute.lightsOn_epochMs ?? now_epochMs + 12 * hour_ms,
  );
  return withDue(
    { ...state, night: { ...night, proofDue_epochMs: now_epochMs + proofEvery_ms } },
    {
      kind: "proof",
      nightFrom_epochMs: night.from_epochMs,
      from_epochMs: night.watchFrom_epochMs,
      againFrom_epochMs: night.againFrom_epochMs,
      now_epochMs,
      until_epochMs: Math.max(now_epochMs, until_epochMs),
      samples: state.samples.filter(([at_epochMs]) => at_epochMs >= night.watchFrom_epochMs),
      water: minute.water,
      ...closedKnowledge(state, night.aeration, water, now_epochMs),
    },
  );
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

/** Takes the result of the first job that is due; one that belongs to nothing any more is dropped. */
export function withLearningResult(
  state: TankLearning,
  job: LearningJob,
  result: LearningResult,
): TankLearning {
  const rest = { ...state, due: state.due.filter((other) => other !== job) };
  // What follows from nights and mornings is asked anew in the next minute.
  const asksAnew = {
    ...rest,
    outlook: rest.outlook === undefined ? undefined : { ...rest.outlook, at_epochMs: 0 },
  };
  switch (result.kind) {
    case "night": {
      const night = rest.nights.find(({ from_epochMs }) => from_epochMs === result.from_epochMs);
      if (night === undefined) return rest;
      if (job.kind === "night" && job.isForRestOnly === true) {
        return withNight(rest, { ...night, rest: result.rest });
      }
      const seen = job.kind === "night" ? nightSeen(job) : undefined;
      const { verdict } = rest;
      const hasStopped =
        verdict?.nightFrom_epochMs === night.from_epochMs && verdict.proof.kind === "gas stopped";
      const doubt = seen === undefined ? undefined : gasInNight(result.fit, seen, hasStopped);
      if (doubt === undefined || seen === undefined) {
        return withNight(asksAnew, { ...night, fit: result.fit, rest: result.rest });
      }
      const doubted = withNight(asksAnew, {
        ...night,
        fit: { kind: "not used", because: doubt.because },
        rest: result.rest,
      });
      if (!doubt.isTold) return doubted;
      const { because } = doubt;
      return {
        ...doubted,
        verdict: {
          at_epochMs: night.until_epochMs,
          nightFrom_epochMs: night.from_epochMs,
          // A night as a whole was not weighed against another: a ratio of 1 speaks for neither.
          proof: { kind: "not falling", because, evidence: { ...seen, likelihoodRatio: 1 } },
          isSurelyStuck: false,
        },
      };
    }
    case "morning": {
      const { from_epochMs, startCo2_mgPerL, rise } = result;
      const kh_dKH = job.kind === "morning" ? job.water.kh_dKH : 1;
      const morning: LearntMorning = { from_epochMs, kh_dKH, startCo2_mgPerL, rise };
      return { ...asksAnew, mornings: [...rest.mornings, morning].slice(-keptMornings) };
    }
    case "proof":
      return withProof(rest, result);
    case "outlook":
      return { ...rest, outlook: result.outlook };
    case "overdose":
      return { ...rest, overdose: result.overdose };
  }
}

/** CO2 at the ends of a night, its first half hour left out, and where a usual tank would have ended. */
function nightSeen(
  job: Extract<LearningJob, { kind: "night" }>,
): Omit<ClosedProofEvidence, "likelihoodRatio"> | undefined {
  const begin_epochMs = job.from_epochMs + 0.5 * hour_ms;
  const readings = co2Readings(
    job.samples.filter(([at_epochMs]) => at_epochMs >= begin_epochMs),
    job.water,
  );
  if (readings.length < 6) return undefined;
  const middle = (some: typeof readings): number => median(some.map(({ co2_mgPerL }) => co2_mgPerL));
  const fromCo2_mgPerL = middle(readings.slice(0, 3));
  const toCo2_mgPerL = middle(readings.slice(-3));
  const watched_h = (job.until_epochMs - begin_epochMs) / hour_ms;
  const { k_perH, settledCo2_mgPerL } = usual;
  const left_mgPerL = Math.max(0, fromCo2_mgPerL - settledCo2_mgPerL) * Math.exp(-k_perH * watched_h);
  return { watched_h, fromCo2_mgPerL, toCo2_mgPerL, expectedCo2_mgPerL: settledCo2_mgPerL + left_mgPerL };
}

/** What a tank's life holds up, at most, over the air's; and what part of the evening's CO2. Common practice, no source. */
const highestRest = { co2_mgPerL: 10, respiration_mgPerLPerH: 2, start_ratio: 0.35 };

/**
 * Why a night must not teach: gas may have flowed in it. From such nights a leak would become the tank's rest, and no later
 * night would show it.
 */
function gasInNight(
  fit: NightFit,
  seen: Omit<ClosedProofEvidence, "likelihoodRatio">,
  hasStopped: boolean,
): { readonly because: string; readonly isTold: boolean } | undefined {
  if (fit.kind === "fitted") {
    const { settledCo2_mgPerL, k_perH } = fit;
    const explained_mgPerL = Math.max(
      highestRest.co2_mgPerL,
      highestRest.respiration_mgPerLPerH / k_perH,
      highestRest.start_ratio * seen.fromCo2_mgPerL,
    );
    if (settledCo2_mgPerL > explained_mgPerL) {
      return {
        because: `CO2 came to rest at ${settledCo2_mgPerL.toFixed(0)} mg/L, far above what air and respiration explain: gas flows on, or pH or KH are far off`,
        isTold: true,
      };
    }
  }
  if (fit.kind !== "rejected" && !hasStopped && isHeld(seen, undefined, "teaching")) {
    return { because: `CO2 hardly fell: ${notFallingBecause}`, isTold: false };
  }
  return undefined;
}

function withProof(
  state: TankLearning,
  {
    proof,
    again,
    now_epochMs,
    from_epochMs,
    nightFrom_epochMs,
    isLearnt,
  }: Extract<LearningResult, { kind: "proof" }>,
): TankLearning {
  const { night } = state;
  // The night may be over, or its watch begun anew, since this was asked.
  if (night?.from_epochMs !== nightFrom_epochMs || night.watchFrom_epochMs !== from_epochMs) return state;
  const common = { at_epochMs: now_epochMs, nightFrom_epochMs };
  const stopped = [again, proof].find((one) => one?.kind === "gas stopped");
  if (stopped?.kind === "gas stopped") {
    return {
      ...state,
      night: { ...night, proof: stopped, againFrom_epochMs: undefined },
      verdict: { ...common, proof: told(stopped), isSurelyStuck: false },
    };
  }
  if (proof.kind === "gas did not stop") {
    const isSurelyStuck =
      isLearnt && proof.suspicion === "stuck valve" && proof.evidence.likelihoodRatio >= surelyStuckRatio;
    return {
      ...state,
      night: { ...night, proof: told(proof), againFrom_epochMs: night.againFrom_epochMs ?? now_epochMs },
      verdict: { ...common, proof: told(proof), isSurelyStuck },
    };
  }
  if (proof.kind === "not falling" && night.againFrom_epochMs === undefined) {
    const before = state.verdict;
    const isTold = before?.nightFrom_epochMs === nightFrom_epochMs && before.proof.kind === "not falling";
    const at_epochMs = isTold ? before.at_epochMs : now_epochMs;
    return {
      ...state,
      night: { ...night, proof: told(proof) },
      verdict: { ...common, at_epochMs, proof: told(proof), isSurelyStuck: false },
    };
  }
  // What was told once holds until the fall is seen: a proof that wavers takes nothing back.
  return night.againFrom_epochMs === undefined ? { ...state, night: { ...night, proof } } : state;
}

function told<Proof extends ClosedVerdict["proof"]>(proof: Proof): Proof {
  const likelihoodRatio = Math.min(proof.evidence.likelihoodRatio, largestRatio);
  return { ...proof, evidence: { ...proof.evidence, likelihoodRatio } };
}
