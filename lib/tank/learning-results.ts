import { isHeld, notFallingBecause } from "./closed-proof.js";
import type { ClosedProofEvidence } from "./closed-proof.js";
import { withProof } from "./closing-watch.js";
import type { NightFit } from "./night-fit.js";
import { median } from "./relaxation-fit.js";
import { co2Readings } from "./tank-learning-job.js";
import type { LearningJob, LearningResult } from "./tank-learning-job.js";
import { usual } from "./tank-learning-knowledge.js";
import { withNight } from "./tank-learning-state.js";
import type { LearntMorning, TankLearning } from "./tank-learning-state.js";

const hour_ms = 3_600_000;

const keptMornings = 10;

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
    case "uptake": {
      const { until_epochMs: at_epochMs, kh_dKH, uptake } = result;
      return uptake.kind === "cannot be told" ? rest : { ...rest, uptake: { at_epochMs, kh_dKH, uptake } };
    }
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
