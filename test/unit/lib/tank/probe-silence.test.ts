import { describe, expect, it } from "vitest";
import type { LearningMinute } from "../../../../lib/tank/learning-minute.js";
import { co2InSilence, followSilence, type ProbeSilence } from "../../../../lib/tank/probe-silence.js";
import { emptyTankLearning } from "../../../../lib/tank/tank-learning-state.js";
import { learningTank, learningWater, runLearningDays } from "../../../support/learning-days.js";

const minute_ms = 60_000;
const spoken: LearningMinute = {
  now_epochMs: 0,
  pH: 6.6,
  temperature_degC: 24.5,
  correction: "one",
  water: learningWater,
  estimate: { co2_mgPerL: 20, co2Sigma_ln: 0.15 },
  gas: "confirmed off",
  lightsAreOn: false,
  lightsOn_epochMs: undefined,
  lightsOff_epochMs: undefined,
  opens_epochMs: undefined,
  aeration: "off",
  waterChanges_epochMs: [],
  limits: { co2TargetLow_mgPerL: 15, co2Alarm_mgPerL: 40 },
};
const silent = (at_min: number, shown: Partial<LearningMinute> = {}): LearningMinute => ({
  ...spoken,
  pH: undefined,
  estimate: undefined,
  now_epochMs: at_min * minute_ms,
  ...shown,
});
const follow = (...minutes: readonly LearningMinute[]): ProbeSilence | undefined =>
  minutes.reduce<ProbeSilence | undefined>(followSilence, undefined);

describe("a silence of the probe", () => {
  it("is followed from the last estimate on, what gas and light do in few words", () => {
    const silence = follow(spoken, silent(1), silent(2), silent(3, { gas: "on" }), silent(4, { gas: "on" }));
    expect(silence?.last).toMatchObject({ at_epochMs: 0, co2_mgPerL: 20 });
    expect(silence?.spans.map(({ until_epochMs, gas }) => [until_epochMs / minute_ms, gas])).toEqual([
      [2, "off"],
      [4, "on"],
    ]);
    expect(follow(spoken, silent(1), { ...spoken, now_epochMs: 2 * minute_ms })?.spans).toEqual([]);
  });

  it("knows nothing of the gas of minutes that were missed", () => {
    expect(follow(spoken, silent(30))?.spans).toMatchObject([{ gas: "not known" }]);
  });

  it.each([
    { minutes: [silent(1)], because: "there was no estimate before" },
    { minutes: [spoken, silent(1, { waterChanges_epochMs: [30_000] })], because: "water was changed" },
    { minutes: [spoken, silent(1, { correction: "other" })], because: "the probe was calibrated" },
    { minutes: [spoken, silent(2), silent(1)], because: "the clock was set back" },
    { minutes: [spoken, silent(1, { aeration: "not known" })], because: "nobody knows of the air pump" },
  ])("is not bridged where $because", ({ minutes }) => {
    expect(follow(...minutes)).toBeUndefined();
  });

  it("is bridged by what the tank's nights taught, on the scale of its estimate", () => {
    const state = runLearningDays(4);
    const water = { kh_dKH: learningTank.kh_dKH, temperature_degC: 24.5 };
    const minutes = Array.from({ length: 120 }, (_, index) => silent(index + 1));
    const silence = follow(spoken, ...minutes);
    const told = co2InSilence(silence, state, water, 0);
    // From 20 mg/L with k 0.22 per hour towards about 2.5 mg/L, two hours: 13.8 mg/L.
    expect(told).toMatchObject({ kind: "by balance" });
    if (told?.kind !== "by balance") return;
    expect(Math.abs(told.co2_mgPerL - 13.8)).toBeLessThan(1);
    const twice = { ...state, scale_ratio: 2 };
    const half = co2InSilence(silence, twice, water, 0);
    expect(half?.kind === "by balance" && half.co2_mgPerL).toBeGreaterThan(told.co2_mgPerL);
    expect(co2InSilence(silence, emptyTankLearning, water, 0)).toMatchObject({ kind: "cannot be told" });
    expect(co2InSilence(follow(spoken), state, water, 0)).toBeUndefined();
  });
});
