import { describe, expect, it } from "vitest";
import { learntTank } from "../../../../lib/tank/learnt-tank.js";
import { emptyTankLearning, type TankLearning } from "../../../../lib/tank/tank-learning-state.js";
import type { LearningMinute } from "../../../../lib/tank/learning-minute.js";
import { stepLearning } from "../../../../lib/tank/tank-learning.js";
import { learningStart_epochMs, learningTank, runLearningDays } from "../../../support/learning-days.js";

const minute_ms = 60_000;
const day_min = 1440;
/** The evening's end of the last of three days: gas off 18:30, lights off 19:00. */
const lastDay_min = 2 * day_min;
const at = (minute: number): number => learningStart_epochMs + minute * minute_ms;
const learnt = (state: TankLearning, days: number) =>
  learntTank(state, learningTank.kh_dKH, at(days * day_min));

describe("what days of a tank teach", () => {
  it("is the gas exchange, the dose and the lead, in a state of a few kilobytes", () => {
    let longest = 0;
    const state = runLearningDays(4, {
      after: (now, minute) => {
        if (minute % 60 === 0) longest = Math.max(longest, JSON.stringify(now).length);
        return now;
      },
    });
    const { exchange, dose, lead } = learnt(state, 4);
    // The first night began with little CO2, of which little could fall.
    expect(exchange).toMatchObject({ kind: "estimate", nights: 3 });
    expect(dose!.dose_mgPerLPerH).toBeGreaterThan(4.4);
    expect(dose!.dose_mgPerLPerH).toBeLessThan(5.6);
    expect(lead.kind).toBe("reached");
    expect(longest).toBeLessThan(20_000);
  });

  it("goes on from its state as plain data after every hour, with the same result", () => {
    const whole = runLearningDays(3);
    const torn = runLearningDays(3, {
      after: (state, minute) =>
        minute % 60 === 7
          ? { ...emptyTankLearning, ...(JSON.parse(JSON.stringify(state)) as TankLearning) }
          : state,
    });
    expect(JSON.parse(JSON.stringify(torn))).toEqual(JSON.parse(JSON.stringify(whole)));
  });

  it("takes a second call within the minute as none", () => {
    let last: LearningMinute | undefined;
    const state = runLearningDays(1, { each: (minute) => (last = minute) });
    const soon = { ...last!, now_epochMs: last!.now_epochMs + 20_000, pH: 5 };
    expect(stepLearning(state, soon)).toBe(state);
    expect(stepLearning(state, { ...soon, now_epochMs: last!.now_epochMs + minute_ms })).not.toBe(state);
  });

  it("is lost of the night under way, and kept of the nights before, when the probe is calibrated anew", () => {
    const state = runLearningDays(3, {
      shown: (minute) => (minute > lastDay_min + 300 ? { correction: "2" } : { correction: "1" }),
    });
    const { until_epochMs, fit } = state.nights.at(-1)!;
    expect(state.nights.filter((night) => night.fit.kind === "fitted").length).toBeGreaterThan(0);
    // From 5:00 to the opening at 8:30 is all that is left of that night.
    expect(until_epochMs).toBeGreaterThan(at(lastDay_min + 300));
    expect(fit.kind).not.toBe("fitted");
  });

  it("is nothing of a night in which the air pump was switched", () => {
    const state = runLearningDays(3, {
      shown: (minute) =>
        minute > lastDay_min - 3 * 60 && minute < lastDay_min ? { aeration: "running" } : undefined,
    });
    const kinds = state.nights.map(({ aeration, fit }) => `${aeration} ${fit.kind}`);
    expect(kinds).toContain("off fitted");
    expect(
      state.nights.filter(({ aeration, fit }) => aeration === "running" && fit.kind === "fitted"),
    ).toEqual([]);
  });

  it("is no dose of a morning on which gas was closed before the lights", () => {
    const closed = { gas: "confirmed off" } as const;
    const state = runLearningDays(3, {
      shown: (minute) => (minute % day_min >= 570 && minute % day_min < 600 ? closed : undefined),
    });
    expect(state.mornings).toEqual([]);
    expect(learnt(state, 3).lead).toMatchObject({ kind: "not known" });
  });

  it("is the lead of the window after the night alone, where the lights make a pause of five hours", () => {
    const lit = (ofDay: number): boolean => (ofDay >= 480 && ofDay < 720) || (ofDay >= 1020 && ofDay < 1320);
    const open = (ofDay: number): boolean => (ofDay >= 420 && ofDay < 690) || (ofDay >= 960 && ofDay < 1290);
    const since = (ofDay: number): number =>
      ofDay >= 1320 ? ofDay - 1320 : ofDay < 480 ? ofDay + 120 : ofDay - 720;
    const state = runLearningDays(4, {
      flow: (minute) => (open(minute % day_min) ? 1 : 0),
      lightsAt: lit,
      shown: (minute) => {
        const ofDay = minute % day_min;
        return {
          gas: open(ofDay) ? "on" : "confirmed off",
          lightsAreOn: lit(ofDay),
          lightsOn_epochMs: undefined,
          lightsOff_epochMs: lit(ofDay) ? undefined : at(minute - since(ofDay)),
          opens_epochMs: undefined,
        };
      },
    });
    expect(state.mornings.length).toBeGreaterThanOrEqual(2);
    expect(
      new Set(
        state.mornings.map(
          ({ from_epochMs }) => ((from_epochMs - learningStart_epochMs) / minute_ms) % day_min,
        ),
      ),
    ).toEqual(new Set([420]));
  });

  it("is no scale of another hardness: a test that shows twice the KH doubles dose and rest, not k", () => {
    const state = runLearningDays(4);
    const one = learntTank(state, learningTank.kh_dKH, at(4 * day_min));
    const two = learntTank(state, 2 * learningTank.kh_dKH, at(4 * day_min));
    expect(two.exchange).toEqual(one.exchange);
    expect(two.dose!.dose_mgPerLPerH).toBeCloseTo(2 * one.dose!.dose_mgPerLPerH, 6);
  });
});

