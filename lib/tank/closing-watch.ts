import { waterNow } from "./learning-minute.js";
import type { LearningMinute } from "./learning-minute.js";
import type { LearningResult } from "./tank-learning-job.js";
import { closedKnowledge } from "./tank-learning-knowledge.js";
import { withDue } from "./tank-learning-state.js";
import type { ClosedVerdict, TankLearning } from "./tank-learning-state.js";

const minute_ms = 60_000;
const hour_ms = 3_600_000;

/** After a longer gap in the readings the proof begins anew. */
const gap_ms = 30 * minute_ms;

export const proofEvery_ms = 15 * minute_ms;

/** Likelihoods beyond it are no surer. */
const largestRatio = 1e9;

/** One night in ten thousand, at most, may hold the gas off for a person by itself. */
const surelyStuckRatio = 1e4;

/** Whether the gas stopped: asked each quarter of an hour, begun anew where something else moved the CO2. */
export function watch(state: TankLearning, minute: LearningMinute): TankLearning {
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

export function withProof(
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
