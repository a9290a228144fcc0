import { performance } from "node:perf_hooks";
import { describe, expect, it, vi } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { closedAfter, dosing, lastTold } from "../support/dosing-daemon.js";

const bench = useDaemonBench();

describe("the valve is closed whatever happens around the daemon, and says why", () => {
  it("when the guard sensor falls silent", async () => {
    const running = await dosing(bench(), { config: { maximumAge_s: "5" } });
    const now_ms = performance.now();
    expect(await closedAfter(bench(), now_ms, 10_000)).toBeLessThan(7000);
    await running.logged("guard sensor silent");
  });

  it("when the broker dies: at its return OFF comes first, ON only with a fresh guard", async () => {
    const running = await dosing(bench(), { config: { maximumAge_s: "8" } });
    await bench().broker.kill();
    await running.logged("broker lost");
    await new Promise((resolve) => setTimeout(resolve, 9000));
    const before = bench().relay.changes.length;
    await bench().broker.start();
    // The daemon tries again at growing distances.
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 45_000, interval: 20 });
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
    await vi.waitFor(() => expect(lastTold(bench(), "alarms")).toContain("relay/outlet"), { timeout: 5000 });
  });
});