describe("the watch over a closing", () => {
  /** The last of three days; the closing is shown an hour and a half after lights off at the earliest. */
  const night_min = lastDay_min + 1140;

  function watched(options: Parameters<typeof runLearningDays>[1], until_min: number) {
    let seen: TankLearning | undefined;
    runLearningDays(3, {
      ...options,
      after: (state, minute) => {
        if (minute === until_min) seen = state;
        return state;
      },
    });
    return learntTank(seen!, learningTank.kh_dKH, at(until_min));
  }
  const hangsOpen = (minute: number): number | undefined => (minute > lastDay_min + 1110 ? 1 : undefined);

  it("says that gas stopped, within a few hours", () => {
    expect(watched({}, night_min + 240).verdict?.proof.kind).toBe("gas stopped");
  });

  it("says that it did not, and how surely, when the valve hangs open", () => {
    const { verdict } = watched({ flow: hangsOpen }, night_min + 270);
    expect(verdict).toMatchObject({ isSurelyStuck: true });
    expect(verdict!.proof).toMatchObject({ kind: "gas did not stop", suspicion: "stuck valve" });
  });

  it("does not call a seat that leaks a little a stuck valve", () => {
    const leaks = (minute: number): number | undefined => (minute > lastDay_min + 1110 ? 0.45 : undefined);
    const { verdict } = watched({ flow: leaks }, night_min + 290);
    expect(verdict?.isSurelyStuck ?? false).toBe(false);
  });

  it("takes it back once the vessel is shut by hand and the tank loses its CO2", () => {
    const shutAfter = (minute: number): number | undefined =>
      minute > lastDay_min + 1110 && minute < night_min + 200 ? 1 : undefined;
    let seen: TankLearning | undefined;
    const verdicts = new Set<string>();
    // The third night goes on into a fourth day.
    runLearningDays(4, {
      flow: shutAfter,
      after: (state, minute) => {
        if (minute > night_min && state.verdict?.nightFrom_epochMs === state.night?.from_epochMs) {
          verdicts.add(state.verdict?.proof.kind ?? "");
        }
        if (minute === night_min + 600) seen = state;
        return state;
      },
    });
    expect([...verdicts].slice(0, 2)).toEqual(["gas did not stop", "gas stopped"]);
    expect(seen?.verdict?.proof.kind).toBe("gas stopped");
  });

  it("begins anew after a water change, and where readings were missing for longer than half an hour", () => {
    const change_epochMs = at(night_min + 60);
    const changed = watched(
      {
        shown: (minute) =>
          minute >= night_min + 61 ? { waterChanges_epochMs: [change_epochMs] } : undefined,
      },
      night_min + 100,
    );
    expect(changed.night?.proof?.kind ?? "none").toBe("not yet");
    const isGap = (minute: number): boolean => minute > night_min + 20 && minute < night_min + 80;
    const gap = { pH: undefined };
    const silent = watched({ shown: (minute) => (isGap(minute) ? gap : undefined) }, night_min + 75);
    expect(silent.night?.proof).toMatchObject({ kind: "cannot be told" });
    const after = watched({ shown: (minute) => (isGap(minute) ? gap : undefined) }, night_min + 120);
    expect(after.verdict?.nightFrom_epochMs).not.toBe(after.night?.from_epochMs);
  });
});

