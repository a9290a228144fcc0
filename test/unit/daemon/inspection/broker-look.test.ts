import { expect, it } from "vitest";
import { lookAtBroker } from "../../../../daemon/inspection/broker-look.js";
import type { MessageBus } from "../../../../daemon/ports/message-bus.js";
import { CollectingLogger } from "../../../support/collecting-logger.js";
import { FakeClock } from "../../../support/fake-clock.js";
import { createMemoryBroker } from "../../../support/memory-message-bus.js";

function bench() {
  const clock = new FakeClock(0);
  const logger = new CollectingLogger();
  const broker = createMemoryBroker({ clock, logger });
  return { clock, broker, bus: broker.createBus({ logger }) };
}

/** Looks, while time goes by. */
async function looked(bus: MessageBus, clock: FakeClock) {
  const looking = lookAtBroker({ bus, clock }, "fizzward/mill-pond");
  for (let second = 0; second < 30; second += 1) await clock.advance(1000);
  return looking;
}

it("hears its own message on a topic of its own, which is not kept", async () => {
  const { clock, broker, bus } = bench();
  const facts = await looked(bus, clock);
  expect(facts).toMatchObject({ kind: "connected", echo: { kind: "came back" } });
  expect(broker.passed.map(({ topic, retain }) => ({ topic, retain }))).toEqual([
    { topic: "fizzward/mill-pond/inspection/echo", retain: false },
  ]);
});

it("says so where access lists swallow its message", async () => {
  const { clock, bus } = bench();
  const deaf: MessageBus = { ...bus, subscribe: () => undefined };
  expect(await looked(deaf, clock)).toMatchObject({
    kind: "connected",
    echo: { kind: "did not come back", because: "nothing in 2 s" },
  });
});

it("says why it is not connected, and when nothing answers at all", async () => {
  const { clock, bus } = bench();
  const refusing: MessageBus = {
    ...bus,
    start: () => Promise.resolve(),
    onStateChange: (listener) => listener({ kind: "disconnected", reason: "refused", since_monotonicMs: 0 }),
  };
  expect(await looked(refusing, clock)).toEqual({ kind: "not reached", reason: "refused" });
  const silent: MessageBus = { ...refusing, onStateChange: () => undefined };
  expect(await looked(silent, clock)).toEqual({ kind: "not reached", reason: "it does not answer" });
});
