import { expect, it } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { kill, runCommand, type DaemonProcess } from "../support/daemon-process.js";

const bench = useDaemonBench();
/** One tick of the daemon, and a little. */
const tick_ms = 1200;
const later = (duration_ms: number): Promise<void> =>
  new Promise((resolve) => setTimeout(resolve, duration_ms));

/** Kills the daemon, thaws the broker, and returns what the relay was told from then on. */
async function killAndThaw(running: DaemonProcess): Promise<readonly string[]> {
  const { broker, observer } = bench();
  const from = observer.messages.length;
  kill(running.processIds().daemon, "SIGKILL");
  await later(300);
  broker.signal("SIGCONT");
  await later(2500);
  return observer.messages
    .slice(from)
    .filter(({ topic }) => topic === "relay/command")
    .map(({ payload }) => payload);
}

it("a broker that hangs while the daemon opens and is killed passes on the ON, then the closing command", async () => {
  const running = await bench().run();
  const { relay, broker, observer } = bench();
  await running.logged("dead-man connection armed");
  const from = observer.messages.length;
  await observer.publish("tank/ph", "6.8");
  await observer.next("tank/ph", { from, timeout_ms: 2000 });
  broker.signal("SIGSTOP");
  await running.logged("commanded open");
  await later(200);
  expect(await killAndThaw(running)).toEqual(["ON", "OFF"]);
  expect(relay.isOn()).toBe(false);
});

it("a broker with several messages waiting on each connection passes on no ON after the closing command", async () => {
  const running = await bench().run();
  const { relay, broker, observer } = bench();
  const byHand = (name: string, ...rest: readonly string[]) =>
    runCommand([name, "--config", running.configFile, "outlet", ...rest]);
  await observer.publish("tank/ph", "6.8");
  await running.logged("reports open");

  broker.signal("SIGSTOP");
  await byHand("override", "closed", "--for", "30");
  await later(tick_ms);
  await byHand("end-override");
  await later(tick_ms);
  expect((await killAndThaw(running)).at(-1)).toBe("OFF");
  expect(relay.isOn()).toBe(false);
});