describe("a leak that was there from the first night", () => {
  /** After the gas is off in the evening this share of it flows on until the morning's opening. */
  const leaking =
    (leak_ratio: number) =>
    (minute: number): number | undefined =>
      minute % day_min >= 1110 || minute % day_min < 510 ? leak_ratio : undefined;

  function verdictsWith(leak_ratio: number): { readonly state: TankLearning; readonly said: Set<string> } {
    const said = new Set<string>();
    const state = runLearningDays(4, {
      flow: leaking(leak_ratio),
      after: (now, minute) => {
        const proof = minute > day_min ? now.verdict?.proof : undefined;
        if (proof !== undefined) said.add(proof.kind);
        if (proof?.kind === "gas stopped") said.add(proof.leakAtMost_ratio > 0.3 ? "most" : "all");
        return now;
      },
    });
    return { state, said };
  }

  it("of 70 % teaches no exchange and no rest, and is told as CO2 that does not fall", () => {
    const { state, said } = verdictsWith(0.7);
    expect(state.nights.filter(({ fit }) => fit.kind === "fitted" || fit.kind === "bounded")).toEqual([]);
    expect(said).not.toContain("gas stopped");
    expect(said).toContain("not falling");
    expect(state.verdict?.isSurelyStuck).toBe(false);
  });

  it("of half of the flow rests higher than breathing explains, and is told by its odds after three nights", () => {
    const { rest } = learnt(verdictsWith(0.5).state, 4);
    expect(rest).toMatchObject({ isTold: true, nights: expect.any(Number) as number });
    expect(rest!.aboveAir_mgPerL).toBeGreaterThan(rest!.usuallyUnder_mgPerL);
    // 2.5 mg/L an hour of gas and 0.35 of breath, by factor 1.4 either way.
    expect(rest!.release_mgPerLPerH).toBeGreaterThan(2);
    expect(rest!.release_mgPerLPerH).toBeLessThan(4);
  });

  it("of 20 % is never called wholly stopped: respiration and a leak look alike", () => {
    const { said } = verdictsWith(0.2);
    expect(said).not.toContain("all");
  });

  it("is not read into a sound tank: gas stopped, and at most 30 % can go on", () => {
    const { said, state } = verdictsWith(0);
    expect(said).toContain("all");
    expect(said).not.toContain("not falling");
    expect(learnt(state, 4).rest).toMatchObject({ isTold: false });
  });
});
