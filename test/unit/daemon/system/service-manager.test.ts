import { chmodSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { delimiter, join } from "node:path";
import { afterEach, describe, expect, it, vi } from "vitest";
import { createServiceManager, type ServiceEnvironment } from "../../../../daemon/system/service-manager.js";
import { CollectingLogger } from "../../../support/collecting-logger.js";
import { FakeClock } from "../../../support/fake-clock.js";

/** Names and meaning of the assignments: sd_notify(3); of the environment: sd_watchdog_enabled(3). */
const asked: ServiceEnvironment = { NOTIFY_SOCKET: "/run/notify", WATCHDOG_USEC: "30000000" };

function bench(environment: ServiceEnvironment, answers = true) {
  const clock = new FakeClock(0);
  const logger = new CollectingLogger();
  const told: string[] = [];
  let passed_monotonicMs: number | undefined = undefined;
  const manager = createServiceManager(
    { clock, logger },
    environment,
    () => passed_monotonicMs,
    (lines) => {
      told.push(...lines);
      return Promise.resolve(answers);
    },
  );
  return { clock, logger, told, manager, pass: (at_ms: number) => (passed_monotonicMs = at_ms) };
}

const feeds = (told: readonly string[]): number => told.filter((line) => line === "WATCHDOG=1").length;

describe("the service manager", () => {
  it("is told nothing where none asked", async () => {
    const { manager, told, clock } = bench({ WATCHDOG_USEC: "30000000" });
    manager.ready();
    await clock.advance(60_000);
    manager.ending();
    expect(told).toEqual([]);
  });

  it("hears that the daemon runs, and that it ends", () => {
    const { manager, told } = bench(asked);
    manager.ready();
    expect(told).toContain("READY=1");
    expect(told).not.toContain("WATCHDOG=1");
    manager.ending();
    expect(told).toContain("STOPPING=1");
  });

  it("has its watchdog fed three times within its time while passes complete", async () => {
    const { manager, told, clock, pass } = bench(asked);
    pass(0);
    manager.ready();
    for (let second = 1; second < 30; second += 1) {
      pass(second * 1000);
      await clock.advance(1000);
    }
    expect(feeds(told)).toBe(3);
  });

  it("is told of with its watchdog, and since when that was fed", async () => {
    expect(bench({}).manager.view()).toEqual({ kind: "none" });
    const { manager, clock, pass } = bench(asked);
    expect(manager.view()).toEqual({ kind: "told", watchdog_s: 30, fedBefore_s: undefined });
    pass(0);
    manager.ready();
    await clock.advance(4000);
    expect(manager.view()).toEqual({ kind: "told", watchdog_s: 30, fedBefore_s: 4 });
    const unwatched = bench({ NOTIFY_SOCKET: "/run/notify" }).manager;
    expect(unwatched.view()).toEqual({ kind: "told", watchdog_s: undefined, fedBefore_s: undefined });
  });

  it("starves as soon as no further pass completes, however alive the process is", async () => {
    const { manager, told, clock, pass } = bench(asked);
    pass(1);
    manager.ready();
    await clock.advance(120_000);
    expect(feeds(told)).toBe(1);
    pass(2);
    await clock.advance(10_000);
    expect(feeds(told)).toBe(2);
  });

  it("has no watchdog fed where it set none, nor after the end began", async () => {
    const without = bench({ NOTIFY_SOCKET: "/run/notify" });
    without.pass(1);
    without.manager.ready();
    await without.clock.advance(60_000);
    expect(feeds(without.told)).toBe(0);

    const { manager, told, clock, pass } = bench(asked);
    pass(1);
    manager.ready();
    manager.ending();
    pass(2);
    await clock.advance(60_000);
    expect(feeds(told)).toBe(1);
  });

  it("is named in one warning when it cannot be told", async () => {
    const { manager, logger, clock, pass } = bench(asked, false);
    pass(1);
    manager.ready();
    pass(2);
    await clock.advance(10_000);
    manager.ending();
    await clock.advance(0);
    expect(logger.lines.filter(({ level }) => level === "warn")).toHaveLength(1);
  });
});

describe("by the service manager's own program", () => {
  const folder = mkdtempSync(join(tmpdir(), "fizzward-notify-"));
  const path = process.env.PATH;
  afterEach(() => {
    process.env.PATH = path;
    rmSync(folder, { recursive: true, force: true });
  });

  it("hands over the assignments as its arguments", async () => {
    const heard = join(folder, "heard");
    const program = join(folder, "systemd-notify");
    writeFileSync(program, `#!/bin/sh\nprintf '%s\\n' "$@" >> '${heard}'\n`);
    chmodSync(program, 0o755);
    process.env.PATH = `${folder}${delimiter}${path}`;
    const manager = createServiceManager(
      { clock: new FakeClock(0), logger: new CollectingLogger() },
      asked,
      () => undefined,
    );
    manager.ready();
    await vi.waitFor(() => expect(existsSync(heard) && readFileSync(heard, "utf8")).toContain("READY=1\n"));
    manager.ending();
  });
});
