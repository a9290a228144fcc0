import { describe, expect, it } from "vitest";
import {
  isConfirmedClosed,
  relaysOf,
  reportedState,
  stepValve,
  type ValveMemory,
  type ValveStepView,
} from "../../../../lib/control/control-step.js";
import { onRelayReport } from "../../../../lib/control/relay-driver.js";
import type { RelayRules, ValveRules } from "../../../../lib/control/valve-rules.js";
import { noMemory, relayRules, stepView, tankView, valveRules } from "../../../support/control-views.js";

const series: RelayRules = { ...relayRules, relayId: "outlet-series" };
const airPump: RelayRules = { ...relayRules, relayId: "outlet-air-pump" };
const threeRelays: ValveRules = { ...valveRules, gasRelays: [relayRules, series], airPumpRelay: airPump };
const outside = { kind: "closed", opens_epochMs: undefined } as const;

/** Steps once a second; trips latch and each relay reports what it was told. Returns the last step and all commands. */
function run(
  views: readonly Partial<ValveStepView>[],
  from: ValveMemory = noMemory,
): {
  readonly memory: ValveMemory;
  readonly commands: readonly string[];
  readonly last: ReturnType<typeof stepValve>;
} {
  let memory = from;
  let last: ReturnType<typeof stepValve> | undefined;
  const commands: string[] = [];
  views.forEach((changes, index) => {
    const trips = last?.trips ?? [];
    const view = stepView({ now_monotonicMs: 1_000_000 + index * 1000, trips, ...changes });
    last = stepValve(view, memory);
    memory = last.memory;
    for (const { relayId, command } of last.commands) {
      commands.push(`${index} ${relayId} ${command}`);
      memory = heard(memory, relayId, command, view.now_monotonicMs);
    }
  });
  return { memory, commands, last: last! };
}
function heard(
  memory: ValveMemory,
  relayId: string,
  says: "on" | "off",
  at_monotonicMs: number,
): ValveMemory {
  const relay = onRelayReport(memory.relays[relayId]!, says, at_monotonicMs);
  return { ...memory, relays: { ...memory.relays, [relayId]: relay } };
}

