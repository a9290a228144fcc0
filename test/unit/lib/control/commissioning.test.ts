import { describe, expect, it } from "vitest";
import {
  beginTrial,
  commandOf,
  stepTrial,
  type Commissioning,
  type CommissioningInput,
  type CommissioningRules,
  type Trial,
} from "../../../../lib/control/commissioning.js";

const rules: CommissioningRules = { autoOff_s: 120, confirmWithin_s: 5, answersStatusQuery: false };
const askable: CommissioningRules = { ...rules, answersStatusQuery: true };

type Happening = readonly [second: number, what: "on" | "off" | "tick" | "yes"];

function trialOf(trial: Trial, happenings: readonly Happening[], by = rules): Commissioning {
  return happenings.reduce<Commissioning>(
    (state, [second, what]) => {
      const at_monotonicMs = second * 1000;
      const input: CommissioningInput =
        what === "tick"
          ? { kind: "tick", at_monotonicMs }
          : what === "yes"
            ? { kind: "person says power is back", at_monotonicMs }
            : { kind: "report", reported: what, at_monotonicMs };
      return stepTrial(by, state, input);
    },
    beginTrial(trial, 0),
  );
}

describe("the trial of the auto-off", () => {
  it.each<{ because: string; happenings: readonly Happening[]; kind: Commissioning["kind"] }>([
    { because: "nothing has been reported", happenings: [[1, "tick"]], kind: "waiting for on" },
    { because: "an old off is no on", happenings: [[1, "off"]], kind: "waiting for on" },
    {
      because: "it is on, and its time has not come",
      happenings: [
        [1, "on"],
        [100, "tick"],
      ],
      kind: "waiting for auto-off",
    },
    {
      because: "a repeated on changes nothing",
      happenings: [
        [1, "on"],
        [50, "on"],
      ],
      kind: "waiting for auto-off",
    },
    {
      because: "it dropped at its time",
      happenings: [
        [1, "on"],
        [121, "off"],
      ],
      kind: "passed",
    },
    {
      because: "a timer is no stopwatch: 149 s",
      happenings: [
        [0, "on"],
        [149, "off"],
      ],
      kind: "passed",
    },
    {
      because: "a timer is no stopwatch: 95 s",
      happenings: [
        [0, "on"],
        [95, "off"],
      ],
      kind: "passed",
    },
    {
      because: "it stays passed whatever comes",
      happenings: [
        [0, "on"],
        [120, "off"],
        [121, "on"],
        [999, "tick"],
      ],
      kind: "passed",
    },
  ])("is $kind when $because", ({ happenings, kind }) => {
    expect(trialOf("auto-off", happenings).kind).toBe(kind);
  });

  it("measures from the report that it is on", () => {
    expect(
      trialOf("auto-off", [
        [2, "on"],
        [123.5, "off"],
      ]),
    ).toEqual({
      kind: "passed",
      trial: "auto-off",
      measured_s: 121.5,
    });
  });

  it.each<{ because: string; happenings: readonly Happening[]; reason: string }>([
    {
      because: "it never reported on",
      happenings: [
        [15, "tick"],
        [15.001, "tick"],
      ],
      reason: "did not report that it switched on",
    },
    {
      because: "it did not drop",
      happenings: [
        [0, "on"],
        [149.001, "tick"],
      ],
      reason: "did not drop by itself within 149 s; autoOff_s says 120 s",
    },
    {
      because: "it dropped too late",
      happenings: [
        [0, "on"],
        [150, "off"],
      ],
      reason: "did not drop by itself",
    },
    {
      because: "someone switched it, or its timer is set shorter",
      happenings: [
        [0, "on"],
        [30, "off"],
      ],
      reason: "went off after 30 s; autoOff_s says 120 s",
    },
    {
      because: "it stays failed whatever comes",
      happenings: [
        [0, "on"],
        [30, "off"],
        [120, "off"],
      ],
      reason: "went off after 30 s",
    },
  ])("fails when $because", ({ happenings, reason }) => {
    expect(trialOf("auto-off", happenings)).toMatchObject({
      kind: "failed",
      trial: "auto-off",
      reason: expect.stringContaining(reason) as string,
    });
  });
});

