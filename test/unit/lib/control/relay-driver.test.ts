import { describe, expect, it } from "vitest";
import {
  describeRelayFault,
  initialRelayDriver,
  isConfirmed,
  onReconnected,
  onRelayReport,
  stepRelay,
  type RelayDriverState,
} from "../../../../lib/control/relay-driver.js";
import type { RelayRules } from "../../../../lib/control/valve-rules.js";
import { relayRules } from "../../../support/control-views.js";

interface Play {
  readonly rules?: RelayRules;
  readonly from?: RelayDriverState;
  readonly seconds: number;
  readonly want: (second: number) => "on" | "off";
  /** What the relay says before the tick of this second; `sent` is what it heard last, and `sentAgo_s` how long ago. */
  readonly says?: (
    second: number,
    sent: "on" | "off" | undefined,
    sentAgo_s: number,
  ) => "on" | "off" | undefined;
}

/** Ticks a driver each second and notes what it sent and which fault it saw. */
function play({ rules = relayRules, from = initialRelayDriver, seconds, want, says }: Play): {
  readonly sent: readonly string[];
  readonly faults: readonly string[];
  readonly state: RelayDriverState;
} {
  let state = from;
  const sent: string[] = [];
  const faults: string[] = [];
  let last: { readonly command: "on" | "off"; readonly second: number } | undefined;
  let lastFault: string | undefined;
  for (let second = 0; second < seconds; second += 1) {
    const said = says?.(second, last?.command, last === undefined ? Infinity : second - last.second);
    if (said !== undefined) state = onRelayReport(state, said, second * 1000);
    const step = stepRelay(rules, state, want(second), second * 1000);
    state = step.state;
    if (step.send !== undefined) {
      sent.push(`${second} ${step.send}`);
      last = { command: step.send, second };
    }
    if (state.fault?.kind !== lastFault) faults.push(`${second} ${state.fault?.kind ?? "over"}`);
    lastFault = state.fault?.kind;
  }
  return { sent, faults, state };
}

const always = (want: "on" | "off") => () => want;
/** A healthy relay: reports what it was told, one second later. */
const obedient: NonNullable<Play["says"]> = (_, sent, ago_s) => (ago_s === 1 ? sent : undefined);

describe("a command and its confirmation", () => {
  it.each([
    {
      because: "a new connection begins with the command, whatever it is",
      play: { seconds: 3, want: always("off"), says: obedient },
      sent: ["0 off"],
    },
    {
      because: "a confirmed OFF is left alone",
      play: { seconds: 600, want: always("off"), says: obedient },
      sent: ["0 off"],
    },
    {
      because: "an unconfirmed ON is repeated each time its confirmation is overdue",
      play: { seconds: 15, want: always("on") },
      sent: ["0 on", "5 on", "10 on"],
    },
    {
      because: "a change is sent at once, confirmed or not",
      play: { seconds: 4, want: (second: number) => (second < 2 ? "on" : "off") },
      sent: ["0 on", "2 off"],
    },
    {
      because: "a report of the other state confirms nothing",
      play: { seconds: 11, want: always("on"), says: () => "off" as const },
      sent: ["0 on", "5 on", "10 on"],
    },
    {
      because: "a relay that contradicts an OFF is told again at once",
      play: {
        seconds: 5,
        want: always("off"),
        says: (second: number) => (second > 0 ? ("on" as const) : undefined),
      },
      sent: ["0 off", "1 off", "2 off", "3 off", "4 off"],
    },
    {
      because: "someone who presses the button while it is wished off is corrected in the same second",
      play: {
        seconds: 100,
        want: always("off"),
        says: (second: number, sent: "on" | "off" | undefined, ago_s: number) =>
          second === 50 ? ("on" as const) : obedient(second, sent, ago_s),
      },
      sent: ["0 off", "50 off"],
    },
  ] satisfies { because: string; play: Play; sent: string[] }[])("$because", (row) => {
    expect(play(row.play).sent).toEqual(row.sent);
  });

  it("believes no report that is older than the command", () => {
    const early = onRelayReport(initialRelayDriver, "off", 900);
    const told = stepRelay(relayRules, early, "off", 1000).state;
    expect(isConfirmed(told)).toBe(false);
    expect(isConfirmed(onRelayReport(told, "off", 1400))).toBe(true);
  });

  it("confirms nothing that was never said", () => {
    expect(isConfirmed(initialRelayDriver)).toBe(false);
    expect(isConfirmed(onRelayReport(initialRelayDriver, "off", 5))).toBe(false);
  });

  it("repeats an unconfirmed OFF for ever, at most 30 s apart", () => {
    const { sent } = play({ seconds: 3600, want: always("off") });
    const at_s = sent.map((line) => Number(line.split(" ")[0]));
    expect(sent.every((line) => line.endsWith("off"))).toBe(true);
    expect(at_s.slice(0, 6)).toEqual([0, 5, 10, 15, 25, 45]);
    expect(Math.max(...at_s.slice(1).map((second, i) => second - at_s[i]!))).toBe(30);
    expect(at_s.at(-1)).toBeGreaterThan(3600 - 31);
  });
});

