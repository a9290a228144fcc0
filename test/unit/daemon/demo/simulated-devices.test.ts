import { Socket } from "node:net";
import { connectAsync, type MqttClient } from "mqtt";
import { afterEach, describe, expect, it } from "vitest";
import { createAcceleratedClock, type AcceleratedClock } from "../../../../daemon/demo/accelerated-clock.js";
import { createEmbeddedBroker, type EmbeddedBroker } from "../../../../daemon/demo/embedded-broker.js";
import { SelectorNotBuildableError } from "../../../../daemon/demo/payload-encoding.js";
import { createSimulatedDevices, type SimulatedDevices } from "../../../../daemon/demo/simulated-devices.js";
import type { RelayDescription, SiteDescription } from "../../../../daemon/demo/site-description.js";
import { NotSimulatedError } from "../../../../daemon/demo/site-physics.js";
import { createRandomSource } from "../../../../lib/simulation/random-source.js";
import type { SimulatedFault } from "../../../../lib/simulation/simulated-fault.js";

const none = { kind: "linear", gain: 1, offset: 0 } as const;
const relay: RelayDescription = {
  commandTopic: "relay/command",
  payloadOn: "ON",
  payloadOff: "OFF",
  payloadOnFor: '{"for": {seconds}}',
  stateTopic: "relay/state",
  stateValue: "$.state",
  stateOn: "ON",
  stateOff: "OFF",
  statusQuery: { topic: "relay/query", payload: "" },
  autoOff_s: 60,
  powerOnState: "off",
};
const site: SiteDescription = {
  sensors: {
    gauge: {
      measures: "pressure",
      unit: "psi",
      reference: "absolute",
      topic: "vessel/gauge",
      value: "$.gauge[1].reading",
      calibration: { kind: "linear", gain: 2, offset: -1 },
    },
    thermometer: {
      measures: "temperature",
      unit: "degF",
      topic: "vessel/thermometer",
      value: "/ambient/f",
      timestamp: "/at",
      calibration: none,
    },
    ph: {
      measures: "pH",
      topic: "loach/ph",
      calibration: {
        kind: "twoPoint",
        twoPoint: [
          { raw: 7.3, true: 7 },
          { raw: 4.1, true: 4 },
        ],
      },
    },
    "loach-temperature": {
      measures: "temperature",
      unit: "degC",
      topic: "loach/temperature",
      calibration: none,
    },
    scale: { measures: "mass", unit: "kg", topic: "vessel/scale", calibration: none },
    air: { measures: "co2InAir", topic: "room/air", value: "$.co2", calibration: none },
    "room-temperature": {
      measures: "temperature",
      unit: "K",
      topic: "room/air",
      value: "$.t",
      calibration: none,
    },
    bubbles: { measures: "bubbleRate", topic: "vessel/bubbles", calibration: none },
    "lost-probe": { measures: "pH", topic: "nowhere/ph", calibration: none },
  },
  vessels: {
    cellar: {
      kind: "generator",
      volume_L: 2,
      workingPressureGauge_bar: 2.5,
      pressureSensor: "gauge",
      temperatureSensor: "thermometer",
      charge: { sodiumBicarbonate_g: 100, citricAcidAnhydrous_g: 80, water_kg: 0.5, sealedAt_degC: 20 },
    },
  },
  tanks: { loach: { volume_L: 60, kh_dKH: 4, phSensor: "ph", temperatureSensor: "loach-temperature" } },
  valves: { outlet: { vessel: "cellar", feeds: [{ tank: "loach", share: 1 }], relay } },
};
const startAt_epochMs = Date.UTC(2026, 2, 2, 8);

interface Message {
  readonly topic: string;
  readonly text: string;
  readonly at_ms: number;
}

let broker: EmbeddedBroker | undefined;
let clock: AcceleratedClock | undefined;
let devices: SimulatedDevices | undefined;
let listener: MqttClient | undefined;
let heard: Message[] = [];

async function play(
  options: {
    readonly described?: SiteDescription;
    readonly faults?: readonly SimulatedFault[];
    readonly speed?: number;
  } = {},
): Promise<{ clock: AcceleratedClock; devices: SimulatedDevices; listener: MqttClient }> {
  broker = createEmbeddedBroker();
  const brokerAddress = await broker.start();
  const running = createAcceleratedClock({ startAt_epochMs, speed: options.speed ?? 200 });
  clock = running;
  running.start();
  listener = await connectAsync(brokerAddress, { protocolVersion: 4 });
  heard = [];
  listener.on("message", (topic, payload) =>
    heard.push({ topic, text: payload.toString(), at_ms: running.monotonic_ms() }),
  );
  await listener.subscribeAsync("#", { qos: 0 });
  devices = createSimulatedDevices({
    brokerAddress,
    site: options.described ?? site,
    clock: running,
    random: createRandomSource(11),
    startAt_epochMs,
    lightsOnAt: () => true,
    ...(options.faults === undefined ? {} : { faults: options.faults }),
  });
  await devices.start();
  return { clock: running, devices, listener };
}

