import { afterEach, describe, expect, it, vi } from "vitest";
import { CollectingLogger } from "../support/collecting-logger.js";
import { machineClock } from "../support/machine-clock.js";
import { describeMessageBus } from "../support/message-bus-contract.js";
import { startMosquitto } from "../support/mosquitto.js";
import { connected, disconnectedBecause, MqttBench, mqttBusUnderTest } from "../support/mqtt-bench.js";

const within = { timeout: 10_000, interval: 10 };
const bench = new MqttBench();
afterEach(() => bench.clear());

describeMessageBus("the MQTT bus, on mosquitto,", async () => mqttBusUnderTest(await startMosquitto(), 5));

describe("the MQTT bus", () => {
  it("speaks MQTT 5 where the broker does, and lets a message expire there", async () => {
    const mosquitto = await bench.mosquitto();
    const bus = await bench.startedBus({ addresses: [mosquitto.address] });
    await connected(bus);
    expect(bus.state()).toEqual({ kind: "connected", address: mosquitto.address, protocolVersion: 5 });
    const message = { qos: 1, retain: true, payload: "ON" } as const;
    await bus.publish({ ...message, topic: "lasting" });
    await bus.publish({ ...message, topic: "fleeting", expiry_s: 1 });
    await machineClock.sleep(2_100);
    const seen = await bench.observer(mosquitto.address);
    await seen.next("lasting", { timeout_ms: 5_000 });
    await machineClock.sleep(200);
    expect(seen.messages.map(({ topic }) => topic)).toEqual(["lasting"]);
  });

  it("tells a command that was sent to be held from a live one, also where it comes at once", async () => {
    const mosquitto = await bench.mosquitto();
    const bus = await bench.startedBus({ addresses: [mosquitto.address] });
    await connected(bus);
    const heard: string[] = [];
    bus.subscribe("state", 1, ({ retained }) => heard.push(`state ${retained}`));
    bus.subscribe("command", 1, ({ retained }) => heard.push(`command ${retained}`), {
      retainAsPublished: true,
    });
    // MQTT 5, 3.8.3.1: retain as published.
    const seen = await bench.observer(mosquitto.address);
    await machineClock.sleep(200);
    for (const topic of ["state", "command"]) await seen.publish(topic, "1", { retain: true });
    await seen.publish("command", "2");
    await vi.waitFor(() => expect(heard).toHaveLength(3), within);
    expect(heard).toEqual(["state false", "command true", "command false"]);
  });

  it("is connected again after a restart of the broker, hears its topics, and says why it was not", async () => {
    const mosquitto = await bench.mosquitto();
    const messages: string[] = [];
    const bus = bench.bus({ addresses: [mosquitto.address] });
    bus.subscribe("a", 1, ({ payload }) => messages.push(new TextDecoder().decode(payload)));
    await bus.start();
    await connected(bus);
    await mosquitto.kill();
    await disconnectedBecause(bus, "closed the connection|nothing listens|reset");
    await disconnectedBecause(bus, "nothing listens there");
    await mosquitto.start();
    await connected(bus);
    const seen = await bench.observer(mosquitto.address);
    await seen.publish("a", "after");
    await vi.waitFor(() => expect(messages).toEqual(["after"]), within);
    expect(bus.counters().connections).toBe(2);
  });

  it("keeps the beginning of an outage while its reasons change", async () => {
    const mosquitto = await bench.mosquitto();
    const bus = await bench.startedBus({ addresses: [mosquitto.address] });
    await connected(bus);
    await mosquitto.kill();
    await disconnectedBecause(bus, /\w/);
    const first = bus.state();
    await disconnectedBecause(bus, "nothing listens there");
    expect(bus.state()).toMatchObject({
      since_monotonicMs: first.kind === "disconnected" ? first.since_monotonicMs : 0,
    });
  });

  it("tries its addresses in order, and names what is wrong with each when none answers", async () => {
    const [first, second] = [await bench.mosquitto(), await bench.mosquitto()];
    await first.kill();
    const bus = await bench.startedBus({ addresses: [first.address, second.address] });
    await connected(bus);
    expect(bus.state()).toMatchObject({ address: second.address });
    await first.start();
    await second.kill();
    await vi.waitFor(() => expect(bus.state()).toMatchObject({ address: first.address }), within);
    await second.start();
    await first.kill();
    await vi.waitFor(() => expect(bus.state()).toMatchObject({ address: second.address }), within);
    await second.kill();
    await disconnectedBecause(bus, new RegExp(`^${first.address}: nothing .*; ${second.address}: nothing `));
  });

  it("prefers the first address when both answer", async () => {
    const [first, second] = [await bench.mosquitto(), await bench.mosquitto()];
    const bus = await bench.startedBus({ addresses: [first.address, second.address] });
    await connected(bus);
    expect(bus.state()).toMatchObject({ address: first.address });
  });

  it("says that user or password are wrong, never shows the password, and connects once they are right", async () => {
    const mosquitto = await bench.mosquitto({ users: { fizzward: "hornwort" } });
    const logger = new CollectingLogger();
    const wrong = await bench.startedBus({
      addresses: [mosquitto.address],
      user: "fizzward",
      password: "duckweed",
      logger,
    });
    await disconnectedBecause(wrong, "password is wrong");
    const anonymous = await bench.startedBus({ addresses: [mosquitto.address], clientId: "anonymous" });
    await disconnectedBecause(anonymous, "does not authorise|password");
    const right = await bench.startedBus({
      addresses: [mosquitto.address],
      user: "fizzward",
      password: "hornwort",
      clientId: "right",
    });
    await connected(right);
    expect(JSON.stringify([logger.lines, wrong.state()])).not.toMatch(/duckweed|hornwort/);
  });

  it("does not fall back to 3.1.1 when MQTT 5 is spoken and the password is wrong", async () => {
    const mosquitto = await bench.mosquitto({ users: { fizzward: "hornwort" } });
    const proxy = await bench.proxyTo(mosquitto);
    const bus = await bench.startedBus({
      addresses: [`mqtt://127.0.0.1:${proxy.port}`],
      user: "fizzward",
      password: "duckweed",
      random: () => 1,
    });
    await disconnectedBecause(bus, "password is wrong");
    expect(proxy.accepted()).toBe(1);
  });

  it("leaves its will when it breaks, and none when it stops", async () => {
    const mosquitto = await bench.mosquitto();
    const proxy = await bench.proxyTo(mosquitto);
    const seen = await bench.observer(mosquitto.address);
    const will = { topic: "fizzward/state", payload: '{"daemon":"lost"}', qos: 1, retain: true } as const;
    const bus = await bench.startedBus({ addresses: [`mqtt://127.0.0.1:${proxy.port}`], will });
    await connected(bus);
    await proxy.cut();
    const { payload, qos } = await seen.next(will.topic, { timeout_ms: 5_000 });
    expect({ payload, qos }).toEqual({ payload: will.payload, qos: 1 });
    await proxy.restore();
    await connected(bus);
    await bus.stop();
    await machineClock.sleep(300);
    expect(seen.messages).toHaveLength(1);
  });

  it("counts a message that is too large and logs it once", async () => {
    const mosquitto = await bench.mosquitto();
    const logger = new CollectingLogger();
    const bus = bench.bus({ addresses: [mosquitto.address], logger });
    const lengths: number[] = [];
    bus.subscribe("big", 1, ({ payload }) => lengths.push(payload.byteLength));
    await bus.start();
    await connected(bus);
    const seen = await bench.observer(mosquitto.address);
    for (const length of [256 * 1024 + 1, 300 * 1024, 256 * 1024]) {
      await seen.publish("big", new Uint8Array(length));
    }
    await vi.waitFor(() => expect(lengths).toEqual([256 * 1024]), within);
    expect(bus.counters().oversize).toBe(2);
    expect(logger.lines.filter(({ message }) => message.includes("too large"))).toHaveLength(1);
    // Far larger ones are kept back by the broker itself, since the connection announces what it takes.
    await seen.publish("big", new Uint8Array(3 * 1024 * 1024));
    await seen.publish("big", "after");
    await vi.waitFor(() => expect(lengths).toEqual([256 * 1024, 5]), within);
    expect(bus.counters()).toMatchObject({ oversize: 2, connections: 1 });
  });

  it("gives up on an acknowledgement after 5 s, without waiting for a connection", async () => {
    const mosquitto = await bench.mosquitto();
    const bus = await bench.startedBus({ addresses: [mosquitto.address], keepalive_s: 60 });
    await connected(bus);
    mosquitto.signal("SIGSTOP");
    const begin_ms = performance.now();
    const outcome = await bus.publish({ topic: "relay", payload: "ON", qos: 1, retain: false });
    const took_ms = performance.now() - begin_ms;
    mosquitto.signal("SIGCONT");
    expect(outcome).toEqual({ kind: "failed", reason: "the broker does not acknowledge it within 5 s" });
    expect(took_ms).toBeGreaterThan(4_900);
    expect(took_ms).toBeLessThan(5_500);
  });

  it("sends nothing again that was unacknowledged when the link broke", async () => {
    const mosquitto = await bench.mosquitto();
    const proxy = await bench.proxyTo(mosquitto);
    const seen = await bench.observer(mosquitto.address);
    const bus = await bench.startedBus({ addresses: [`mqtt://127.0.0.1:${proxy.port}`] });
    await connected(bus);
    proxy.swallow();
    const outcomes = [1, 0].map((qos) =>
      bus.publish({ topic: "relay", payload: "ON", qos: qos as 0 | 1, retain: false }),
    );
    await machineClock.sleep(100);
    proxy.pass();
    await proxy.cut();
    expect((await Promise.all(outcomes)).map(({ kind }) => kind)).toEqual(["failed", "sent"]);
    await proxy.restore();
    await disconnectedBecause(bus, /\w/).catch(() => undefined);
    await connected(bus);
    expect(await bus.publish({ topic: "relay", payload: "OFF", qos: 1, retain: false })).toEqual({
      kind: "sent",
    });
    await seen.next("relay", { timeout_ms: 5_000 });
    await machineClock.sleep(1_000);
    expect(seen.messages.map(({ payload }) => payload)).toEqual(["OFF"]);
  });

  it.each([2, 4])("finds a half-open link within twice a keepalive of %i s", async (keepalive_s) => {
    const mosquitto = await bench.mosquitto();
    const proxy = await bench.proxyTo(mosquitto);
    const bus = await bench.startedBus({ addresses: [`mqtt://127.0.0.1:${proxy.port}`], keepalive_s });
    await connected(bus);
    // The worst moment is right after the broker was heard.
    await bus.publish({ topic: "x", payload: "1", qos: 1, retain: false });
    proxy.swallow();
    const begin_ms = performance.now();
    await disconnectedBecause(bus, "did not answer", keepalive_s * 3_000);
    const took_s = (performance.now() - begin_ms) / 1000;
    console.info(`half-open link, keepalive ${keepalive_s} s: found after ${took_s.toFixed(2)} s`);
    expect(took_s).toBeLessThan(2 * keepalive_s);
    proxy.pass();
    await connected(bus);
  });

  it("is stopped in time while it is connecting to a host that says nothing", async () => {
    const mosquitto = await bench.mosquitto();
    mosquitto.signal("SIGSTOP");
    const bus = await bench.startedBus({ addresses: [mosquitto.address] });
    await machineClock.sleep(200);
    const begin_ms = performance.now();
    await bus.stop();
    expect(performance.now() - begin_ms).toBeLessThan(1_500);
    expect(bus.state()).toMatchObject({ kind: "disconnected", reason: "stopped" });
  });
});