describe("faults", () => {
  it.each([
    { want: "on", faults: ["15 does not confirm on"] },
    { want: "off", faults: ["15 does not confirm off"] },
  ] as const)("calls three commands without an answer a fault: $want", ({ want, faults }) => {
    expect(play({ seconds: 500, want: always(want) }).faults).toEqual(faults);
  });

  it("gives the third command its whole time", () => {
    const slow: Play = {
      seconds: 60,
      want: always("on"),
      says: (second) => (second === 14 ? "on" : undefined),
    };
    expect(play(slow).faults).toEqual([]);
  });

  it("rests for ten minutes after a fault of opening, then lets it be tried again", () => {
    const wedged: Play = {
      seconds: 700,
      want: (second) => (second < 15 ? "on" : "off"),
      says: (_, sent, ago_s) => (ago_s === 1 && sent === "off" ? "off" : undefined),
    };
    expect(play(wedged).faults).toEqual(["15 does not confirm on", "615 over"]);
  });

  it("keeps a fault of closing until the relay reports off, however long that takes", () => {
    const { faults } = play({
      seconds: 7300,
      want: always("off"),
      says: (second) => (second === 7200 ? "off" : undefined),
    });
    expect(faults).toEqual(["15 does not confirm off", "7200 over"]);
    const soon = play({
      seconds: 200,
      want: always("off"),
      says: (second) => (second === 60 ? "off" : undefined),
    });
    expect(soon.faults).toEqual(["15 does not confirm off", "60 over"]);
  });

  it("makes a fault of opening one of closing when the relay does not report off either", () => {
    const { faults } = play({ seconds: 100, want: (second) => (second < 15 ? "on" : "off") });
    expect(faults).toEqual(["15 does not confirm on", "30 does not confirm off"]);
  });

  it("calls three drops within ten minutes a fault, and fewer or rarer ones none", () => {
    const dropsAt =
      (...instants: readonly number[]): NonNullable<Play["says"]> =>
      (second, sent, ago_s) =>
        instants.includes(second) ? "off" : obedient(second, sent, ago_s);
    const base = { seconds: 2000, want: always("on") };
    expect(play({ ...base, says: dropsAt(100, 200) }).faults).toEqual([]);
    expect(play({ ...base, says: dropsAt(100, 500, 900) }).faults).toEqual([]);
    expect(play({ ...base, seconds: 400, says: dropsAt(100, 200, 300) }).faults).toEqual([
      "300 drops by itself",
    ]);
  });

  it("tells a relay that has dropped to go on again at once, however often its timer was re-armed before", () => {
    const { sent, faults } = play({
      seconds: 1010,
      want: always("on"),
      says: (second, sentLast, ago_s) =>
        second === 1000
          ? "off"
          : second === 1 || second > 1000
            ? obedient(second, sentLast, ago_s)
            : undefined,
    });
    expect(faults).toEqual([]);
    expect(sent.slice(-1)).toEqual(["1000 on"]);
  });

  it.each([
    { answerEach_s: 1, faults: ["5 does not confirm off"], because: "it answers each OFF at once" },
    { answerEach_s: 3, faults: ["7 does not confirm off"], because: "it answers every third second" },
  ])("calls a relay that says on to each OFF a fault, and tells it on and on: $because", (row) => {
    const { faults, sent, state } = play({
      seconds: 60,
      want: always("off"),
      says: (second) => (second > 0 && second % row.answerEach_s === 0 ? "on" : undefined),
    });
    expect(faults).toEqual(row.faults);
    expect(sent.length).toBeGreaterThanOrEqual(Math.floor(59 / row.answerEach_s));
    expect(play({ from: state, seconds: 5, want: always("off"), says: () => "off" }).faults).toEqual([]);
  });

  it("ends the fault of a relay that said on to each OFF when it says off at last", () => {
    const { faults } = play({
      seconds: 60,
      want: always("off"),
      says: (second) => (second === 0 ? undefined : second < 30 ? "on" : "off"),
    });
    expect(faults).toEqual(["5 does not confirm off", "30 over"]);
  });

  it("gives a relay that is still on at first its whole time to report off", () => {
    const { faults } = play({
      seconds: 60,
      want: always("off"),
      says: (second) => (second === 0 ? undefined : second < 5 ? "on" : "off"),
    });
    expect(faults).toEqual([]);
  });

  describe("of a relay that something else switches on while it is told off", () => {
    const switchedOnAt =
      (...instants: readonly number[]): NonNullable<Play["says"]> =>
      (second, sent, ago_s) =>
        instants.includes(second) ? "on" : obedient(second, sent, ago_s);
    const confirmedOff = play({ seconds: 10, want: always("off"), says: obedient }).state;

    it.each([
      { because: "twice is a finger on the button", at_s: [100, 200], faults: [] },
      { because: "three within more than ten minutes are rare", at_s: [100, 500, 700], faults: [] },
      {
        because: "three within ten minutes are something that commands it, till ten minutes after the last",
        at_s: [100, 400, 699],
        faults: ["699 is switched on by something else", "1299 over"],
      },
      {
        because: "each further one makes the rest begin anew",
        at_s: [100, 200, 300, 800, 1390],
        faults: ["300 is switched on by something else", "1990 over"],
      },
    ])("$because", ({ at_s, faults }) => {
      expect(play({ seconds: 2500, want: always("off"), says: switchedOnAt(...at_s) }).faults).toEqual(
        faults,
      );
    });

    it("is seen though each OFF is obeyed, and holds gas off", () => {
      const every2_s: NonNullable<Play["says"]> = (second, sent, ago_s) =>
        second > 1 && second % 2 === 0 ? "on" : obedient(second, sent, ago_s);
      const { faults, state } = play({ seconds: 600, want: always("off"), says: every2_s });
      expect(faults).toEqual(["6 is switched on by something else"]);
      expect(describeRelayFault(relayRules, state)).toBe("relay outlet is switched on by something else");
    });

    it("gives way to the graver one of a relay that no longer obeys", () => {
      const { faults } = play({
        seconds: 300,
        want: always("off"),
        says: (second, sent, ago_s) =>
          second >= 100 && second < 200 ? "on" : switchedOnAt(20, 30, 40)(second, sent, ago_s),
      });
      expect(faults).toEqual([
        "40 is switched on by something else",
        "105 does not confirm off",
        "200 is switched on by something else",
      ]);
    });

    it.each([
      { because: "one report counts once, however often it is repeated", said: ["on", "on", "on"], count: 1 },
      { because: "a report of off is none", said: ["off", "off"], count: 0 },
    ] as const)("$because", ({ said, count }) => {
      const after = said.reduce((state, report) => onRelayReport(state, report, 20_000), confirmedOff);
      expect(after.foreignSwitchings_monotonicMs).toHaveLength(count);
    });

    it("does not count what the relay says first on a new connection", () => {
      const told = stepRelay(relayRules, onReconnected(confirmedOff), "off", 20_000).state;
      expect(onRelayReport(told, "on", 20_500).foreignSwitchings_monotonicMs).toEqual([]);
      expect(onRelayReport(onReconnected(confirmedOff), "on", 20_500).foreignSwitchings_monotonicMs).toEqual(
        [],
      );
    });

    it("does not count a late report of the ON before", () => {
      const on = play({ seconds: 10, want: always("on"), says: obedient }).state;
      const told = stepRelay(relayRules, on, "off", 10_000).state;
      expect(onRelayReport(told, "on", 10_200).foreignSwitchings_monotonicMs).toEqual([]);
    });
  });

  it("names the relay and what it does", () => {
    const { state } = play({ seconds: 20, want: always("on") });
    expect(describeRelayFault(relayRules, state)).toBe("relay outlet does not confirm on");
    expect(describeRelayFault(relayRules, initialRelayDriver)).toBeUndefined();
  });
});

