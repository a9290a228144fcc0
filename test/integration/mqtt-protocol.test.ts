import { createServer } from "node:net";
import { Aedes } from "aedes";
import { afterEach, describe, expect, it, vi } from "vitest";
import { machineClock } from "../support/machine-clock.js";
import { describeMessageBus } from "../support/message-bus-contract.js";
import { connected, disconnectedBecause, MqttBench, mqttBusUnderTest } from "../support/mqtt-bench.js";
import { connackOf, disconnectWith, type BrokerScript } from "../support/scripted-broker.js";

const within = { timeout: 10_000, interval: 10 };
const bench = new MqttBench();
afterEach(() => bench.clear());

/** A broker that speaks 3.1.1 only. */
async function startAedes(): Promise<{
  readonly port: number;
  close(): Promise<void>;
  readonly aedes: Aedes;
}> {
  const aedes = await Aedes.createBroker();
  const server = createServer((socket) => void aedes.handle(socket));
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const address = server.address();
  if (address === null || typeof address === "string") throw new Error("no port");
  return {
    port: address.port,
    aedes,
    async close() {
      await new Promise<void>((resolve) => aedes.close(resolve));
      await new Promise((resolve) => server.close(resolve));
    },
  };
}

describeMessageBus("the MQTT bus, on a broker that speaks 3.1.1 only,", async () => {
  const broker = await startAedes();
  return mqttBusUnderTest({ port: broker.port, stop: () => broker.close() }, 4);
});

describe("the version of MQTT", () => {
  it("is 3.1.1 at once where a real broker speaks nothing else, and remembered", async () => {
    const broker = await startAedes();
    bench.endsWithTest(() => broker.close());
    const proxy = await bench.proxyTo(broker);
    const begin_ms = performance.now();
    const bus = await bench.connectedBus({
      addresses: [`mqtt://127.0.0.1:${proxy.port}`],
      random: () => 0.2,
    });
    const took_ms = performance.now() - begin_ms;
    console.info(`fall back to 3.1.1: connected after ${took_ms.toFixed(0)} ms`);
    expect(took_ms).toBeLessThan(1_000);
    expect(bus.state()).toMatchObject({ kind: "connected", protocolVersion: 4 });
    expect(proxy.accepted()).toBe(2);
    await proxy.cut();
    await disconnectedBecause(bus, /\w/);
    await proxy.restore();
    await connected(bus);
    expect(proxy.accepted()).toBe(3);
  });

  it.each<{ refusal: string; connack: Uint8Array | "close" }>([
    { refusal: "closes without a word", connack: "close" },
    { refusal: "answers in the 3.1.1 form, unacceptable protocol version", connack: connackOf.v311(0x01) },
    { refusal: "answers 0x84, unsupported protocol version", connack: connackOf.v5(0x84) },
    {
      refusal: "answers what is no MQTT",
      connack: new TextEncoder().encode("HTTP/1.1 400 Bad Request\r\n\r\n"),
    },
  ])("is 3.1.1 where the broker $refusal to MQTT 5", async ({ connack }) => {
    const broker = await bench.scriptedBroker({
      connack: (level) => (level === 5 ? connack : connackOf.v311(0)),
    });
    const bus = await bench.connectedBus({ addresses: [broker.address] });
    expect(bus.state()).toMatchObject({ protocolVersion: 4 });
    expect(broker.connects).toEqual([5, 4]);
  });

  it("is asked for again when the broker that spoke 3.1.1 no longer does", async () => {
    let speaks = 4;
    const broker = await bench.scriptedBroker({
      connack: (level) => (level !== speaks ? "close" : level === 5 ? connackOf.v5(0) : connackOf.v311(0)),
    });
    const bus = await bench.connectedBus({ addresses: [broker.address] });
    speaks = 5;
    broker.drop();
    await vi.waitFor(() => expect(bus.state()).toMatchObject({ protocolVersion: 5 }), within);
    expect(broker.connects).toEqual([5, 4, 4, 5]);
  });

  it.each([
    { code: 0x86, says: "user name or the password" },
    { code: 0x88, says: "not available" },
    { code: 0x8a, says: "banned" },
    { code: 0x97, says: "quota" },
  ])("stays 5 when the broker speaks it and refuses with $code", async ({ code, says }) => {
    const broker = await bench.scriptedBroker({ connack: () => connackOf.v5(code) });
    const bus = await bench.startedBus({ addresses: [broker.address], random: () => 1 });
    await disconnectedBecause(bus, says);
    expect(broker.connects).toEqual([5]);
  });
});