describe("stepValve", () => {
  it("opens every gas relay and holds the air pump while gas flows, and lets all go together", () => {
    const rules = threeRelays;
    const { commands } = run([{ rules, window: outside }, { rules }, { rules, window: outside }]);
    expect(commands).toEqual([
      "0 outlet off",
      "0 outlet-series off",
      "0 outlet-air-pump off",
      "1 outlet on",
      "1 outlet-series on",
      "1 outlet-air-pump on",
      "2 outlet off",
      "2 outlet-series off",
      "2 outlet-air-pump off",
    ]);
  });

  it.each([
    {
      because: "a guard is silent",
      change: { guards: [{ sensorId: "loach-ph", state: { kind: "never", lastRejection: undefined } }] },
      reason: "guard sensor silent: loach-ph has given no believable value yet",
      gist: "guard sensor silent",
    },
    {
      because: "it is held",
      change: { heldClosed: "the daemon ends" },
      reason: "the daemon ends",
      gist: "the daemon ends",
    },
    {
      because: "the window is over",
      change: { window: outside },
      reason: "outside the dosing window",
      gist: "outside the dosing window",
    },
    {
      because: "a person closes it",
      change: { override: { valveId: "outlet", action: "closed", source: "local", until_epochMs: Infinity } },
      reason: "closed by hand",
      gist: "closed by hand",
    },
    {
      because: "the store fails though a person wants it open",
      change: {
        store: { kind: "failing", reason: "disk full" },
        override: { valveId: "outlet", action: "open", source: "local", until_epochMs: Infinity },
      },
      reason: "store failing: disk full",
      gist: "store failing",
    },
  ] satisfies { because: string; change: Partial<ValveStepView>; reason: string; gist: string }[])(
    "closes, with the reason, when $because",
    ({ change, reason, gist }) => {
      const { commands, last } = run([{}, change]);
      expect(commands).toEqual(["0 outlet on", "1 outlet off"]);
      expect(last.decision).toMatchObject({ action: "closed", reason, gist });
    },
  );

  it("does not call it blocked when it is not wished open anyway", () => {
    const { decision } = run([{ window: outside, brokerConnected: false }]).last;
    expect(decision).toMatchObject({ action: "closed", reason: "outside the dosing window" });
    expect(decision.blocks.map((block) => block.rule)).toEqual(["broker lost"]);
  });

  it("commands nothing while the broker is away, and counts the time open on", () => {
    const { commands, last, memory } = run([{}, { brokerConnected: false }, { brokerConnected: false }]);
    expect(commands).toEqual(["0 outlet on"]);
    expect(last.decision).toMatchObject({ action: "closed", gist: "broker lost" });
    expect(memory.openSince_monotonicMs).toBe(1_000_000);
  });

  it("trips, closes in the same tick and stays closed once the cause is gone", () => {
    const acid = [{ ...tankView, pH: 5.9 }];
    const tripped = run([{}, { tanks: acid }]);
    expect(tripped.commands).toEqual(["0 outlet on", "1 outlet off"]);
    expect(tripped.last.trips).toMatchObject([
      { subject: { kind: "tank", id: "loach" }, cause: "pH below the floor" },
    ]);
    const after = run([{ trips: tripped.last.trips }], tripped.memory);
    expect(after.last.decision).toMatchObject({ action: "closed", gist: "tripped" });
    expect(after.last.standing).toEqual([]);
    expect(after.last.trips).toEqual(tripped.last.trips);
  });

  it("closes every valve that feeds a tripped tank", () => {
    const trips = run([{ tanks: [{ ...tankView, pH: 5.9 }] }]).last.trips;
    const other = { ...valveRules, valveId: "second", gasRelays: [{ ...relayRules, relayId: "second" }] };
    expect(run([{ rules: other, trips }]).last.decision.action).toBe("closed");
    const elsewhere = { ...other, tankIds: ["shrimp"] };
    const shrimp = { ...tankView, tankId: "shrimp" };
    expect(run([{ rules: elsewhere, tanks: [shrimp], trips }]).last.decision.action).toBe("open");
  });

  it("forbids re-arming while the probe that showed the cause is silent", () => {
    const { trips } = run([{ tanks: [{ ...tankView, pH: 5.9 }] }]).last;
    const silent = [{ ...tankView, pH: undefined, co2High80_mgPerL: undefined }];
    expect(run([{ tanks: silent, trips }]).last.standing).toEqual([
      {
        subject: { kind: "tank", id: "loach" },
        cause: "pH below the floor",
        reason: "the pH sensor of loach is silent",
      },
    ]);
  });

  it("closes after the longest time open, by the monotonic clock, and latches", () => {
    const rules = { ...valveRules, longestOpen_min: 1 };
    const { commands, last } = run(Array.from({ length: 63 }, () => ({ rules })));
    expect(commands.filter((line) => line.endsWith("off"))).toEqual(["61 outlet off"]);
    expect(last.trips).toMatchObject([
      { subject: { kind: "valve", id: "outlet" }, cause: "open for too long" },
    ]);
    expect(last.decision.gist).toBe("tripped");
  });

  it("does not trip a valve whose window is exactly as long as it may be open", () => {
    const rules = { ...valveRules, longestOpen_min: 1 };
    const views = Array.from({ length: 60 }, () => ({ rules }));
    const last = { rules, window: outside, now_monotonicMs: 1_000_000 + 60_040 };
    expect(run([...views, last]).last.trips).toEqual([]);
  });

  it("counts the time open from anew after a break", () => {
    const rules = { ...valveRules, longestOpen_min: 1 };
    const open = Array.from({ length: 40 }, () => ({ rules }));
    expect(run([...open, { rules, window: outside }, ...open]).last.trips).toEqual([]);
  });

  describe("after a broker that was lost while gas was on", () => {
    const rules = { ...valveRules, longestOpen_min: 6 };
    const open = Array.from({ length: 200 }, () => ({ rules }));
    const lost = (seconds: number) =>
      Array.from({ length: seconds }, () => ({ rules, brokerConnected: false }));

    it.each([
      { lost_s: 100, trips: true, because: "the relay has not dropped: its gas may have flown on" },
      { lost_s: 200, trips: false, because: "its own timer of 120 s has run out, with its tolerance" },
    ])("of $lost_s s the longest time open is reached: $trips, since $because", ({ lost_s, trips }) => {
      const { last } = run([...open, ...lost(lost_s), ...open]);
      expect(last.trips.map(({ cause }) => cause)).toEqual(trips ? ["open for too long"] : []);
    });

    it("a relay without a timer of its own never counts as dropped", () => {
      const forEver = { ...rules, gasRelays: [{ ...relayRules, autoOff_s: undefined }] };
      const views = [...open, ...lost(2000), ...open.slice(0, 3)].map((view) => ({
        ...view,
        rules: forEver,
      }));
      expect(run(views).last.trips).toMatchObject([{ cause: "open for too long" }]);
    });

    it("a relay that has reported off since it was told has had its break", () => {
      const { last } = run([...open, ...lost(50), { rules, window: outside }, ...open]);
      expect(last.trips).toEqual([]);
    });
  });

  describe("a closing that nobody wished", () => {
    const silent = {
      guards: [{ sensorId: "loach-ph", state: { kind: "stale", age_s: 121, lastRejection: undefined } }],
    } as const;
    const byHand = (end_min: number): Partial<ValveStepView> => ({
      override: {
        valveId: "outlet",
        action: "open",
        until_epochMs: Date.parse("2026-05-04T10:00:00Z") + end_min * 60_000,
        source: "local",
      },
    });
    const secondsClosed = (views: readonly Partial<ValveStepView>[]): number => {
      const { commands } = run(views);
      const [off, on] = commands.slice(1).map((line) => Number(line.split(" ")[0]));
      return Number(on) - Number(off);
    };
    const fromAfar = (action: "open" | "closed", end_min: number): Partial<ValveStepView> => ({
      override: { ...byHand(end_min).override!, action, source: "remote" },
    });
    const calm = Array.from({ length: 100 }, (): Partial<ValveStepView> => ({}));

    it("is followed by a minute of rest, which the reason counts down", () => {
      expect(secondsClosed([{}, silent, ...calm])).toBe(60);
      expect(run([{}, silent, ...calm.slice(0, 20)]).last.decision).toMatchObject({
        action: "closed",
        gist: "rests after a closing",
        reason: "rests after a closing: opens again in 40 s, so that the solenoid does not chatter",
      });
    });

    it("switches a relay at most once a minute while a guard comes and goes each second", () => {
      const flapping = Array.from({ length: 600 }, (_, index) => (index % 2 === 0 ? {} : silent));
      const { commands } = run(flapping);
      expect(commands.filter((line) => line.endsWith("on")).length).toBeLessThanOrEqual(10);
    });

    it("switches a relay at most three times a minute while a hub closes and opens the valve each second", () => {
      const loop = Array.from({ length: 600 }, (_, index) =>
        fromAfar(index % 2 === 0 ? "open" : "closed", 30 + index),
      );
      const { commands, last } = run(loop);
      expect(commands.filter((line) => line.endsWith("on")).length).toBeLessThanOrEqual(3 * 10);
      expect(last.decision.action).toBe("closed");
      expect(run([...loop.slice(0, 6), {}]).last.decision.gist).toBe("rests after a closing");
    });

    it.each<{ because: string; views: readonly Partial<ValveStepView>[]; closed_s: number }>([
      {
        because: "a person who sees it and wishes it open waits for nothing",
        views: [{}, silent, {}, ...calm.map(() => byHand(30))],
        closed_s: 2,
      },
      {
        because: "somebody far away who wishes it open has not seen it",
        views: [{}, silent, {}, ...calm.map(() => fromAfar("open", 30))],
        closed_s: 60,
      },
      {
        because: "nor the end of one from afar, as long as it is no loop",
        views: [{}, fromAfar("closed", 30), ...calm],
        closed_s: 1,
      },
      {
        because: "a person at the machine opens after a closing from afar",
        views: [{}, fromAfar("closed", 30), ...calm.map(() => byHand(30))],
        closed_s: 1,
      },
      {
        because: "a wish from before it does not make the solenoid chatter",
        views: [byHand(30), { ...silent, ...byHand(30) }, ...calm.map(() => byHand(30))],
        closed_s: 60,
      },
      {
        because: "the end of a closing by hand was no such closing",
        views: [{}, { override: { ...byHand(30).override!, action: "closed" } }, ...calm],
        closed_s: 1,
      },
      {
        because: "nor was the end of a trial",
        views: [{}, { heldClosed: "the relay is being tried by a person" }, ...calm],
        closed_s: 1,
      },
      {
        because: "nor is a window that closes and opens",
        views: [{}, { window: outside }, ...calm],
        closed_s: 1,
      },
    ])("keeps the valve closed for $closed_s s where $because", ({ views, closed_s }) => {
      expect(secondsClosed(views)).toBe(closed_s);
    });
  });

  it("stops trying a relay that does not confirm in the tick in which that is a fault, and sends OFF", () => {
    let memory = noMemory;
    const commands: string[] = [];
    for (let second = 0; second < 20; second += 1) {
      const step = stepValve(stepView({ now_monotonicMs: second * 1000 }), memory);
      memory = step.memory;
      commands.push(...step.commands.map(({ command }) => `${second} ${command}`));
    }
    expect(commands).toEqual(["0 on", "5 on", "10 on", "15 off"]);
  });

  it("closes both relays of a pair when one of them does not obey", () => {
    const rules = { ...threeRelays, airPumpRelay: undefined };
    let memory = noMemory;
    const off: string[] = [];
    for (let second = 0; second < 20; second += 1) {
      const step = stepValve(stepView({ rules, now_monotonicMs: second * 1000 }), memory);
      memory = step.memory;
      for (const { relayId, command } of step.commands) {
        if (command === "off") off.push(`${second} ${relayId}`);
        if (relayId === "outlet") memory = heard(memory, relayId, command, second * 1000);
      }
    }
    expect(off).toEqual(["15 outlet", "15 outlet-series"]);
  });

  it("does not stop gas for the relay of the air pump", () => {
    const rules = threeRelays;
    let memory = noMemory;
    for (let second = 0; second < 60; second += 1) {
      const step = stepValve(stepView({ rules, now_monotonicMs: second * 1000 }), memory);
      memory = step.memory;
      expect(step.decision.action).toBe("open");
      for (const { relayId, command } of step.commands) {
        if (relayId !== "outlet-air-pump") memory = heard(memory, relayId, command, second * 1000);
      }
    }
    expect(memory.relays["outlet-air-pump"]!.fault?.kind).toBe("does not confirm on");
  });

  it("lets a warm tank have gas again half a kelvin below its limit, not before", () => {
    const at = (temperature_degC: number | undefined) => ({ tanks: [{ ...tankView, temperature_degC }] });
    const forbidden = [29.9, 30.1, 29.8, undefined, 29.6, 29.5, 29.9].map((_, index, all) =>
      run(all.slice(0, index + 1).map(at)).last.decision.blocks.some(
        ({ rule }) => rule === "temperature above the limit",
      ),
    );
    expect(forbidden).toEqual([false, true, true, true, true, false, false]);
  });
});

