import { describe, expect, it } from "vitest";
import {
  learningConditions,
  stoppedText,
  stuckValveReason,
} from "../../../../daemon/tank/learning-alarms.js";
import type { LearntTankStatus } from "../../../../daemon/tank/learnt-tank-status.js";
import { benchYaml, modelOf } from "../../../support/control-bench.js";

const model = modelOf(benchYaml);
const evidence = {
  watched_h: 3.2,
  fromCo2_mgPerL: 18,
  toCo2_mgPerL: 17.4,
  expectedCo2_mgPerL: 10.2,
  likelihoodRatio: 38_000,
};
const proof = {
  kind: "gas did not stop" as const,
  suspicion: "stuck valve" as const,
  leak_ratio: 0.95,
  leakLow80_ratio: 0.8,
  leakHigh80_ratio: 1.1,
  alsoPossible: "a film on the surface",
  evidence,
};
const verdict = { at_epochMs: 4_000_000, nightFrom_epochMs: 1000, proof, isSurelyStuck: true };
const tank: LearntTankStatus = {
  tankId: "loach",
  exchange: { kind: "none" },
  aeration: "off",
  latestNight: undefined,
  respiration: undefined,
  rest: undefined,
  dose: undefined,
  plateau: undefined,
  lead: { kind: "not known", because: "" },
  night: { from_epochMs: 1000, proof },
  verdict,
  overdose: undefined,
  usedLead_min: 60,
  configuredLead_min: 60,
  useLearntLead: undefined,
};
const leaking = { ...verdict, isSurelyStuck: false, proof: { ...proof, suspicion: "leaking seat" as const } };

describe("gas that did not stop", () => {
  it.each([
    { status: tank, priority: "critical", trips: true, because: "the valve surely hangs open tonight" },
    {
      status: { ...tank, verdict: { ...verdict, isSurelyStuck: false } },
      priority: "critical",
      trips: false,
      because: "it may hang open",
    },
    { status: { ...tank, verdict: leaking }, priority: "high", trips: false, because: "a seat leaks" },
    { status: { ...tank, night: undefined }, priority: "high", trips: false, because: "the night is over" },
  ])("is $priority where $because", ({ status, priority, trips }) => {
    const [alarm] = learningConditions([status], model, []);
    expect(alarm).toMatchObject({ alarmId: "not-falling/loach", priority });
    expect(alarm!.whatToDo).toMatch(/^Shut the vessel by hand/);
    expect(alarm!.cause).toContain("Also possible: a film on the surface");
    expect(alarm!.cause).toContain("in 3.2 h of the night CO2 by pH and KH went from 18 to 17 mg/L");
    expect(alarm!.subjects).toContainEqual({ kind: "valve", id: "outlet" });
    expect(stuckValveReason(status) !== undefined).toBe(trips);
  });

  it("leaves it to the trip's own alarm once the valve has tripped", () => {
    const subject = { kind: "valve" as const, id: "outlet" };
    const trip = { subject, cause: "gas did not stop" as const, reason: "", at_epochMs: 1 };
    expect(learningConditions([tank], model, [trip])).toEqual([]);
    expect(learningConditions([tank], model, [{ ...trip, cause: "open for too long" }])).toHaveLength(1);
  });

  it("is a high alarm, and no trip, where CO2 is held and nothing is proven", () => {
    const heldUp = {
      ...verdict,
      proof: { kind: "not falling" as const, because: "gas flows on, or a lid", evidence },
      isSurelyStuck: false,
    };
    const [alarm] = learningConditions([{ ...tank, verdict: heldUp }], model, []);
    expect(alarm).toMatchObject({ alarmId: "not-falling/loach", priority: "high" });
    expect(alarm!.cause).toContain(
      "CO2 is not falling, though every relay reports off: gas flows on, or a lid",
    );
    expect(stuckValveReason({ ...tank, verdict: heldUp })).toBeUndefined();
  });

  it("says of gas that stopped how much can go on, and no more than most where a leak of 30 % is open", () => {
    expect(stoppedText(0.114)).toBe("gas stopped; at most 12 % of the flow can go on");
    expect(stoppedText(0.41)).toBe("most of the gas stopped; at most 41 % of the flow can go on");
  });

  it("is nothing after a night that stopped", () => {
    const stopped = {
      ...verdict,
      proof: { kind: "gas stopped" as const, leakAtMost_ratio: 0.1, evidence },
      isSurelyStuck: false,
    };
    expect(learningConditions([{ ...tank, verdict: stopped }], model, [])).toEqual([]);
  });
});

describe("a gas exchange that is no longer what it was", () => {
  const day_ms = 86_400_000;
  const changedFor = (days: number): LearntTankStatus => ({
    ...tank,
    verdict: undefined,
    exchange: {
      kind: "estimate",
      k_perH: 0.1,
      kLow80_perH: 0.09,
      kHigh80_perH: 0.11,
      kLow90_perH: 0.08,
      kHigh90_perH: 0.12,
      nextNightSigma_ln: 0.1,
      temperature_degC: 25,
      nights: 2,
      oddNights_epochMs: [],
      change: { kind: "slower", since_epochMs: day_ms, ratio: 0.5, usualCauses: "a film" },
      latest_epochMs: (1 + days) * day_ms,
    },
  });

  it("is a low alarm for a week", () => {
    expect(learningConditions([changedFor(1)], model, [])).toMatchObject([
      { alarmId: "gas-exchange/loach", priority: "low" },
    ]);
    expect(learningConditions([changedFor(8)], model, [])).toEqual([]);
  });
});

describe("nights that come to rest higher than breathing explains", () => {
  const rest = {
    nights: 4,
    aboveAir_mgPerL: 9.2,
    release_mgPerLPerH: 2.1,
    usuallyUnder_mgPerL: 4.4,
    leakOdds: 12,
    isTold: true,
  };
  const status = { ...tank, verdict: undefined, rest };
  const loss = (leak_gPerDay: number, leakSigma_gPerDay: number) => () => ({
    leak_gPerDay,
    leakSigma_gPerDay,
  });

  it("are a low alarm and no trip, with the odds and what tells the causes apart", () => {
    const [alarm] = learningConditions([status], model, []);
    expect(alarm).toMatchObject({
      alarmId: "night-rest/loach",
      priority: "low",
      suppressedBy: ["not-falling/loach"],
    });
    expect(alarm!.cause).toContain(
      "9.2 mg/L above the air's, more than breathing explains (usually under 4.4). By 4 nights the odds are 12 to 1 for a seat that leaks. Else the KH",
    );
    expect(alarm!.whatToDo).toMatch(/^Shut the vessel by hand one evening and compare that night/);
    expect(stuckValveReason(status)).toBeUndefined();
  });

  it.each([
    [
      "surely loses the gas that the water gains",
      loss(3, 0.5),
      "120 to 1 for a seat that leaks (the vessel's gauge shows",
    ],
    ["may lose anything", loss(0.5, 3), "12 to 1 for a seat that leaks. Else"],
  ])("are weighed with a vessel that %s", (_, lossOf, words) => {
    const [alarm] = learningConditions([status], model, [], lossOf);
    expect(alarm!.cause.replace("more than 99", "120")).toContain(words);
  });

  it("are not told where the gauge shows that the vessel loses nothing, nor at low odds", () => {
    expect(learningConditions([status], model, [], loss(0, 0.1))).toEqual([]);
    const unsure = { ...status, rest: { ...rest, leakOdds: 1, isTold: false } };
    expect(learningConditions([unsure], model, [])).toEqual([]);
  });
});
