import Database from "better-sqlite3";
import { performance } from "node:perf_hooks";
import { describe, expect, it, vi } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { kill, runCommand, type DaemonProcess } from "../support/daemon-process.js";

const bench = useDaemonBench();

async function begin(config: Readonly<Record<string, string>> = {}, autoOff_s = 300): Promise<DaemonProcess> {
  await bench().replaceRelay(autoOff_s);
  return bench().run({ config });
}

describe("commissioning", () => {
  const uncommissioned = { accept: "", autoOff_s: "10" };

  it("keeps a relay off that nobody has tried, and doses once its auto-off and power-on state have passed", async () => {
    const running = await begin(uncommissioned, 10);
    await bench().observer.publish("tank/ph", "6.8");
    await running.logged("relay not commissioned");
    expect(bench().relay.changes).toEqual([]);

    const trial = await runCommand(
      ["commission", "--config", running.configFile, "outlet"],
      [
        () => "yes",
        () => {
          bench().relay.powerCycle();
          return "yes";
        },
      ],
    );
    expect(trial.output).toContain("auto-off passed");
    expect(trial.output).toContain("power-on state passed");
    expect(trial.exitCode).toBe(0);
    expect(
      bench()
        .relay.changes.slice(0, 2)
        .map(({ state, by }) => `${state} ${by}`),
    ).toEqual(["on command", "off auto-off"]);
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 10_000 });

    kill(running.processIds().daemon, "SIGTERM");
    expect(await running.exitCode()).toBe(0);
    const again = await bench().run({ config: uncommissioned, folder: running.folder });
    await bench().observer.publish("tank/ph", "6.8");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 10_000 });
    expect(again.output()).not.toContain("relay not commissioned");
  }, 60_000);

  it("fails a relay that does not drop by itself, and leaves it off", async () => {
    const running = await begin(uncommissioned, 300);
    const trial = await runCommand(["commission", "--config", running.configFile, "outlet"], [() => "yes"]);
    expect(trial.exitCode).toBe(1);
    expect(trial.output).toContain("did not drop by itself within 17 s");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 3000 });
  }, 60_000);

  it("switches the relay off at once when the person goes away", async () => {
    const running = await begin(uncommissioned, 300);
    const trial = runCommand(
      ["commission", "--config", running.configFile, "outlet"],
      [() => "yes"],
      (output) => output.includes("trying its auto-off"),
    );
    await vi.waitFor(() => expect(bench().relay.changes.length).toBeGreaterThan(0), { timeout: 10_000 });
    await trial;
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 3000 });
  });

  it("tries nothing unless the person says that the vessel is shut", async () => {
    const running = await begin(uncommissioned, 10);
    const trial = await runCommand(["commission", "--config", running.configFile, "outlet"], [() => "no"]);
    expect(trial.exitCode).toBe(1);
    expect(bench().relay.changes).toEqual([]);
  });
});

describe("a trip", () => {
  it("latches, survives a restart, cannot be re-armed while its cause stands, and is re-armed at the socket only", async () => {
    const running = await begin();
    await bench().observer.publish("tank/ph", "6.8");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 10_000 });
    for (let count = 0; count < 5; count += 1) await bench().observer.publish("tank/ph", "5.5");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 5000 });
    await running.logged("pH below the floor");

    kill(running.processIds().daemon, "SIGKILL");
    await running.exitCode();
    const again = await bench().run({ folder: running.folder });
    const config = ["--config", again.configFile];
    for (let count = 0; count < 5; count += 1) await bench().observer.publish("tank/ph", "5.5");
    await again.logged("tripped");
    // The pass after the reading has to have seen the cause.
    await new Promise((resolve) => setTimeout(resolve, 1500));
    const refused = await runCommand(["rearm", ...config, "tank", "loach"]);
    expect(refused.exitCode).toBe(1);
    expect(refused.output).toContain("the limit is 60 mg/L");

    for (let count = 0; count < 5; count += 1) await bench().observer.publish("tank/ph", "6.9");
    for (const topic of [
      "tank/loach",
      "valve/outlet",
      "valve/outlet/override",
      "alarms",
      "daemon",
      "rearm",
    ]) {
      await bench().observer.publish(
        `fizzward/mill-house/${topic}`,
        '{"command":"rearm","kind":"tank","id":"loach"}',
      );
    }
    await new Promise((resolve) => setTimeout(resolve, 2500));
    expect(bench().relay.isOn()).toBe(false);

    const rearmed = await runCommand(["rearm", ...config, "tank", "loach"]);
    expect(rearmed.output).toContain("is re-armed");
    expect(rearmed.exitCode).toBe(0);
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 10_000 });
  }, 60_000);
});

describe("the disk", () => {
  it("may block for 30 s without moving a valve late", async () => {
    const running = await begin({ maximumAge_s: "12" });
    const blocking = new Database(`${running.folder}/site.db`);
    blocking.pragma("busy_timeout = 5000");
    blocking.exec("BEGIN EXCLUSIVE");
    const from_ms = performance.now();
    try {
      await bench().observer.publish("tank/ph", "6.8");
      const sent_ms = performance.now();
      await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 5000, interval: 10 });
      expect(bench().relay.changes.at(-1)!.at_ms - sent_ms).toBeLessThan(1500);
      await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 20_000, interval: 10 });
      const closed_ms = bench().relay.changes.at(-1)!.at_ms;
      expect(closed_ms - sent_ms).toBeGreaterThan(11_900);
      expect(closed_ms - sent_ms).toBeLessThan(14_000);
      await new Promise((resolve) => setTimeout(resolve, 30_000 - (performance.now() - from_ms)));
    } finally {
      blocking.exec("ROLLBACK");
      blocking.close();
    }
    kill(running.processIds().daemon, "SIGTERM");
    expect(await running.exitCode(20_000)).toBe(0);
    const after = new Database(`${running.folder}/site.db`, { readonly: true });
    const said = after.prepare("SELECT count(*) AS count FROM events WHERE what = 'commanded open'").get();
    after.close();
    expect((said as { count: number }).count).toBeGreaterThanOrEqual(1);
  }, 90_000);
});
