import { bridgedCo2, type BridgedCo2, type BridgedSpan, type TrustedCo2 } from "./balance-bridge.js";
import type { LearningMinute } from "./learning-minute.js";
import { latestDose, nightKnowledge, type WaterNow } from "./tank-learning-knowledge.js";
import type { TankLearning } from "./tank-learning-state.js";

/** The last estimate while the probe spoke, and what gas and light have done since. */
export interface ProbeSilence {
  /** On the scale of the tank's estimate. */
  readonly last: TrustedCo2;
  readonly correction: string;
  /** Empty while the probe speaks. */
  readonly spans: readonly BridgedSpan[];
}

/** A minute that is missed for so long may have held anything. Judgement. */
const missed_ms = 10 * 60_000;

/** Takes one minute in; undefined where nothing can be bridged: no estimate before, a water change since, another correction. */
export function followSilence(
  silence: ProbeSilence | undefined,
  minute: LearningMinute,
): ProbeSilence | undefined {
  const { now_epochMs, pH, estimate, correction } = minute;
  if (pH !== undefined && estimate !== undefined) {
    return { last: { at_epochMs: now_epochMs, ...estimate }, correction, spans: [] };
  }
  if (silence?.correction !== correction) return undefined;
  const { last, spans } = silence;
  const seen_epochMs = spans.at(-1)?.until_epochMs ?? last.at_epochMs;
  const isChanged = minute.waterChanges_epochMs.some((at_epochMs) => at_epochMs > last.at_epochMs);
  if (isChanged || now_epochMs < seen_epochMs || minute.aeration === "not known") return undefined;
  const span: BridgedSpan = {
    until_epochMs: now_epochMs,
    gas: now_epochMs - seen_epochMs > missed_ms ? "not known" : gasOf(minute.gas),
    lightsAreOn: minute.lightsAreOn,
    aeration: minute.aeration,
  };
  const before = spans.at(-1);
  const goesOn =
    before?.gas === span.gas && before.lightsAreOn === span.lightsAreOn && before.aeration === span.aeration;
  return { ...silence, spans: [...(goesOn ? spans.slice(0, -1) : spans), span] };
}

function gasOf(gas: LearningMinute["gas"]): BridgedSpan["gas"] {
  return gas === "confirmed off" ? "off" : gas;
}

/** The tank's CO2 by balance, on the scale of its estimate; undefined while the probe speaks. */
export function co2InSilence(
  silence: ProbeSilence | undefined,
  state: TankLearning,
  water: WaterNow,
  now_epochMs: number,
): BridgedCo2 | undefined {
  if (silence === undefined || silence.spans.length === 0) return undefined;
  const { scale_ratio } = state;
  const dose = latestDose(state, water.kh_dKH, now_epochMs);
  const bridged = bridgedCo2(
    { ...silence.last, co2_mgPerL: silence.last.co2_mgPerL / scale_ratio },
    silence.spans,
    {
      nights: {
        off: nightKnowledge(state, "off", water),
        running: nightKnowledge(state, "running", water),
      },
      dose,
      uptake: state.uptake?.uptake,
    },
  );
  if (bridged.kind !== "by balance") return bridged;
  return {
    ...bridged,
    co2_mgPerL: bridged.co2_mgPerL * scale_ratio,
    co2Low80_mgPerL: bridged.co2Low80_mgPerL * scale_ratio,
    co2High80_mgPerL: bridged.co2High80_mgPerL * scale_ratio,
  };
}