describe("what the relays report", () => {
  const told = run([{ rules: threeRelays }]).memory;
  const say = (memory: ValveMemory, first: "on" | "off", second: "on" | "off"): ValveMemory =>
    heard(heard(memory, "outlet", first, 2_000_000), "outlet-series", second, 2_000_000);

  it.each([
    { first: "on", second: "on", state: "open" },
    { first: "on", second: "off", state: "closed" },
    { first: "off", second: "on", state: "closed" },
    { first: "off", second: "off", state: "closed" },
  ] as const)("is $state when the two say $first and $second", ({ first, second, state }) => {
    expect(reportedState(threeRelays, say(told, first, second))).toBe(state);
  });

  it("is unknown before they have spoken", () => {
    expect(reportedState(threeRelays, noMemory)).toBe("unknown");
  });

  it("is confirmed closed only when each gas relay reported off after it was told", () => {
    const off = run([{ rules: threeRelays, window: outside }]).memory;
    expect(isConfirmedClosed(threeRelays, off)).toBe(true);
    expect(isConfirmedClosed(threeRelays, heard(off, "outlet-series", "on", 2_000_000))).toBe(false);
    expect(isConfirmedClosed(threeRelays, heard(off, "outlet-air-pump", "on", 2_000_000))).toBe(true);
    expect(isConfirmedClosed(threeRelays, say(told, "off", "off"))).toBe(false);
    expect(isConfirmedClosed(threeRelays, noMemory)).toBe(false);
  });

  it("lists the gas relays first, then the air pump", () => {
    expect(relaysOf(threeRelays).map((relay) => relay.relayId)).toEqual([
      "outlet",
      "outlet-series",
      "outlet-air-pump",
    ]);
  });
});