describe("the trial of the power-on state", () => {
  it.each<{
    because: string;
    happenings: readonly Happening[];
    by?: CommissioningRules;
    kind: Commissioning["kind"];
  }>([
    { because: "it is on", happenings: [[1, "on"]], kind: "waiting for the plug" },
    {
      because: "the person takes a while",
      happenings: [
        [1, "on"],
        [300, "tick"],
      ],
      kind: "waiting for the plug",
    },
    {
      because: "it has said nothing since its power came back",
      happenings: [
        [1, "on"],
        [20, "yes"],
      ],
      kind: "waiting for the report after power returned",
    },
    {
      because: "its state is still asked for",
      by: askable,
      happenings: [
        [1, "on"],
        [15, "off"],
        [20, "yes"],
      ],
      kind: "waiting for the report after power returned",
    },
    {
      because: "it reports off after the person spoke",
      happenings: [
        [1, "on"],
        [20, "yes"],
        [21, "off"],
      ],
      kind: "passed",
    },
    {
      because: "it reported off at its start, before the person spoke",
      happenings: [
        [1, "on"],
        [15, "off"],
        [20, "yes"],
      ],
      kind: "passed",
    },
    {
      because: "the answer to the question is off",
      by: askable,
      happenings: [
        [1, "on"],
        [15, "off"],
        [20, "yes"],
        [21, "off"],
      ],
      kind: "passed",
    },
    {
      because: "it came back long after its timer would have dropped it",
      happenings: [
        [1, "on"],
        [200, "off"],
        [210, "yes"],
      ],
      kind: "passed",
    },
  ])("is $kind when $because", ({ happenings, by, kind }) => {
    expect(trialOf("power-on state", happenings, by).kind).toBe(kind);
  });

  it.each<{ because: string; happenings: readonly Happening[]; by?: CommissioningRules; reason: string }>([
    {
      because: "it never reported on",
      happenings: [[15.001, "tick"]],
      reason: "did not report that it switched on",
    },
    {
      because: "nobody comes back",
      happenings: [
        [1, "on"],
        [301.001, "tick"],
      ],
      reason: "nobody said that the power is back",
    },
    {
      because: "it is on again",
      happenings: [
        [1, "on"],
        [20, "yes"],
        [21, "on"],
      ],
      reason: "was on after its power came back",
    },
    {
      because: "the network called it off when it went, and it is on again",
      happenings: [
        [1, "on"],
        [10, "off"],
        [15, "on"],
        [20, "yes"],
        [21, "on"],
      ],
      reason: "was on after its power came back",
    },
    {
      because: "the answer to the question is on",
      by: askable,
      happenings: [
        [1, "on"],
        [15, "off"],
        [20, "yes"],
        [21, "on"],
      ],
      reason: "was on after its power came back",
    },
    {
      because: "it gives no report",
      happenings: [
        [1, "on"],
        [20, "yes"],
        [80.001, "tick"],
      ],
      reason: "gave no report after its power came back",
    },
    {
      because: "nobody pulled the plug, and its timer dropped it",
      happenings: [
        [1, "on"],
        [80, "yes"],
        [121, "off"],
      ],
      reason: "dropped by its own timer",
    },
    {
      because: "its timer dropped it before the plug was pulled",
      happenings: [
        [1, "on"],
        [121, "off"],
        [130, "yes"],
      ],
      reason: "dropped by its own timer",
    },
  ])("fails when $because", ({ happenings, by, reason }) => {
    expect(trialOf("power-on state", happenings, by)).toMatchObject({
      kind: "failed",
      trial: "power-on state",
      reason: expect.stringContaining(reason) as string,
    });
  });
});

describe("the round trip of a relay in use", () => {
  it.each<{ because: string; happenings: readonly Happening[]; kind: Commissioning["kind"] }>([
    { because: "it has not gone off yet", happenings: [[1, "on"]], kind: "waiting for off before" },
    { because: "it went off and is told on", happenings: [[1, "off"]], kind: "waiting for on" },
    {
      because: "it is on for two seconds",
      happenings: [
        [1, "off"],
        [2, "on"],
        [3.9, "tick"],
      ],
      kind: "on for the round trip",
    },
    {
      because: "its two seconds are over",
      happenings: [
        [1, "off"],
        [2, "on"],
        [4, "tick"],
      ],
      kind: "waiting for off after",
    },
    {
      because: "it went off again",
      happenings: [
        [1, "off"],
        [2, "on"],
        [4, "tick"],
        [4.2, "off"],
      ],
      kind: "passed",
    },
  ])("is $kind when $because", ({ happenings, kind }) => {
    expect(trialOf("round trip", happenings).kind).toBe(kind);
  });

  it("measures the slower of its two answers", () => {
    const state = trialOf("round trip", [
      [1, "off"],
      [1.5, "on"],
      [3.5, "tick"],
      [3.75, "off"],
    ]);
    expect(state).toEqual({ kind: "passed", trial: "round trip", measured_s: 0.5 });
  });

  it.each<{ because: string; happenings: readonly Happening[]; reason: string }>([
    { because: "it does not go off", happenings: [[15.001, "tick"]], reason: "that it switched off" },
    {
      because: "it does not go on",
      happenings: [
        [1, "off"],
        [16.001, "tick"],
      ],
      reason: "that it switched on",
    },
    {
      because: "it drops by itself",
      happenings: [
        [1, "off"],
        [2, "on"],
        [3, "off"],
      ],
      reason: "before it was told to",
    },
    {
      because: "it stays on",
      happenings: [
        [1, "off"],
        [2, "on"],
        [4, "tick"],
        [19.001, "tick"],
      ],
      reason: "shut the vessel by hand",
    },
  ])("fails when $because", ({ happenings, reason }) => {
    const state = trialOf("round trip", happenings);
    expect(state.kind === "failed" ? state.reason : state.kind).toContain(reason);
  });

  it("tells the relay off, on and off, and a relay that is being commissioned only on", () => {
    const said = (trial: Trial, happenings: readonly Happening[]) =>
      happenings.map((_, index) => commandOf(trialOf(trial, happenings.slice(0, index))));
    expect(
      said("round trip", [
        [1, "off"],
        [2, "on"],
        [4, "tick"],
        [4.2, "off"],
      ]),
    ).toEqual(["off", "on", undefined, "off"]);
    expect(
      said("auto-off", [
        [1, "on"],
        [120, "off"],
      ]),
    ).toEqual(["on", undefined]);
  });
});
