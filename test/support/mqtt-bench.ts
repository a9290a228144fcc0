import { expect, vi } from "vitest";
import {
  createMqttMessageBus,
  type MqttMessageBus,
  type MqttMessageBusOptions,
} from "../../daemon/mqtt/mqtt-message-bus.js";
import { observeBroker, type BrokerObserver } from "./broker-observer.js";
import { CollectingLogger } from "./collecting-logger.js";
import { machineClock } from "./machine-clock.js";
import type { BusUnderTest } from "./message-bus-contract.js";
import { startMosquitto, type Mosquitto, type MosquittoOptions } from "./mosquitto.js";
import { startScriptedBroker, type BrokerScript, type ScriptedBroker } from "./scripted-broker.js";
import { startTcpProxy, type TcpProxy } from "./tcp-proxy.js";

export type BusOptions = Partial<MqttMessageBusOptions> & Pick<MqttMessageBusOptions, "addresses">;

/** A bus with quick reconnections, not yet started. */
export function createTestBus(options: BusOptions): MqttMessageBus {
  return createMqttMessageBus({
    clientId: "fizzward-test",
    keepalive_s: 10,
    clock: machineClock,
    logger: new CollectingLogger(),
    random: () => 0.05,
    ...options,
  });
}

/** The MQTT bus on a broker, behind a proxy that can cut it off; both end with the bus. */
export async function mqttBusUnderTest(
  broker: { readonly port: number; readonly stop: () => Promise<void> },
  protocolVersion: 4 | 5,
): Promise<BusUnderTest> {
  const proxy = await startTcpProxy(broker);
  const seen = await observeBroker(`mqtt://127.0.0.1:${broker.port}`, { protocolVersion });
  const own = new Set<string>();
  const bus = createTestBus({ addresses: [`mqtt://127.0.0.1:${proxy.port}`] });
  return {
    bus,
    publish(topic, payload, options) {
      own.add(topic);
      return seen.publish(topic, payload, options);
    },
    received: () =>
      seen.messages.filter(({ topic }) => !own.has(topic)).map(({ topic, payload }) => ({ topic, payload })),
    breakConnection: () => proxy.cut(),
    restoreConnection: () => proxy.restore(),
    async dispose() {
      await bus.stop();
      await seen.close();
      await proxy.close();
      await broker.stop();
    },
  };
}

/** Brokers, proxies and buses of one test, all of which end with it. */
export class MqttBench {
  readonly #cleanups: (() => Promise<unknown>)[] = [];

  async clear(): Promise<void> {
    for (const cleanup of this.#cleanups.splice(0).reverse()) await cleanup();
  }

  endsWithTest(cleanup: () => Promise<unknown>): void {
    this.#cleanups.push(cleanup);
  }

  async mosquitto(options?: MosquittoOptions): Promise<Mosquitto> {
    const broker = await startMosquitto(options);
    this.endsWithTest(() => broker.stop());
    return broker;
  }

  async scriptedBroker(script: BrokerScript): Promise<ScriptedBroker> {
    const broker = await startScriptedBroker(script);
    this.endsWithTest(() => broker.close());
    return broker;
  }

  async proxyTo(target: { readonly port: number }): Promise<TcpProxy> {
    const proxy = await startTcpProxy(target);
    this.endsWithTest(() => proxy.close());
    return proxy;
  }

  async observer(...args: Parameters<typeof observeBroker>): Promise<BrokerObserver> {
    const observer = await observeBroker(...args);
    this.endsWithTest(() => observer.close());
    return observer;
  }

  bus(options: BusOptions): MqttMessageBus {
    const bus = createTestBus(options);
    this.endsWithTest(() => bus.stop());
    return bus;
  }

  async startedBus(options: BusOptions): Promise<MqttMessageBus> {
    const bus = this.bus(options);
    await bus.start();
    return bus;
  }

  async connectedBus(options: BusOptions): Promise<MqttMessageBus> {
    const bus = await this.startedBus(options);
    await connected(bus);
    return bus;
  }
}

export function connected(bus: MqttMessageBus): Promise<void> {
  return vi.waitFor(() => expect(bus.state()).toMatchObject({ kind: "connected" }), {
    timeout: 12_000,
    interval: 10,
  });
}

export function disconnectedBecause(
  bus: MqttMessageBus,
  reason: RegExp | string,
  timeout_ms = 10_000,
): Promise<void> {
  const expected = { kind: "disconnected", reason: expect.stringMatching(reason) as string };
  return vi.waitFor(() => expect(bus.state()).toMatchObject(expected), { timeout: timeout_ms, interval: 10 });
}
