import { describe, expect, it } from "vitest";
import type { AlertMessage } from "../../lib/alerts/alert-message.js";
import type { AlertRoute } from "../../lib/alerts/alert-route.js";
import { emptyAlertMemory, planAlerts, type AlertMemory } from "../../lib/alerts/plan-alerts.js";
import { ControlBench } from "../support/control-bench.js";

/**
 * What one person is sent when everything fails at once, in a home of three vessels and six tanks. The measure: after an upset
 * more than ten alarms in ten minutes are more than one person can look after [EEMUA 191; ANSI/ISA-18.2-2016, which calls that
 * a flood], from memory. Here a message counts as one call, however many alarms it tells of.
 */
const mostInTenMinutes = 10;
const lanes = [1, 2, 3] as const;
const tanks = lanes.flatMap((lane) => [`${lane}a`, `${lane}b`]);

const yaml = `
site: { id: mill-pond, timeZone: Europe/Berlin }
broker: { addresses: ["mqtt://127.0.0.1:1883"] }
sensors:
${tanks
  .map(
    (tank) => `  ph-${tank}: { measures: pH, topic: ph/${tank}, maximumAge_s: 120 }
  warmth-${tank}: { measures: temperature, unit: degC, topic: warmth/${tank}, maximumAge_s: 300 }`,
  )
  .join("\n")}
${lanes
  .map(
    (lane) => `  gauge-${lane}: { measures: pressure, unit: bar, reference: gauge, topic: gauge/${lane} }
  air-${lane}: { measures: co2InAir, topic: air/${lane} }`,
  )
  .join("\n")}
vessels:
${lanes
  .map(
    (lane) =>
      `  vessel-${lane}: { kind: generator, volume_L: 2, workingPressureGauge_bar: 3, pressureSensor: gauge-${lane}, roomCo2Sensor: air-${lane} }`,
  )
  .join("\n")}
tanks:
${tanks
  .map(
    (tank) =>
      `  tank-${tank}: { volume_L: 120, kh_dKH: 4, phSensor: ph-${tank}, temperatureSensor: warmth-${tank}, photoperiods: [{ lightsOn: "10:00", lightsOff: "19:00" }] }`,
  )
  .join("\n")}
valves:
${lanes
  .map(
    (lane) => `  valve-${lane}:
    vessel: vessel-${lane}
    feeds: [{ tank: tank-${lane}a, share: 0.5 }, { tank: tank-${lane}b, share: 0.5 }]
    guardSensors: [ph-${lane}a, ph-${lane}b]
    relay: { commandTopic: relay/${lane}/command, stateTopic: relay/${lane}/state, payloadOn: "ON", payloadOff: "OFF", stateOn: "ON", stateOff: "OFF", autoOff_s: 120, powerOnState: off }`,
  )
  .join("\n")}
`;

/** As the config has it where nothing is said, but for the repetition, which it leaves off. */
const route: AlertRoute = {
  channels: ["phone"],
  priorities: ["critical", "high", "medium", "low"],
  subjects: [],
  groupWithin_s: 30,
  repeatAfter_min: 15,
  tellsReturn: true,
  quietHours: undefined,
  escalation: undefined,
};

class Home {
  readonly bench: ControlBench;
  readonly messages: AlertMessage[] = [];
  #memory: AlertMemory = emptyAlertMemory;

  constructor() {
    this.bench = new ControlBench({ yaml, startAt: "2026-05-04T09:00:00Z" });
    let beat = 0;
    this.bench.sensors.clear();
    const say = (topic: string, text: () => string): unknown => this.bench.sensors.set(topic, text);
    for (const tank of tanks) {
      say(`ph/${tank}`, () => (6.8 + 0.001 * (beat++ % 7)).toFixed(3));
      say(`warmth/${tank}`, () => "24.5");
    }
    for (const lane of lanes) {
      say(`gauge/${lane}`, () => "12");
      say(`air/${lane}`, () => "700");
    }
  }