describe("a broker that ends or limits the connection", () => {
  const accepts: BrokerScript = { connack: (level) => (level === 5 ? connackOf.v5(0) : connackOf.v311(0)) };

  it.each([
    { code: 0x8e, says: "session taken over" },
    { code: 0x8b, says: "shutting down" },
    { code: 0x98, says: "administrator" },
  ])("is quoted in words for DISCONNECT $code", async ({ code, says }) => {
    const broker = await bench.scriptedBroker(accepts);
    const bus = await bench.connectedBus({ addresses: [broker.address], random: () => 1 });
    broker.send(disconnectWith(code));
    await disconnectedBecause(bus, says);
  });

  it.each([
    { level: 5, code: 0x87, says: 'subscription to "cellar/#": the broker does not authorise' },
    { level: 4, code: 0x80, says: 'subscription to "cellar/#": unspecified error' },
  ])("and refuses a subscription by MQTT level $level is no connection", async ({ level, code, says }) => {
    const broker = await bench.scriptedBroker({
      connack: (asked) => (asked !== level ? "close" : asked === 5 ? connackOf.v5(0) : connackOf.v311(0)),
      suback: () => code,
    });
    const bus = bench.bus({ addresses: [broker.address], random: () => 1 });
    const states: string[] = [];
    bus.onStateChange(({ kind }) => states.push(kind));
    bus.subscribe("cellar/#", 1, () => undefined);
    await bus.start();
    await disconnectedBecause(bus, says);
    expect(states).not.toContain("connected");
  });

  it("and refuses a later subscription loses the connection, with the reason", async () => {
    const broker = await bench.scriptedBroker({ ...accepts, suback: () => 0x87 });
    const bus = await bench.connectedBus({ addresses: [broker.address], random: () => 1 });
    bus.subscribe("late", 1, () => undefined);
    await disconnectedBecause(bus, 'subscription to "late"');
  });

  it("is not connected before every subscription is acknowledged, nor takes messages", async () => {
    let suback: number | "silence" = "silence";
    const broker = await bench.scriptedBroker({ ...accepts, suback: () => suback });
    const bus = bench.bus({ addresses: [broker.address], random: () => 0 });
    bus.subscribe("a", 1, () => undefined);
    await bus.start();
    await vi.waitFor(() => expect(broker.connects).toHaveLength(1), within);
    await machineClock.sleep(500);
    expect(bus.state().kind).toBe("disconnected");
    const message = { topic: "relay", payload: "ON", qos: 1, retain: false } as const;
    expect(await bus.publish(message)).toEqual({ kind: "offline" });
    suback = 1;
    broker.drop();
    await connected(bus);
    expect(broker.publishes).toEqual([]);
  });

  it("gets no more unacknowledged messages than it allows, and each of the others in its turn", async () => {
    // MQTT 5, 3.2.2.3.3: property 0x21, receive maximum, two bytes.
    const broker = await bench.scriptedBroker({
      connack: () => connackOf.v5(0, [0x21, 0, 2]),
      acknowledgesPublish: false,
    });
    const bus = await bench.connectedBus({ addresses: [broker.address] });
    const outcomes = Array.from({ length: 5 }, (_, index) =>
      bus.publish({ topic: `t/${index}`, payload: "x", qos: 1, retain: false }),
    );
    await vi.waitFor(() => expect(broker.publishes).toHaveLength(2), within);
    await machineClock.sleep(200);
    expect(broker.publishes).toHaveLength(2);
    for (let acknowledged = 0; acknowledged < 5; acknowledged += 1) {
      await vi.waitFor(() => expect(broker.publishes.length).toBeGreaterThan(acknowledged), within);
      expect(broker.publishes.length).toBeLessThanOrEqual(acknowledged + 2);
      broker.acknowledge(broker.publishes[acknowledged]!);
    }
    expect((await Promise.all(outcomes)).map(({ kind }) => kind)).toEqual(Array(5).fill("sent"));
  });

  it("does not send a message later whose turn did not come within 5 s", async () => {
    const broker = await bench.scriptedBroker({
      connack: () => connackOf.v5(0, [0x21, 0, 1]),
      acknowledgesPublish: false,
    });
    const bus = await bench.connectedBus({ addresses: [broker.address] });
    const [first, second] = ["1", "2"].map((payload) =>
      bus.publish({ topic: "relay", payload, qos: 1, retain: false }),
    );
    expect(await first).toMatchObject({ kind: "failed" });
    expect(await second).toMatchObject({ kind: "failed" });
    broker.acknowledge(broker.publishes[0]!);
    await machineClock.sleep(300);
    expect(broker.publishes).toHaveLength(1);
  });

  it("is told apart from one that keeps no retained messages, which gets none", async () => {
    // MQTT 5, 3.2.2.3.5: property 0x25, retain available, one byte.
    const broker = await bench.scriptedBroker({ connack: () => connackOf.v5(0, [0x25, 0]) });
    const bus = await bench.connectedBus({ addresses: [broker.address] });
    const message = { topic: "state", payload: "{}", qos: 1 } as const;
    expect(await bus.publish({ ...message, retain: true })).toMatchObject({ kind: "failed" });
    expect(await bus.publish({ ...message, retain: false })).toEqual({ kind: "sent" });
  });

  it("cannot stretch our keepalive: a silent link is found within twice our own", async () => {
    // MQTT 5, 3.2.2.3.14: property 0x13, server keep alive, two bytes: 60 s.
    const broker = await bench.scriptedBroker({ connack: () => connackOf.v5(0, [0x13, 0, 60]) });
    const bus = await bench.connectedBus({ addresses: [broker.address], keepalive_s: 2, random: () => 1 });
    await machineClock.sleep(6_000);
    expect(bus.counters().connections, "an answering broker is left alone").toBe(1);
    expect(bus.state().kind).toBe("connected");
    const begin_ms = performance.now();
    broker.fallSilent();
    await disconnectedBecause(bus, "did not answer");
    const took_s = (performance.now() - begin_ms) / 1000;
    console.info(`half-open link, keepalive 2 s, broker dictates 60 s: found after ${took_s.toFixed(2)} s`);
    expect(took_s).toBeLessThan(4);
  });
});
