import { waterNow } from "./learning-minute.js";
import type { LearningMinute } from "./learning-minute.js";
import { balanced_ms } from "./lit-balance.js";
import { tankDynamics } from "./tank-learning-knowledge.js";
import { withDue } from "./tank-learning-state.js";
import type { TankLearning } from "./tank-learning-state.js";

const minute_ms = 60_000;
const hour_ms = 3_600_000;
/** Tank and plants have come to a steady day. Judgement. */
const leastLit_ms = 4 * hour_ms;
/** A relay may be unheard for so long, as after a restart. */
const unheard_ms = 10 * minute_ms;

/** Gas and light together, without a break, and the air pump off. */
function isLit({ gas, lightsAreOn, aeration }: LearningMinute): boolean {
  return gas === "on" && lightsAreOn && aeration === "off";
}

/** Follows the hours with gas and light; at their end the balance of the last ones is asked for. */
export function followLitHours(state: TankLearning, minute: LearningMinute): TankLearning {
  const { now_epochMs } = minute;
  const { lit } = state;
  if (lit === undefined) {
    return isLit(minute)
      ? { ...state, lit: { from_epochMs: now_epochMs, seen_epochMs: now_epochMs } }
      : state;
  }
  const unseen_ms = now_epochMs - lit.seen_epochMs;
  if (isLit(minute) && unseen_ms <= unheard_ms) {
    return { ...state, lit: { ...lit, seen_epochMs: now_epochMs } };
  }
  if (minute.gas === "not known" && minute.lightsAreOn && unseen_ms <= unheard_ms) return state;
  const ended = { ...state, lit: undefined, samples: state.samples.slice(-3) };
  const until_epochMs = lit.seen_epochMs;
  if (until_epochMs - lit.from_epochMs < leastLit_ms) return ended;
  const from_epochMs = until_epochMs - balanced_ms;
  if (minute.waterChanges_epochMs.some((at_epochMs) => at_epochMs >= lit.from_epochMs)) return ended;
  return withDue(ended, {
    kind: "uptake",
    until_epochMs,
    samples: state.samples.filter(
      ([at_epochMs]) => at_epochMs >= from_epochMs && at_epochMs <= until_epochMs,
    ),
    water: minute.water,
    tank: tankDynamics(state, waterNow(state, minute), now_epochMs),
  });
}
