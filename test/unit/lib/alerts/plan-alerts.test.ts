import { describe, expect, it } from "vitest";
import type { AlarmCondition } from "../../../../lib/alarm/alarm-condition.js";
import { actOnAlarm } from "../../../../lib/alarm/alarm-actions.js";
import { stepAlarms, type TrackedAlarm } from "../../../../lib/alarm/alarm-step.js";
import type { AlertRoute } from "../../../../lib/alerts/alert-route.js";
import { placeholderValues } from "../../../../lib/alerts/alert-message.js";
import { emptyAlertMemory, planAlerts, type AlertMemory } from "../../../../lib/alerts/plan-alerts.js";

const condition = (alarmId: string, changed: Partial<AlarmCondition> = {}): AlarmCondition => ({
  alarmId,
  priority: "high",
  subjects: [],
  cause: "why",
  consequence: "what follows",
  whatToDo: "what to do",
  allowableResponse_min: 60,
  onDelay_s: 0,
  offDelay_s: 0,
  suppressedBy: [],
  latch: "none",
  ...changed,
});

const route: AlertRoute = {
  channels: ["phone"],
  priorities: ["critical", "high", "medium", "low"],
  subjects: [],
  groupWithin_s: 30,
  repeatAfter_min: 60,
  tellsReturn: true,
  quietHours: undefined,
  escalation: undefined,
};

/** What happens in one house to alarms and messages, minute by minute or second by second. */
class House {
  alarms: readonly TrackedAlarm[] = [];
  memory: AlertMemory = emptyAlertMemory;
  holding: readonly AlarmCondition[] = [];
  readonly said: string[] = [];
  readonly texts: unknown[] = [];
  undelivered: ReadonlySet<string> = new Set();
  routes: readonly AlertRoute[];
  now_epochMs: number;
  #elapsed_ms = 0;

  constructor(routes: readonly AlertRoute[], startAt: string) {
    this.routes = routes;
    this.now_epochMs = Date.parse(startAt);
  }

  /** Goes on for so long, in steps; the daemon is asked at each. */
  go(duration_s: number, step_s = 1): this {
    for (let gone_s = 0; gone_s < duration_s; gone_s += step_s) {
      this.#look();
      this.#elapsed_ms += step_s * 1000;
      this.now_epochMs += step_s * 1000;
    }
    return this;
  }

  hold(...holding: readonly AlarmCondition[]): this {
    this.holding = holding;
    return this;
  }

