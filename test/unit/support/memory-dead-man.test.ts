import { expect, it } from "vitest";
import { CollectingLogger } from "../../support/collecting-logger.js";
import { machineClock } from "../../support/machine-clock.js";
import { createMemoryDeadMan } from "../../support/memory-dead-man.js";
import { createMemoryBroker } from "../../support/memory-message-bus.js";

const relays = [{ relayId: "outlet", commandTopic: "relay/1", payloadOff: "OFF" }];

const open = async (): Promise<{
  broker: ReturnType<typeof createMemoryBroker>;
  deadMan: ReturnType<typeof createMemoryDeadMan>;
}> => {
  const broker = createMemoryBroker({ clock: machineClock, logger: new CollectingLogger() });
  const deadMan = createMemoryDeadMan({ broker, clock: machineClock, relays });
  await deadMan.start();
  return { broker, deadMan };
};

it("the dead-man in memory is armed by a beat and trips 2 s after the last one", async () => {
  const { broker, deadMan } = await open();
  expect(deadMan.isArmed("outlet")).toBe(false);
  deadMan.beat();
  expect(deadMan.isArmed("outlet")).toBe(true);
  expect(deadMan.isArmed("unknown")).toBe(false);
  await machineClock.sleep(1_500);
  deadMan.beat();
  await machineClock.sleep(1_500);
  expect(broker.passed).toEqual([]);
  await machineClock.sleep(700);
  expect(broker.passed).toMatchObject([{ topic: "relay/1", payload: "OFF", retain: false }]);
  expect(deadMan.isArmed("outlet")).toBe(false);
});

it("the dead-man in memory publishes the wills when it is killed, or stopped before the relays are off", async () => {
  const { broker, deadMan } = await open();
  deadMan.beat();
  deadMan.kill();
  expect(broker.passed).toHaveLength(1);
  deadMan.beat();
  expect(deadMan.isArmed("outlet")).toBe(false);
  deadMan.revive();
  deadMan.beat();
  await deadMan.stop("not confirmed off");
  expect(broker.passed).toHaveLength(2);
});

it("the dead-man in memory publishes nothing when it stops after the relays are off", async () => {
  const { broker, deadMan } = await open();
  deadMan.beat();
  await deadMan.stop("confirmed off");
  expect(broker.passed).toEqual([]);
});
