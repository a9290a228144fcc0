import { notFallingBecause } from "./closed-proof.js";
import { proofEvery_ms } from "./closing-watch.js";
import { waterNow } from "./learning-minute.js";
import type { LearningMinute } from "./learning-minute.js";
import { median } from "./relaxation-fit.js";
import { co2Readings } from "./tank-learning-job.js";
import type { LearningJob, LearningWater } from "./tank-learning-job.js";
import { nightKnowledge } from "./tank-learning-knowledge.js";
import { withDue, withNight } from "./tank-learning-state.js";
import type { Aeration, ClosedVerdict, LearntNight, OpenNight, TankLearning } from "./tank-learning-state.js";

const minute_ms = 60_000;
const hour_ms = 3_600_000;

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

export function endNight(state: TankLearning, minute: LearningMinute): TankLearning {
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

export function endMorning(state: TankLearning, minute: LearningMinute): TankLearning {
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

export function beginSpans(state: TankLearning, minute: LearningMinute): TankLearning {
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