const onTopic = (topic: string) => heard.filter((message) => message.topic === topic);
const states = () => onTopic("relay/state").map((m) => (JSON.parse(m.text) as { state: string }).state);

async function until(condition: () => boolean): Promise<void> {
  const giveUpAt = performance.now() + 10_000;
  while (!condition()) {
    if (performance.now() > giveUpAt)
      throw new Error(`not in time; heard: ${JSON.stringify(heard.slice(-5))}`);
    await new Promise((resolve) => setTimeout(resolve, 2));
  }
}

afterEach(async () => {
  await devices?.stop();
  await listener?.endAsync(true);
  clock?.stop();
  await broker?.stop();
});

describe("the simulated sensors", () => {
  it("send each value in the unit, form and miscalibration of their configuration", async () => {
    await play();
    await until(() => onTopic("vessel/bubbles").length >= 3 && onTopic("room/air").length >= 3);
    const { vessels, tanks, room_degC } = devices!.truth();
    const json = (topic: string) => JSON.parse(onTopic(topic)[1]!.text) as Record<string, unknown>;

    const gauge = json("vessel/gauge") as { gauge: [null, { reading: number }] };
    const psiAbsolute = gauge.gauge[1].reading * 2 - 1;
    const gauge_bar = (psiAbsolute * 6894.757) / 1e5 - 1.01325;
    expect(Math.abs(gauge_bar - vessels["cellar"]!.pressureGauge_bar)).toBeLessThan(0.1);

    const thermometer = json("vessel/thermometer") as { ambient: { f: number }; at: string };
    expect(Math.abs((thermometer.ambient.f - 32) / 1.8 - vessels["cellar"]!.contents_degC)).toBeLessThan(0.3);
    expect(Date.parse(thermometer.at) - startAt_epochMs).toBeGreaterThanOrEqual(0);
    expect(Date.parse(thermometer.at) - startAt_epochMs).toBeLessThan(60_000);

    // About 5 mg/L of CO2 at 4 dKH and 25 degC: pK1' 6.32 + log10(1.43 / 0.114) = 7.42.
    const pH = 7 + (Number(onTopic("loach/ph")[1]!.text) - 7.3) * (3 / 3.2);
    expect(Math.abs(pH - 7.42)).toBeLessThan(0.06);
    const tank_degC = Number(onTopic("loach/temperature")[1]!.text);
    expect(Math.abs(tank_degC - tanks["loach"]!.temperature_degC)).toBeLessThan(0.4);
    expect(
      Math.abs(Number(onTopic("vessel/scale")[1]!.text) - vessels["cellar"]!.mass_g / 1000),
    ).toBeLessThan(0.005);
    expect(onTopic("vessel/bubbles")[1]!.text).toMatch(/^-?\d(\.\d)?$/);
    const air = json("room/air") as { co2: number; t: number };
    expect(Math.abs(air.co2 - 650)).toBeLessThan(50);
    expect(Math.abs(air.t - 273.15 - room_degC)).toBeLessThan(0.5);
    expect(onTopic("nowhere/ph")).toEqual([]);
  });

  it("send every ten simulated seconds", async () => {
    await play();
    await until(() => onTopic("loach/temperature").length >= 12);
    const times = onTopic("loach/temperature").map((m) => m.at_ms);
    const mean_ms = (times[11]! - times[1]!) / 10;
    expect(mean_ms).toBeGreaterThan(9000);
    expect(mean_ms).toBeLessThan(12_500);
  });

  it("fall silent and get stuck when they are told to, alone of all", async () => {
    const from: SimulatedFault = { kind: "sensor-silent", sensorId: "ph", onset_epochMs: startAt_epochMs };
    const stuck: SimulatedFault = { kind: "sensor-stuck", sensorId: "scale", onset_epochMs: startAt_epochMs };
    await play({ faults: [from, stuck] });
    await until(() => onTopic("vessel/scale").length >= 10 && onTopic("loach/temperature").length >= 10);
    expect(onTopic("loach/ph")).toEqual([]);
    expect(new Set(onTopic("vessel/scale").map((m) => m.text)).size).toBe(1);
    devices!.setFaults([]);
    await until(() => onTopic("loach/ph").length > 0);
  });
});

