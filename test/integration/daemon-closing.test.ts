import { performance } from "node:perf_hooks";
import { describe, expect, it, vi } from "vitest";
import { useDaemonBench, type DaemonBench } from "../support/daemon-bench.js";
import { descendants, kill, type DaemonProcess } from "../support/daemon-process.js";

const bench = useDaemonBench();

async function dosing(options: Parameters<DaemonBench["run"]>[0] = {}): Promise<DaemonProcess> {
  const started = await bench().run(options);
  await bench().observer.publish("tank/ph", "6.8");
  await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 10_000, interval: 10 });
  // The relay's report has come back, so that an orderly end finds it confirmed.
  await started.logged("reports open");
  return started;
}

/** The last document on a topic below the base, as the broker passed it on. */
function lastTold(topic: string): string {
  const all = bench().observer.messages.filter((m) => m.topic === `fizzward/mill-house/${topic}`);
  return all.at(-1)?.payload ?? "{}";
}

async function closedAfter(from_ms: number, timeout_ms: number): Promise<number> {
  await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: timeout_ms, interval: 5 });
  return (bench().relay.changes.at(-1)?.at_ms ?? Number.NaN) - from_ms;
}

describe("the valve is closed whatever happens to the daemon", () => {
  it("within 1 s of a SIGKILL", async () => {
    const running = await dosing();
    const { daemon: pid } = running.processIds();
    const now_ms = performance.now();
    kill(pid, "SIGKILL");
    expect(await closedAfter(now_ms, 5000)).toBeLessThan(1000);
  });

  it("within 3 s of a SIGSTOP", async () => {
    const running = await dosing();
    const { daemon: pid } = running.processIds();
    const now_ms = performance.now();
    kill(pid, "SIGSTOP");
    expect(await closedAfter(now_ms, 10_000)).toBeLessThan(3000);
  });

  it("within 1.5 x keepalive + 6 s when the daemon and its dead-man process are both frozen", async () => {
    const running = await dosing();
    const { daemon: pid, deadMan } = running.processIds();
    expect(deadMan).toBeDefined();
    const now_ms = performance.now();
    kill(pid, "SIGSTOP");
    kill(deadMan!, "SIGSTOP");
    const took_ms = await closedAfter(now_ms, 20_000);
    kill(deadMan!, "SIGKILL");
    expect(took_ms).toBeLessThan(1.5 * 5000 + 6000);
  });

  it("at once when the dead-man process is killed, and doses again when it is back", async () => {
    const running = await dosing();
    const { deadMan } = running.processIds();
    const now_ms = performance.now();
    kill(deadMan!, "SIGKILL");
    expect(await closedAfter(now_ms, 5000)).toBeLessThan(2000);
    // A valve that was closed by force rests for a minute.
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 80_000, interval: 50 });
  }, 120_000);

  it.each(["SIGTERM", "SIGINT"] as const)(
    "before an orderly end by %s, with exit code 0 and nothing left running",
    async (signal) => {
      const running = await dosing();
      const children = descendants(running.processIds().daemon);
      kill(running.processIds().daemon, signal);
      expect(await running.exitCode()).toBe(0);
      expect(bench().relay.isOn()).toBe(false);
      expect(running.output()).not.toContain("not every relay has confirmed");
      await vi.waitFor(
        () =>
          expect(JSON.parse(lastTold("valve/outlet"))).toMatchObject({
            state: "closed",
            wanted: "closed",
            reason: "the daemon ends",
          }),
        { timeout: 2000 },
      );
      expect(children.filter((pid) => isAlive(pid))).toEqual([]);
    },
  );

  it("before an orderly end when Ctrl-C is pressed twice and npm passes it on", async () => {
    const running = await dosing({ through: "npm" });
    const { daemon: pid } = running.processIds();
    const group = -(running.child.pid ?? 0);
    process.kill(group, "SIGINT");
    await new Promise((resolve) => setTimeout(resolve, 30));
    process.kill(group, "SIGINT");
    expect(await running.exitCode()).toBe(0);
    expect(bench().relay.isOn()).toBe(false);
    expect(isAlive(pid)).toBe(false);
  });

  it("before an orderly end when npm gets SIGTERM", async () => {
    const running = await dosing({ through: "npm" });
    const { daemon: pid } = running.processIds();
    kill(running.child.pid!, "SIGTERM");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 10_000 });
    await vi.waitFor(() => expect(isAlive(pid)).toBe(false), { timeout: 10_000 });
    expect(await running.exitCode()).toBe(0);
  });
});

describe("the valve is closed whatever happens around the daemon, and says why", () => {
  it("when the guard sensor falls silent", async () => {
    const running = await dosing({ config: { maximumAge_s: "5" } });
    const now_ms = performance.now();
    expect(await closedAfter(now_ms, 10_000)).toBeLessThan(7000);
    await running.logged("guard sensor silent");
  });

  it("when the broker dies: at its return OFF comes first, ON only with a fresh guard", async () => {
    const running = await dosing({ config: { maximumAge_s: "8" } });
    await bench().broker.kill();
    await running.logged("broker lost");
    await new Promise((resolve) => setTimeout(resolve, 9000));
    const before = bench().relay.changes.length;
    await bench().broker.start();
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 20_000, interval: 20 });
    expect(
      bench()
        .relay.changes.slice(before)
        .map((change) => change.state),
    ).toEqual(["off"]);
    await running.logged("connected to the broker");
    // Sensors publish for as long as they live: one message may come before the daemon has subscribed again.
    const sensor = setInterval(
      () =>
        void bench()
          .observer.publish("tank/ph", "6.81")
          .catch(() => undefined),
      500,
    );
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 80_000, interval: 20 });
    clearInterval(sensor);
  }, 150_000);

  it("when the relay does not confirm", async () => {
    bench().relay.setReporting(false);
    const started = await bench().run();
    await bench().observer.publish("tank/ph", "6.8");
    await started.logged("does not confirm", 30_000);
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 10_000 });
    await vi.waitFor(() => expect(lastTold("alarms")).toContain("relay/outlet"), { timeout: 5000 });
  });
});

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch {
    return false;
  }
}
