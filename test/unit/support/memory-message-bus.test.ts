import { describe, expect, it } from "vitest";
import { CollectingLogger } from "../../support/collecting-logger.js";
import { machineClock } from "../../support/machine-clock.js";
import { createMemoryBroker } from "../../support/memory-message-bus.js";
import { describeMessageBus } from "../../support/message-bus-contract.js";

describeMessageBus("the bus in memory", () => {
  const logger = new CollectingLogger();
  const broker = createMemoryBroker({ clock: machineClock, logger });
  const bus = broker.createBus({ logger });
  const ownMessages = new Set<object>();
  return Promise.resolve({
    bus,
    publish: (topic, payload, options) => {
      const before = broker.passed.length;
      broker.publish(topic, payload, options);
      for (const message of broker.passed.slice(before)) ownMessages.add(message);
      return Promise.resolve();
    },
    received: () =>
      broker.passed
        .filter((message) => !ownMessages.has(message))
        .map(({ topic, payload }) => ({ topic, payload })),
    breakConnection() {
      bus.dropConnection("the cable was pulled");
      return Promise.resolve();
    },
    restoreConnection() {
      bus.restoreConnection();
      return Promise.resolve();
    },
    dispose: () => bus.stop(),
  });
});

describe("the broker in memory", () => {
  const open = (): { broker: ReturnType<typeof createMemoryBroker>; logger: CollectingLogger } => {
    const logger = new CollectingLogger();
    return { logger, broker: createMemoryBroker({ clock: machineClock, logger }) };
  };

  it("publishes the will of a bus whose connection breaks, and not of one that stops", async () => {
    const { broker, logger } = open();
    const will = { topic: "daemon/state", payload: "lost", retain: true };
    const broken = broker.createBus({ logger, will });
    await broken.start();
    broken.dropConnection("cut");
    expect(broker.passed).toMatchObject([will]);
    const stopped = broker.createBus({ logger, will: { ...will, payload: "stopped" } });
    await stopped.start();
    await stopped.stop();
    expect(broker.passed).toHaveLength(1);
  });

  it("delays deliveries, loses them with their connection, and drops what has expired", async () => {
    const { broker, logger } = open();
    const bus = broker.createBus({ logger });
    const seen: string[] = [];
    broker.listen("#", ({ payload }) => seen.push(new TextDecoder().decode(payload)));
    bus.subscribe("#", 0, ({ payload }) => seen.push(`bus ${new TextDecoder().decode(payload)}`));
    await bus.start();
    broker.delayDeliveries(50);
    await bus.publish({ topic: "a", payload: "late", qos: 0, retain: false });
    await bus.publish({ topic: "a", payload: "expired", qos: 0, retain: false, expiry_s: 0.01 });
    bus.dropConnection("cut");
    bus.restoreConnection();
    expect(seen).toEqual([]);
    await machineClock.sleep(100);
    expect(seen).toEqual(["late"]);
  });
});
