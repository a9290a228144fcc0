import { describe, expect, it } from "vitest";
import { followLitHours } from "../../../../lib/tank/lit-hours.js";
import type { LearningMinute } from "../../../../lib/tank/learning-minute.js";
import { learntTank } from "../../../../lib/tank/learnt-tank.js";
import { runLearningJob, type LearningJob } from "../../../../lib/tank/tank-learning-job.js";
import { emptyTankLearning, type TankLearning } from "../../../../lib/tank/tank-learning-state.js";
import {
  learningStart_epochMs,
  learningTank,
  learningWater,
  runLearningDays,
} from "../../../support/learning-days.js";

const day_ms = 86_400_000;

describe("what the plants take in light", () => {
  it("is told from the last lit hours with gas, and holds what the simulated plants take", () => {
    const jobs: LearningJob[] = [];
    let litCo2_mgPerL = NaN;
    // Plants of 2.5 mg/L an hour at most, half of it at 6 mg/L: far from the noise.
    const tank = { ...learningTank, uptake_mgPerLPerH: 2.5 };
    const state = runLearningDays(3, {
      tank,
      asked: (job) => jobs.push(job),
      each: ({ gas, lightsAreOn, estimate }) => {
        if (gas === "on" && lightsAreOn) litCo2_mgPerL = estimate!.co2_mgPerL;
      },
    });
    const asked = jobs.filter(({ kind }) => kind === "uptake");
    expect(asked).toHaveLength(3);
    // Before a morning has taught the dose nothing can be told.
    expect(runLearningJob(asked[0]!)).toMatchObject({ uptake: { kind: "cannot be told" } });
    const { uptake } = learntTank(state, learningTank.kh_dKH, learningStart_epochMs + 3 * day_ms);
    expect(uptake?.uptake.kind).toBe("estimate");
    if (uptake?.uptake.kind !== "estimate") return;
    // The simulator's own law, at the CO2 of those hours.
    const true_mgPerLPerH = (2.5 * litCo2_mgPerL) / (litCo2_mgPerL + 6);
    expect(uptake.uptake.uptakeLow80_mgPerLPerH).toBeLessThan(true_mgPerLPerH);
    expect(uptake.uptake.uptakeHigh80_mgPerLPerH).toBeGreaterThan(true_mgPerLPerH);
    expect(Math.abs(uptake.uptake.uptake_mgPerLPerH / true_mgPerLPerH - 1)).toBeLessThan(0.35);
  });

  it("is a bound where the plants cannot be told from none", () => {
    const bare = runLearningDays(3, { tank: { ...learningTank, uptake_mgPerLPerH: 0.05 } });
    expect(bare.uptake?.uptake.kind).toBe("at most");
  });
});

const hour_ms = 3_600_000;
const dayOf =
  (shown: Partial<LearningMinute>) =>
  (hour: number): LearningMinute =>
    ({
      now_epochMs: hour * hour_ms,
      gas: hour < 6 ? "on" : "confirmed off",
      lightsAreOn: true,
      aeration: "off",
      waterChanges_epochMs: [],
      water: learningWater,
      ...shown,
    }) as unknown as LearningMinute;

function dueAfter(shown: Partial<LearningMinute>): number {
  const minuteOf = dayOf(shown);
  let state: TankLearning = emptyTankLearning;
  for (let minute = 0; minute <= 370; minute += 1) state = followLitHours(state, minuteOf(minute / 60));
  return state.due.length;
}

it("is not asked of a day on which water was changed, nor of one with the air pump on", () => {
  expect(dueAfter({})).toBe(1);
  expect(dueAfter({ waterChanges_epochMs: [3 * hour_ms] })).toBe(0);
  expect(dueAfter({ aeration: "running" })).toBe(0);
  expect(dueAfter({ lightsAreOn: false })).toBe(0);
});

it("keeps no more of a day's readings than before, once the light or the gas is gone", () => {
  const lit = { from_epochMs: 0, seen_epochMs: hour_ms };
  const many = Array.from({ length: 100 }, (_, index) => [index, 7, null] as const);
  const after = followLitHours({ ...emptyTankLearning, lit, samples: many }, dayOf({})(7));
  expect(after.samples).toHaveLength(3);
  expect(after.lit).toBeUndefined();
});
