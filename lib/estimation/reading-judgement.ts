import type { SupplyModel } from "./supply-model.js";
import { expectedGauge } from "./supply-observation.js";
import { usualFlow_gPerH } from "./supply-spreads.js";
import { component as c, componentCount, type SupplyHypothesis, type SupplyState } from "./supply-state.js";
import { addVariance, varianceAlong } from "./symmetric-matrix.js";

/** A hypothesis on its way to the next state: its arrays belong to whoever made it. */
export interface MovableHypothesis extends SupplyHypothesis {
  readonly mean: number[];
  readonly covariance: number[];
}

export interface PressureRead {
  readonly pressure_bar: number;
  readonly noise_bar: number;
  readonly at_epochMs: number;
  readonly byEye: boolean;
}

export interface ReadingJudgement {
  readonly believed: boolean;
  /** How much has gone was opened up for it. */
  readonly opened: boolean;
  /** Standard deviations from what was expected. */
  readonly surprise: number;
  readonly refused: SupplyState["refused"];
}

/**
 * Standard deviations beyond which a reading is not believed, and after how many, over how long, it must be. A first reading
 * this far below the full charge says that gas was drawn before it.
 */
const gate = {
  deviations: 6,
  count: 6,
  lasting_ms: 2 * 3_600_000,
  byEyeCount: 2,
  drawnDeviations: -3,
} as const;

/** What may have gone through the valve between closing and the first row, g. */
export function drawnBefore_g(model: SupplyModel, at_epochMs: number): number {
  const { charge, map, spans } = model;
  const open_h = spans.openBetween_h(charge.closedAt_epochMs, at_epochMs);
  return Math.min(map.co2Available_g / 2, 2 * usualFlow_gPerH(model) * open_h);
}

/**
 * A reading far from what every belief expects is passed over, as a dropout would be. When it keeps saying the same, it is right and
 * the beliefs are wrong: how much has gone is opened up until the reading is an ordinary one.
 */
export function judgeReading(
  model: SupplyModel,
  state: SupplyState,
  carried: readonly MovableHypothesis[],
  reading: PressureRead,
): ReadingJudgement {
  const { pressure_bar, noise_bar, at_epochMs } = reading;
  const calm = { count: 0, since_epochMs: at_epochMs, innovation_bar: 0 };
  const innovationOf = (hypothesis: MovableHypothesis) => {
    const expected = expectedGauge(model, hypothesis.mean);
    const variance = varianceAlong(hypothesis.covariance, componentCount, expected.gradient) + noise_bar ** 2;
    const innovation_bar = pressure_bar - expected.gauge_bar;
    return { innovation_bar, deviations: innovation_bar / Math.sqrt(variance), gradient: expected.gradient };
  };
  // As good as always the likeliest belief expects the reading, and the others need not be asked.
  const likeliest = carried.reduce((best, one) => (one.logWeight > best.logWeight ? one : best));
  const byLikeliest = innovationOf(likeliest);
  const first = state.pressureRead_epochMs === undefined;
  if (first && byLikeliest.deviations < gate.drawnDeviations) {
    const drawn_g = drawnBefore_g(model, at_epochMs);
    for (const { covariance } of carried) addVariance(covariance, componentCount, c.removed, drawn_g ** 2);
    if (drawn_g > 0) return { believed: true, opened: true, surprise: byLikeliest.deviations, refused: calm };
  }
  if (Math.abs(byLikeliest.deviations) <= gate.deviations) {
    return { believed: true, opened: false, surprise: byLikeliest.deviations, refused: calm };
  }
  const innovations = carried.map(innovationOf);
  const nearest = innovations.reduce((best, one) =>
    Math.abs(one.deviations) < Math.abs(best.deviations) ? one : best,
  );
  if (Math.abs(nearest.deviations) <= gate.deviations) {
    return { believed: true, opened: false, surprise: nearest.deviations, refused: calm };
  }
  const { refused } = state;
  const sameSide =
    refused.count > 0 && Math.sign(refused.innovation_bar) === Math.sign(nearest.innovation_bar);
  const since_epochMs = sameSide ? refused.since_epochMs : at_epochMs;
  const count = sameSide ? refused.count + 1 : 1;
  const lasting = at_epochMs - since_epochMs >= gate.lasting_ms;
  if (!first && !(lasting && count >= (reading.byEye ? gate.byEyeCount : gate.count))) {
    return {
      believed: false,
      opened: false,
      surprise: nearest.deviations,
      refused: { count, since_epochMs, innovation_bar: nearest.innovation_bar },
    };
  }
  carried.forEach((hypothesis, k) => {
    const found = innovations[k];
    const slope = found?.gradient[c.removed] ?? 0;
    if (found === undefined || slope === 0) return;
    addVariance(hypothesis.covariance, componentCount, c.removed, (found.innovation_bar / slope) ** 2);
  });
  return { believed: true, opened: true, surprise: nearest.deviations, refused: calm };
}