describe("a charge at its end", () => {
  const now = Date.parse("2026-05-04T10:00:00Z");
  const ended = { endOfCharge: "below 2.6 bar: vessel cellar is at 2.5 bar; refill it" };
  const byHand = (source: "local" | "remote", until_min: number) => ({
    override: { valveId: "outlet", action: "open" as const, until_epochMs: now + until_min * 60_000, source },
  });

  it("holds the valve closed and says why", () => {
    const { last } = run([{}, ended]);
    expect(last.decision).toMatchObject({ action: "closed", gist: "end of charge" });
    expect(last.decision.reason).toContain("below 2.6 bar");
    expect(last.trips).toEqual([]);
  });

  it.each([
    {
      views: [{}, ended, { ...ended, ...byHand("local", 60) }],
      action: "open",
      because: "a person lets it off",
    },
    { views: [{}, ended, { ...ended, ...byHand("remote", 60) }], action: "closed", because: "a hub may not" },
    {
      views: [byHand("local", 60), { ...ended, ...byHand("local", 60) }],
      action: "closed",
      because: "that person did not know of it",
    },
    {
      views: [
        byHand("local", 60),
        { ...ended, ...byHand("local", 60) },
        { ...ended, ...byHand("local", 90) },
      ],
      action: "open",
      because: "the person has asked again",
    },
    {
      views: [{}, ended, { ...ended, ...byHand("local", 60), now_epochMs: now + 60 * 60_000 }],
      action: "closed",
      because: "its end has come",
    },
    {
      views: [{}, ended, { ...ended, ...byHand("local", 60), brokerConnected: false }],
      action: "closed",
      because: "every other rule stays",
    },
  ])("is $action, because $because", ({ views, action }) => {
    expect(run(views).last.decision.action).toBe(action);
  });

  it("opens in its window once the end is over", () => {
    const seconds = Array.from({ length: 70 }, () => ({}));
    expect(run([{}, ended, ...seconds]).last.decision.action).toBe("open");
  });
});
