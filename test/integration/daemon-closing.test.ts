import { performance } from "node:perf_hooks";
import { describe, expect, it, vi } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { descendants, kill } from "../support/daemon-process.js";
import { closedAfter, dosing, lastTold } from "../support/dosing-daemon.js";

const bench = useDaemonBench();

describe("the valve is closed whatever happens to the daemon", () => {
  it("within 1 s of a SIGKILL", async () => {
    const running = await dosing(bench());
    const { daemon: pid } = running.processIds();
    const now_ms = performance.now();
    kill(pid, "SIGKILL");
    expect(await closedAfter(bench(), now_ms, 5000)).toBeLessThan(1000);
  });

  it("within 3 s of a SIGSTOP", async () => {
    const running = await dosing(bench());
    const { daemon: pid } = running.processIds();
    const now_ms = performance.now();
    kill(pid, "SIGSTOP");
    expect(await closedAfter(bench(), now_ms, 10_000)).toBeLessThan(3000);
  });

  it("within 1.5 x keepalive + 6 s when the daemon and its dead-man process are both frozen", async () => {
    const running = await dosing(bench());
    const { daemon: pid, deadMan } = running.processIds();
    expect(deadMan).toBeDefined();
    const now_ms = performance.now();
    kill(pid, "SIGSTOP");
    kill(deadMan!, "SIGSTOP");
    const took_ms = await closedAfter(bench(), now_ms, 20_000);
    kill(deadMan!, "SIGKILL");
    expect(took_ms).toBeLessThan(1.5 * 5000 + 6000);
  });

  it("at once when the dead-man process is killed, and doses again when it is back", async () => {
    const running = await dosing(bench());
    const { deadMan } = running.processIds();
    const now_ms = performance.now();
    kill(deadMan!, "SIGKILL");
    expect(await closedAfter(bench(), now_ms, 5000)).toBeLessThan(2000);
    // A valve that was closed by force rests for a minute.
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 80_000, interval: 50 });
  }, 120_000);

  it.each(["SIGTERM", "SIGINT"] as const)(
    "before an orderly end by %s, with exit code 0 and nothing left running",
    async (signal) => {
      const running = await dosing(bench());
      const children = descendants(running.processIds().daemon);
      kill(running.processIds().daemon, signal);
      expect(await running.exitCode()).toBe(0);
      expect(bench().relay.isOn()).toBe(false);
      expect(running.output()).not.toContain("not every relay has confirmed");
      await vi.waitFor(
        () =>
          expect(JSON.parse(lastTold(bench(), "valve/outlet"))).toMatchObject({
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
    const running = await dosing(bench(), { through: "npm" });
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
    const running = await dosing(bench(), { through: "npm" });
    const { daemon: pid } = running.processIds();
    kill(running.child.pid!, "SIGTERM");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 10_000 });
    await vi.waitFor(() => expect(isAlive(pid)).toBe(false), { timeout: 10_000 });
    expect(await running.exitCode()).toBe(0);
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
