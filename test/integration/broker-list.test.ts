import { setTimeout as sleep } from "node:timers/promises";
import { expect, it, onTestFailed, onTestFinished, vi } from "vitest";
import { observeBroker } from "../support/broker-observer.js";
import { kill, plainConfig, startDaemon } from "../support/daemon-process.js";
import { startMosquitto } from "../support/mosquitto.js";
import { startRelayDevice } from "../support/relay-device.js";

/** Of a relay that takes longer than the daemon to find the other broker: what was said before is lost on it. */
const relayReturnsAfter_ms = 2500;

it("goes on at the next address when a broker is killed: gas off until the relay is heard there, everything told anew, the will there too", async () => {
  const brokers = [await startMosquitto(), await startMosquitto()] as const;
  const [first, second] = brokers;
  const relay = await startRelayDevice({
    address: first.address,
    commandTopic: "relay/command",
    stateTopic: "relay/state",
    autoOff_s: 300,
    connection: {
      servers: brokers.map(({ port }) => ({ host: "127.0.0.1", port, protocol: "mqtt" as const })),
      reconnectPeriod: relayReturnsAfter_ms,
    },
  });
  const observers = [await observeBroker(first.address), await observeBroker(second.address)] as const;
  const daemon = startDaemon({
    config: plainConfig(brokers.map(({ address }) => address).join('", "'), {
      sections: "hub: { homie: {} }",
    }),
  });
  let beat = 0;
  const speaking = setInterval(() => {
    const pH = `6.8${beat++ % 7}`;
    for (const observer of observers) void observer.publish("tank/ph", pH).catch(() => undefined);
  }, 300);
  onTestFailed(() => console.error(daemon.output()));
  onTestFinished(async () => {
    clearInterval(speaking);
    await daemon.dispose();
    await relay.close();
    for (const observer of observers) await observer.close();
    for (const broker of brokers) await broker.stop();
  });
  await daemon.logged("reports open", 30_000);
  const retainedTopics = (observer: (typeof observers)[number]): readonly string[] =>
    [...new Set(observer.messages.map(({ topic }) => topic))]
      .filter((topic) => /^(?:fizzward|homie)\//.test(topic) && !topic.includes("$log"))
      .sort();
  await vi.waitFor(() => expect(retainedTopics(observers[0])).toContain("homie/5/mill-house/$state"), {
    timeout: 10_000,
  });
  await sleep(300);
  const toldAtFirst = retainedTopics(observers[0]);
  expect(toldAtFirst.length).toBeGreaterThan(30);
  expect(retainedTopics(observers[1])).toEqual([]);

  const killed_ms = performance.now();
  await first.kill();
  await daemon.logged(`"address":"${second.address}"`, 5000);
  const closed = await vi.waitFor(
    () => {
      const change = relay.changes.find(({ at_ms, state }) => at_ms > killed_ms && state === "off");
      expect(change).toBeDefined();
      return change!;
    },
    // The relay's own way to the other broker takes its time as well.
    { timeout: 20_000 },
  );
  expect(closed.by).toBe("command");
  const offs = observers[1].messages.filter(
    ({ topic, payload }) => topic === "relay/command" && payload === "OFF",
  );
  // Repeated: the relay was not there yet when the first was said.
  expect(offs.length).toBeGreaterThan(1);
  const firstOn = observers[1].messages.find(
    ({ topic, payload }) => topic === "relay/command" && payload === "ON",
  );
  expect(firstOn?.at_ms ?? Number.POSITIVE_INFINITY).toBeGreaterThan(closed.at_ms);
  await vi.waitFor(() => expect(retainedTopics(observers[1])).toEqual(toldAtFirst), { timeout: 10_000 });
  // Closed by force, it rests for a minute; all that it waits for is there.
  const saysOf = (topic: string): string =>
    observers[1].messages.filter((message) => message.topic === topic).at(-1)?.payload ?? "";
  await vi.waitFor(() => expect(saysOf("fizzward/mill-house/valve/outlet")).toContain("rests"), {
    timeout: 8000,
  });

  const ended = observers[1].messages.length;
  kill(daemon.processIds().daemon, "SIGKILL");
  await observers[1].next("relay/command", { from: ended, timeout_ms: 3000 });
  await vi.waitFor(() => expect(saysOf("homie/5/mill-house/$state")).toBe("lost"), { timeout: 3000 });
}, 60_000);