describe("the simulated relays", () => {
  it("report themselves on joining, obey, confirm, answer a question, and switch themselves off", async () => {
    const { listener: client } = await play({ speed: 60 });
    await until(() => states().length >= 1);
    await client.publishAsync("relay/command", "ON", { qos: 1 });
    await until(() => states().length >= 2);
    expect(devices!.contactClosed()).toEqual({ outlet: true });
    await client.publishAsync("relay/query", "", { qos: 0 });
    await until(() => states().length >= 3);
    await until(() => states().length >= 4);
    const [, on, , off] = onTopic("relay/state").map((m) => m.at_ms);
    expect(states()).toEqual(["OFF", "ON", "ON", "OFF"]);
    expect(off! - on!).toBeGreaterThan(57_000);
    expect(off! - on!).toBeLessThan(66_000);
  });

  it("confirm within a few seconds of fast time, since no packet waits for company", async () => {
    const { clock: running, listener: client } = await play({ speed: 300 });
    if (client.stream instanceof Socket) client.stream.setNoDelay(true);
    const taken_ms: number[] = [];
    for (let trial = 0; trial < 9; trial += 1) {
      const before = states().length;
      const sentAt_ms = running.monotonic_ms();
      client.publish("relay/command", "OFF");
      await until(() => states().length > before);
      taken_ms.push(onTopic("relay/state").at(-1)!.at_ms - sentAt_ms);
    }
    const median_ms = taken_ms.sort((a, b) => a - b)[4]!;
    expect(median_ms).toBeLessThan(4000);
  });

  it("let gas flow while on: CO2 rises, pressure falls, bubbles count", async () => {
    const { clock: running, listener: client } = await play({ speed: 1000 });
    const before = devices!.truth();
    const abort = new AbortController();
    const armed = (async () => {
      while (!abort.signal.aborted) {
        client.publish("relay/command", "ON");
        await running.sleep(30_000, abort.signal);
      }
    })();
    await until(() => devices!.truth().at_epochMs > startAt_epochMs + 1_800_000);
    abort.abort();
    await armed;
    const after = devices!.truth();
    expect(after.tanks["loach"]!.co2_mgPerL).toBeGreaterThan(before.tanks["loach"]!.co2_mgPerL + 1);
    expect(after.delivered["outlet"]!.co2_mol).toBeGreaterThan(0);
    expect(Number(onTopic("vessel/bubbles").at(-1)!.text)).toBeGreaterThan(20);
  });

  it("stay on and say off when their contact is welded", async () => {
    const { listener: client } = await play();
    await client.publishAsync("relay/command", "ON", { qos: 1 });
    await until(() => states().includes("ON"));
    devices!.setFaults([
      { kind: "relay-welded", relayId: "outlet", reports: "coil", onset_epochMs: startAt_epochMs },
    ]);
    await client.publishAsync("relay/command", "OFF", { qos: 1 });
    await until(() => states().at(-1) === "OFF");
    expect(devices!.contactClosed()).toEqual({ outlet: true });
  });

  it("open the line only together with the second valve in series, and run the pump when its relay drops", async () => {
    const valve = {
      ...site.valves["outlet"]!,
      seriesRelay: { ...relay, commandTopic: "series/command", stateTopic: "series/state" },
      airPump: { ...relay, commandTopic: "pump/command", stateTopic: "pump/state" },
    };
    const { listener: client } = await play({
      described: { ...site, valves: { outlet: { ...valve } } },
      speed: 20,
    });
    await client.publishAsync("relay/command", "ON", { qos: 1 });
    await until(() => devices!.contactClosed()["outlet"] === true);
    const co2_mgPerL = devices!.truth().tanks["loach"]!.co2_mgPerL;
    await until(() => devices!.truth().at_epochMs > startAt_epochMs + 5_000);
    expect(devices!.truth().delivered["outlet"]!.co2_mol).toBe(0);
    expect(devices!.truth().tanks["loach"]!.co2_mgPerL).toBeLessThan(co2_mgPerL);
    await client.publishAsync("series/command", "ON", { qos: 1 });
    await until(() => devices!.truth().delivered["outlet"]!.co2_mol > 0);
    expect(devices!.contactClosed()).toEqual({
      outlet: true,
      "outlet-series": true,
      "outlet-air-pump": false,
    });
  });
});

describe("a site that cannot be played", () => {
  const build = (described: SiteDescription) => () =>
    createSimulatedDevices({
      brokerAddress: "mqtt://127.0.0.1:1",
      site: described,
      clock: createAcceleratedClock({ startAt_epochMs, speed: 1 }),
      random: createRandomSource(1),
      startAt_epochMs,
      lightsOnAt: () => false,
    });

  it("is refused before anything is connected", () => {
    const gauge = site.sensors["gauge"]!;
    expect(build({ ...site, sensors: { gauge: { ...gauge, value: "$..reading" } } })).toThrow(
      SelectorNotBuildableError,
    );
    const liquid = { ...site.vessels["cellar"]!, kind: "liquid" as const };
    expect(build({ ...site, vessels: { cellar: liquid } })).toThrow(NotSimulatedError);
  });

  it("stops cleanly without a broker", async () => {
    const alone = build(site)();
    void alone.start();
    await alone.stop();
  });
});