  async run(duration_s: number): Promise<void> {
    await this.bench.seconds(duration_s, () => {
      const planned = planAlerts(this.bench.status.alarms, this.#memory, {
        routes: [route],
        timeZone: "Europe/Berlin",
        now_epochMs: this.bench.clock.now_epochMs(),
        undelivered: new Set(),
      });
      this.#memory = planned.memory;
      this.messages.push(...planned.messages);
    });
  }

  /** Most messages in any ten minutes. */
  mostInTenMinutes(): number {
    return Math.max(
      0,
      ...this.messages.map(
        ({ at_epochMs: from }) =>
          this.messages.filter(({ at_epochMs }) => at_epochMs >= from && at_epochMs < from + 600_000).length,
      ),
    );
  }

  /** Seconds from an instant until the person was told of an alarm; undefined: never. */
  toldAfter_s(from_epochMs: number, alarmId: string): number | undefined {
    const message = this.messages.find(({ notices }) =>
      notices.some((notice) => notice.alarmId === alarmId && notice.notice === "raised"),
    );
    return message === undefined ? undefined : (message.at_epochMs - from_epochMs) / 1000;
  }
}

async function dosingHome(): Promise<Home> {
  const home = new Home();
  await home.bench.start();
  await home.run(60);
  expect([...home.bench.relays.values()].every((relay) => relay.isOn())).toBe(true);
  expect(home.messages).toEqual([]);
  return home;
}

function everythingFails(home: Home, withBroker: boolean): number {
  home.bench.sensors.clear();
  // They go off when told, and nobody hears of it.
  for (const relay of home.bench.relays.values()) relay.misbehave("silent");
  home.bench.run.store.fail("database or disk is full", home.bench.clock.monotonic_ms());
  if (withBroker) home.bench.run.bus.dropConnection("no route");
  return home.bench.clock.now_epochMs();
}

describe("everything fails at once", () => {
  it("with the broker lost, a person is told of two causes, not of what they bring about", async () => {
    const home = await dosingHome();
    everythingFails(home, true);
    await home.run(330);
    expect(home.messages.map(({ notices }) => notices.map(({ alarmId }) => alarmId))).toEqual([
      ["store", "broker"],
    ]);
    const silenced = home.bench.status.alarms.filter(({ state }) => state === "suppressed by design");
    expect(silenced.length).toBeGreaterThan(10);

    // The broker is back and nothing else: now the rest calls, together.
    home.bench.run.bus.restoreConnection();
    await home.run(400);
    expect(home.mostInTenMinutes()).toBeLessThanOrEqual(mostInTenMinutes);
    for (const lane of lanes) expect(home.toldAfter_s(0, `relay/valve-${lane}`)).toBeDefined();
    for (const tank of tanks) expect(home.toldAfter_s(0, `guard-silent/ph-${tank}`)).toBeDefined();
  });

  it("with the broker there, a person gets a message for each kind of trouble, and what is critical at once", async () => {
    const home = await dosingHome();
    const from_epochMs = everythingFails(home, false);
    let critical_s: number | undefined;
    for (let second = 0; second < 1200 && critical_s === undefined; second += 1) {
      await home.run(1);
      const stands = home.bench.status.alarms.some(
        ({ condition, raised }) => raised && condition.priority === "critical",
      );
      if (stands) critical_s = (home.bench.clock.now_epochMs() - from_epochMs) / 1000;
    }
    await home.run(600);
    expect(home.mostInTenMinutes()).toBeLessThanOrEqual(5);
    for (const lane of lanes) {
      expect(home.toldAfter_s(from_epochMs, `relay/valve-${lane}`)).toBeLessThanOrEqual(
        (critical_s ?? 0) + 1,
      );
    }
    // Nothing is lost: what calls was told.
    const calling = home.bench.status.alarms.filter(({ state }) => state === "unacknowledged");
    expect(calling.length).toBeGreaterThan(15);
    for (const { condition } of calling) {
      expect(home.toldAfter_s(from_epochMs, condition.alarmId)).toBeDefined();
    }
  });
});

describe("a network that comes and goes three times a minute", () => {
  it("calls once, and again by the interval of its route alone", async () => {
    const home = await dosingHome();
    for (let round = 0; round < 40; round += 1) {
      home.bench.run.bus.dropConnection("no route");
      await home.run(12);
      home.bench.run.bus.restoreConnection();
      await home.run(8);
    }
    const raised = home.messages.filter(({ notices }) => notices.some(({ notice }) => notice === "raised"));
    expect(raised.length).toBeLessThanOrEqual(2);
    // A quarter of an hour: one message at its beginning, one that it seemed over, one repetition.
    expect(home.messages.length).toBeLessThanOrEqual(4);
  });
});