describe("the relay's own timer", () => {
  it.each([
    { autoOff_s: 120, sent: ["0 on", "40 on", "80 on"], because: "a third of 120 s" },
    { autoOff_s: 300, sent: ["0 on", "100 on"], because: "a third of 300 s" },
    {
      autoOff_s: 10,
      sent: ["0 on", "4 on", "8 on", "12 on", "16 on"],
      because: "the first tick after a third of 10 s",
    },
    { autoOff_s: undefined, sent: ["0 on"], because: "it has none" },
  ])("is re-armed after $because", ({ autoOff_s, sent }) => {
    const rules = { ...relayRules, autoOff_s };
    const { sent: seen } = play({ rules, seconds: 120, want: always("on"), says: obedient });
    expect(seen.filter((line) => Number(line.split(" ")[0]) < (autoOff_s === 10 ? 20 : 120))).toEqual(sent);
  });

  it("is re-armed though the relay does not answer a repeated ON, where it cannot be asked", () => {
    const says: NonNullable<Play["says"]> = (second) => (second === 1 ? "on" : undefined);
    const { sent, faults } = play({ seconds: 3600, want: always("on"), says });
    expect(faults).toEqual([]);
    expect(sent).toHaveLength(90);
  });

  it("asks for a confirmation of each repeated ON, where the relay can be asked", () => {
    const rules = { ...relayRules, answersStatusQuery: true };
    const says: NonNullable<Play["says"]> = (second, sent, ago_s) =>
      second < 60 ? obedient(second, sent, ago_s) : undefined;
    const { sent, faults } = play({ rules, seconds: 100, want: always("on"), says });
    expect(sent).toEqual(["0 on", "40 on", "80 on", "85 on", "90 on", "95 on"]);
    expect(faults).toEqual(["95 does not confirm on"]);
  });
});

describe("a new connection", () => {
  const open = play({ seconds: 10, want: always("on"), says: obedient }).state;

  it("knows nothing of the old one", () => {
    const after = onReconnected(open);
    expect(after).toMatchObject({ commanded: undefined, reported: undefined });
    expect(isConfirmed(after)).toBe(false);
    expect(stepRelay(relayRules, after, "off", 10_000).send).toBe("off");
    expect(stepRelay(relayRules, after, "on", 10_000).send).toBe("on");
  });

  it("does not count as a drop what the relay did while nobody listened", () => {
    expect(onRelayReport(onReconnected(open), "off", 10_000).unexpectedDrops_monotonicMs).toEqual([]);
    expect(onRelayReport(open, "off", 10_000).unexpectedDrops_monotonicMs).toEqual([10_000]);
  });

  it("keeps a fault", () => {
    const faulty = play({ seconds: 20, want: always("off") }).state;
    expect(onReconnected(faulty).fault).toEqual(faulty.fault);
    expect(stepRelay(relayRules, onReconnected(faulty), "off", 20_000).state.fault).toEqual(faulty.fault);
  });
});