  acknowledge(alarmId: string): this {
    const now = { now_epochMs: this.now_epochMs, now_monotonicMs: this.#elapsed_ms };
    this.alarms = stepAlarms(this.alarms, this.holding, now).alarms;
    const outcome = actOnAlarm(this.alarms, alarmId, { kind: "acknowledge" }, now);
    if (outcome.kind === "refused") throw new Error(outcome.reason);
    this.alarms = outcome.alarms;
    return this;
  }

  #look(): void {
    const now = { now_epochMs: this.now_epochMs, now_monotonicMs: this.#elapsed_ms };
    this.alarms = stepAlarms(this.alarms, this.holding, now).alarms;
    const plan = planAlerts(this.alarms, this.memory, {
      routes: this.routes,
      timeZone: "Europe/Berlin",
      now_epochMs: this.now_epochMs,
      undelivered: this.undelivered,
    });
    // What is kept on disk is what a restart goes on from.
    this.memory = JSON.parse(JSON.stringify(plan.memory)) as AlertMemory;
    for (const message of plan.messages) {
      const { channel, notices } = message;
      this.texts.push(placeholderValues(message, { id: "site", timeZone: "Europe/Berlin", key: "k" }).text);
      const told = notices.map(({ notice, alarmId }) => `${notice} ${alarmId}`).join(" + ");
      this.said.push(`${new Date(this.now_epochMs).toISOString().slice(11, 19)} ${channel}: ${told}`);
    }
  }
}

const a = condition("a");
const b = condition("b", { priority: "medium" });
const critical = condition("c", { priority: "critical" });
const at = "2026-05-04T10:00:00Z";

describe("planAlerts", () => {
  it("tells the time there is in days where it is days", () => {
    const slow = condition("slow", { allowableResponse_min: 10_080 });
    const [text] = new House([route], at).hold(slow).go(60).texts;
    expect(text).toContain("Time to respond: 7 days");
  });

  it("waits for what else comes within the group's time, then tells all in one message", () => {
    const house = new House([route], at).hold(a).go(10).hold(a, b).go(100);
    expect(house.said).toEqual(["10:00:30 phone: raised a + raised b"]);
  });

  it.each([
    { acknowledges: false, because: "nobody had seen it" },
    { acknowledges: true, because: "a person had seen it" },
  ])(
    "tells an alarm that a worse one silenced as overtaken, never as normal, where $because",
    ({ acknowledges }) => {
      const expected = condition("surge-expected", { suppressedBy: ["surge-now"] });
      const now = condition("surge-now");
      const house = new House([{ ...route, repeatAfter_min: undefined }], at).hold(expected).go(60);
      if (acknowledges) house.acknowledge("surge-expected");
      house.hold(expected, now).go(60).hold(now).go(300).hold().go(300);
      expect(house.said).toEqual([
        "10:00:30 phone: raised surge-expected",
        "10:01:30 phone: raised surge-now",
        expect.stringContaining("returned surge-now"),
        expect.stringContaining("overtaken surge-expected"),
      ]);
      expect(house.texts.at(-1)).toMatch(/^overtaken by surge-now, since /);
    },
  );

  it("tells an alarm as returned that called again after it had been silenced", () => {
    const expected = condition("surge-expected", { suppressedBy: ["surge-now"] });
    const house = new House([{ ...route, repeatAfter_min: undefined }], at).hold(expected).go(60);
    house.hold(expected, condition("surge-now")).go(60).hold(expected).go(300).hold().go(120);
    expect(house.said.at(-1)).toContain("returned surge-expected");
  });

  it("tells something critical at once, with what waits", () => {
    const house = new House([route], at).hold(a).go(10).hold(a, critical).go(100);
    expect(house.said).toEqual(["10:00:10 phone: raised c + raised a"]);
  });

  it("makes two messages of a flood of fifty critical alarms in ten seconds, and loses none", () => {
    const house = new House([route], at);
    for (let second = 0; second < 10; second += 1) {
      const raised = Array.from({ length: (second + 1) * 5 }, (_, n) =>
        condition(`c${n}`, { priority: "critical" }),
      );
      house.hold(...raised).go(1);
    }
    house.go(100);
    expect(house.said.map((line) => [line.slice(0, 8), line.match(/raised/g)!.length])).toEqual([
      ["10:00:00", 5],
      ["10:00:30", 45],
    ]);
  });

  it("says nothing of what was acknowledged, or went and was not critical, before it was told", () => {
    const house = new House([route], at).hold(a, b).go(5).acknowledge("a").hold(a).go(100);
    expect(house.said).toEqual([]);
  });

  it("tells of something critical even when it goes within the group's time", () => {
    const house = new House([route], at)
      .hold(critical)
      .go(5)
      .hold(critical, condition("d", { priority: "critical" }));
    house.go(5).hold(critical).go(60);
    expect(house.said).toEqual([
      "10:00:00 phone: raised c",
      "10:00:30 phone: raised d",
      "10:01:00 phone: returned d",
    ]);
  });

  it("repeats while nobody has acknowledged, and stops when somebody has", () => {
    const house = new House([route], at)
      .hold(a)
      .go(2.5 * 3600, 30)
      .acknowledge("a")
      .go(86_400, 30);
    expect(house.said).toEqual([
      "10:00:30 phone: raised a",
      "11:00:30 phone: repeated a",
      "12:00:30 phone: repeated a",
    ]);
  });

  it("repeats nothing while earlier messages wait to be delivered, and then once", () => {
    const house = new House([route], at).hold(a).go(60);
    house.undelivered = new Set(["phone"]);
    house.go(86_400, 60);
    house.undelivered = new Set();
    house.go(300, 60);
    expect(house.said).toHaveLength(2);
  });

  it("tells once that it is over, acknowledged or not, unless the route is not to", () => {
    const house = new House([route], at).hold(a).go(60).hold().go(7200, 10);
    expect(house.said).toEqual(["10:00:30 phone: raised a", "10:01:30 phone: returned a"]);
    const silent = new House([{ ...route, tellsReturn: false }], at).hold(a).go(60).hold().go(7200, 10);
    expect(silent.said).toEqual(["10:00:30 phone: raised a"]);
    silent.acknowledge("a").go(10);
    expect(silent.memory.told).toEqual([]);
  });

  it("tells an alarm that comes and goes all day, unseen, once in each repeat interval", () => {
    const house = new House([route], at);
    for (let minute = 0; minute < 180; minute += 2) house.hold(a).go(60, 10).hold().go(60, 10);
    expect(house.said.filter((line) => !line.includes("returned")).length).toBeLessThanOrEqual(4);
    expect(house.said.filter((line) => line.includes("returned")).length).toBeLessThanOrEqual(4);
  });

  it("tells it anew when a person had acknowledged it before", () => {
    const house = new House([route], at).hold(a).go(60).acknowledge("a").go(5).hold().go(60).hold(a).go(60);
    expect(house.said.filter((line) => line.includes("raised"))).toHaveLength(2);
  });

  describe("of an alarm that comes back after a person has seen it", () => {
    const once = { ...route, groupWithin_s: 0, repeatAfter_min: undefined, tellsReturn: false };
    const toldAt = (house: House, alarmId: string): readonly string[] =>
      house.said.filter((line) => line.includes(`raised ${alarmId}`)).map((line) => line.slice(0, 8));
    /** Raised at 10:00, acknowledged a minute later, gone at 10:02, back at 10:03. */
    const back = (changed: Partial<AlarmCondition>): House => {
      const alarm = condition("x", changed);
      return new House([once], at).hold(alarm).go(60).acknowledge("x").go(60).hold().go(60).hold(alarm);
    };

    it.each<{ because: string; changed: Partial<AlarmCondition>; again: string }>([
      {
        because: "something critical calls each time",
        changed: { priority: "critical" },
        again: "10:03:00",
      },
      { because: "something high does", changed: { priority: "high" }, again: "10:03:00" },
      {
        because: "a medium one may chatter, for 10 min at most",
        changed: { priority: "medium" },
        again: "10:12:00",
      },
      { because: "so may a low one", changed: { priority: "low" }, again: "10:12:00" },
      {
        because: "it never waits longer than a quarter of the time that there is",
        changed: { priority: "medium", allowableResponse_min: 20 },
        again: "10:07:00",
      },
    ])("calls again at $again where $because", ({ changed, again }) => {
      expect(toldAt(back(changed).go(1200), "x")).toEqual(["10:00:00", again]);
    });

    it("calls at once where it has become urgent", () => {
      const house = back({ priority: "low" }).go(60);
      house.hold(condition("x", { priority: "critical" })).go(60);
      expect(toldAt(house, "x")).toEqual(["10:00:00", "10:04:00"]);
    });

    it.each([
      { because: "while it stands", holds: true },
      { because: "when it has gone", holds: false },
    ])("calls every ten minutes while it chatters and each call is acknowledged $because", ({ holds }) => {
      const low = condition("x", { priority: "low" });
      const house = new House([once], at);
      for (let minute = 0, answered = 0; minute < 120; minute += 1) {
        house.hold(low).go(20, 5);
        if (!holds) house.hold().go(10, 5);
        if (house.said.length > answered) house.acknowledge("x");
        answered = house.said.length;
        house.hold().go(holds ? 40 : 30, 5);
      }
      const calls = toldAt(house, "x").map((time) => Date.parse(`2026-05-04T${time}Z`));
      const pauses_min = calls.slice(1).map((call, index) => (call - calls[index]!) / 60_000);
      expect(pauses_min.length).toBeGreaterThanOrEqual(10);
      expect(Math.min(...pauses_min)).toBeGreaterThanOrEqual(10);
      expect(Math.max(...pauses_min)).toBeLessThanOrEqual(12);
    });

    it("does not chatter with the cause that silences it, though it is high", () => {
      const cause = condition("cause");
      const follows = condition("x", { suppressedBy: ["cause"] });
      const house = new House([once], at).hold(follows).go(60, 5).acknowledge("x");
      for (let round = 0; round < 5; round += 1) {
        house.hold(follows, cause).go(10, 5).hold(cause).go(10, 5).hold().go(70, 5).hold(follows).go(10, 5);
        if (house.alarms.some(({ state }) => state === "unacknowledged")) house.acknowledge("x");
      }
      expect(toldAt(house, "x")).toEqual(["10:00:00"]);
    });

    it("says no return of what it did not tell", () => {
      const low = condition("x", { priority: "low" });
      const house = new House([{ ...once, tellsReturn: true }], at).hold(low).go(60).acknowledge("x");
      for (let round = 0; round < 5; round += 1) house.hold().go(30, 5).hold(low).go(30, 5);
      expect(house.said).toEqual(["10:00:00 phone: raised x", "10:01:00 phone: returned x"]);
    });
  });

  it("tells others when nobody has acknowledged in time, once, and repeats to them too", () => {
    const house = new House([{ ...route, escalation: { after_min: 15, channels: ["mail"] } }], at);
    house.hold(critical).go(7200, 60);
    expect(house.said).toEqual([
      "10:00:00 phone: raised c",
      "10:15:00 mail: escalated c",
      "11:00:00 phone: repeated c",
      "11:00:00 mail: repeated c",
    ]);
  });

  it("does not escalate what was acknowledged or has returned", () => {
    const escalating = { ...route, escalation: { after_min: 15, channels: ["mail"] } };
    const seen = new House([escalating], at).hold(critical).go(60).acknowledge("c").go(3600, 60);
    const gone = new House([escalating], at).hold(critical).go(60).hold().go(3600, 60);
    expect([...seen.said, ...gone.said].filter((line) => line.includes("mail"))).toEqual([]);
  });

  it("tells again when what was told becomes more urgent, acknowledged or not", () => {
    const house = new House([route], at).hold(a).go(60).acknowledge("a").go(5);
    house.hold(condition("a", { priority: "critical" })).go(60);
    expect(house.said).toEqual(["10:00:30 phone: raised a", "10:01:05 phone: raised a"]);
  });

  it("takes the first route that fits, by priority and subject", () => {
    const routes: readonly AlertRoute[] = [
      { ...route, channels: ["shrimp-keeper"], subjects: [{ kind: "tank", id: "shrimp" }] },
      { ...route, channels: ["phone", "bus"], priorities: ["critical", "high"] },
    ];
    const house = new House(routes, at);
    house.hold(a, b, condition("s", { subjects: [{ kind: "tank", id: "shrimp" }], priority: "low" })).go(60);
    expect(house.said).toEqual([
      "10:00:30 phone: raised a",
      "10:00:30 bus: raised a",
      "10:00:30 shrimp-keeper: raised s",
    ]);
  });

  it("goes on after a restart with its memory as if nothing had been, and tells nothing twice", () => {
    const house = new House([route], at).hold(a, critical).go(60);
    const before = house.said.length;
    house.memory = JSON.parse(JSON.stringify(house.memory)) as AlertMemory;
    house.go(600);
    expect(house.said).toHaveLength(before);
  });

  it("is not held up by a clock that is put back a day", () => {
    const house = new House([route], at).hold(a).go(60);
    house.now_epochMs -= 86_400_000;
    house.go(3700, 10);
    expect(house.said).toEqual(["10:00:30 phone: raised a", "11:01:00 phone: repeated a"]);
  });
});

describe("quiet hours", () => {
  const nightly: AlertRoute = { ...route, quietHours: { from: "22:00", to: "07:00" }, repeatAfter_min: 240 };

  it("hold what is not critical, and tell it in one message at their end", () => {
    const house = new House([nightly], "2026-05-04T20:30:00Z")
      .hold(a)
      .go(3600, 60)
      .hold(a, b)
      .go(9 * 3600, 60);
    expect(house.said).toEqual(["05:00:00 phone: raised a + raised b"]);
  });

  it("never hold what is critical, nor its repetition", () => {
    const house = new House([nightly], "2026-05-04T20:30:00Z").hold(critical).go(5 * 3600, 60);
    expect(house.said).toEqual(["20:30:00 phone: raised c", "00:30:00 phone: repeated c"]);
  });

  it("forget what is over or was acknowledged by their end", () => {
    const house = new House([nightly], "2026-05-04T20:30:00Z").hold(a, b).go(3600, 60).acknowledge("a");
    house.hold(a).go(12 * 3600, 60);
    expect(house.said).toEqual([]);
  });

  // 2026-03-29 and 2026-10-25 in Europe/Berlin: the wall clock goes from 02:00 to 03:00, and from 03:00 to 02:00. [IANAtz]
  it.each([
    { because: "in a night that loses an hour", startAt: "2026-03-28T22:00:00Z", ends: "05:00:00" },
    { because: "in a night that gains one", startAt: "2026-10-24T22:00:00Z", ends: "06:00:00" },
  ])("end by the clock on the wall $because", ({ startAt, ends }) => {
    const house = new House([nightly], startAt).hold(a).go(12 * 3600, 60);
    expect(house.said[0]).toBe(`${ends} phone: raised a`);
  });
});
