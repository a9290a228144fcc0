import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, it, onTestFinished, vi } from "vitest";
import { createApp } from "../../daemon/app.js";
import type { SiteConfig } from "../../daemon/config/config-schema.js";
import { loadConfig } from "../../daemon/config/load-config.js";
import { createAcceleratedClock } from "../../daemon/demo/accelerated-clock.js";
import { createSimulatedDevices } from "../../daemon/demo/simulated-devices.js";
import type { SiteEvent } from "../../daemon/ports/site-store.js";
import { systemClock } from "../../daemon/system/system-clock.js";
import { createRandomSource } from "../../lib/simulation/random-source.js";
import { observeBroker } from "../support/broker-observer.js";
import { CollectingLogger } from "../support/collecting-logger.js";
import { useDaemonBench } from "../support/daemon-bench.js";
import { runCommand } from "../support/daemon-process.js";
import { startMosquitto } from "../support/mosquitto.js";

type Document = Readonly<Record<string, unknown>>;

describe("what is left in a vessel, by gauges read by eye over a real broker", () => {
  const bench = useDaemonBench();
  const base = "fizzward/mill-house";
  const closedAt = new Date(Date.now() - 20 * 86_400_000).toISOString().replace(/\.\d+Z$/, "Z");
  const vesselKeys = `,
    charge: { sodiumBicarbonate_g: 120, citricAcidAnhydrous_g: 100, water_kg: 0.5, sealedAt_degC: 20, closedAt: "${closedAt}" }`;

  const vesselWhere = (check: (vessel: Document) => void, from = 0): Promise<Document> =>
    vi.waitFor(
      () => {
        const last = bench()
          .observer.messages.slice(from)
          .filter(({ topic, payload }) => topic === `${base}/vessel/cellar` && payload !== "")
          .at(-1);
        if (last === undefined) throw new Error("no document yet");
        const vessel = JSON.parse(last.payload) as Document;
        check(vessel);
        return vessel;
      },
      { timeout: 25_000, interval: 50 },
    );
  const left = (vessel: Document): number => vessel["co2Remaining_g"] as number;
  const width = (vessel: Document): number => {
    const [low, high] = vessel["co2Remaining80_g"] as readonly [number, number];
    return high - low;
  };
  const doubts = (vessel: Document): readonly string[] =>
    (vessel["warnings"] as readonly { readonly id: string }[])
      .map(({ id }) => id)
      .filter((id) => id.startsWith("pressure"));
  let sent = 0;
  const readGauge = (pressure: number, unit = "bar"): Promise<void> =>
    bench().observer.publish(
      `${base}/journal/enter`,
      JSON.stringify({ id: (sent += 1), kind: "gauge reading", vessel: "cellar", pressure, unit }),
    );

  it("is told at once, moves with a reading, stays over a restart, and not for a unit mistaken", async () => {
    const daemon = await bench().run({ config: { vesselKeys } });
    const unread = await vesselWhere((vessel) => expect(vessel["pressureFrom"]).toBe("nothing yet"));
    expect(unread).toMatchObject({ chargeFrom: "config", pressureAge_s: null });
    expect(left(unread)).toBeGreaterThan(0);

    await readGauge(8.2);
    const read = await vesselWhere((vessel) => expect(vessel["pressureFrom"]).toBe("by eye"));
    expect(width(read)).toBeLessThan(width(unread));
    expect(read["co2Remaining_percent"] as number).toBeGreaterThan(35);
    expect(read["co2Remaining_percent"] as number).toBeLessThan(75);
    // After one look by eye the day of its end is not known yet.
    expect((read["runOut"] as Document)["median"]).toBeNull();

    // 8.2 bar are 119 psi: the number read off the outer scale and entered as bar.
    await readGauge(119);
    const doubted = await vesselWhere((vessel) =>
      expect(doubts(vessel)).toEqual(["pressure-in-another-unit"]),
    );
    expect(left(doubted)).toBeCloseTo(left(read), 0);
    await readGauge(8.1);
    await vesselWhere((vessel) => expect(doubts(vessel)).toEqual([]));

    const status = await runCommand(["status", "--config", daemon.configFile]);
    expect(status.output).toMatch(/CO2 left \d+ of 63 g \(80 %: \d+ to \d+ g\)/);
    expect(status.output).toMatch(/(runs out about|may run out from) 20\d\d-\d\d-\d\d/);

    daemon.child.kill("SIGTERM");
    await daemon.exitCode();
    const from = bench().observer.messages.length;
    await bench().run({ config: { vesselKeys }, folder: daemon.folder });
    const after = await vesselWhere((vessel) => expect(vessel["pressureFrom"]).toBe("by eye"), from);
    expect(left(after)).toBeCloseTo(left(read), 0);
    expect(width(after)).toBeLessThan(width(unread));
  }, 120_000);
});

describe("a charge that ends, in accelerated time over a real broker", () => {
  it("raises the run-out alarm while gas is left, and holds the valve closed when none is", async () => {
    const broker = await startMosquitto();
    const observer = await observeBroker(broker.address);
    const folder = mkdtempSync(join(tmpdir(), "fizzward-supply-"));
    const parsed = await loadConfig(new URL("../../config/demo-site.yaml", import.meta.url).pathname);
    if (parsed.kind === "invalid") throw new Error("the demo's site has faults");
    const startAt_epochMs = Date.parse("2026-03-02T07:50:00+01:00");
    const { cellar } = parsed.config.vessels;
    if (cellar?.kind !== "generator" || cellar.charge === undefined) throw new Error("no charge");
    const config: SiteConfig = {
      ...parsed.config,
      broker: { ...parsed.config.broker, addresses: [broker.address] },
      control: { ...parsed.config.control, clientSocket: join(folder, "control.sock") },
      store: { ...parsed.config.store, file: join(folder, "site.db") },
      vessels: {
        cellar: {
          ...cellar,
          // Little more than what the regulator needs: an hour or two of gas.
          charge: { ...cellar.charge, sodiumBicarbonate_g: 28, citricAcidAnhydrous_g: 23 },
        },
      },
    };
    const clock = createAcceleratedClock({ startAt_epochMs, speed: 400 });
    const logger = new CollectingLogger();
    const random = createRandomSource(7);
    const devices = createSimulatedDevices({
      brokerAddress: broker.address,
      site: config,
      clock,
      random,
      startAt_epochMs,
      lightsOnAt: () => true,
      logger,
    });
    const events: SiteEvent[] = [];
    const app = createApp({
      config,
      access: { addresses: [broker.address] },
      clock,
      machineClock: systemClock,
      logger,
      random,
      synchronisation: () => "synchronised",
      relaysCountAsCommissioned: true,
      onEvent: (event) => events.push(event),
    });
    onTestFinished(async () => {
      await app.stop();
      await devices.stop();
      clock.stop();
      await observer.close();
      await broker.stop();
      rmSync(folder, { recursive: true, force: true });
    });
    await devices.start();
    await app.start();
    await systemClock.sleep(800);
    clock.start();
    const raised = (id: string): boolean =>
      app.status()?.alarms.some(({ condition, raised: isRaised }) => condition.alarmId === id && isRaised) ??
      false;
    await vi.waitFor(() => expect(raised("charge-runs-out/cellar")).toBe(true), {
      timeout: 60_000,
      interval: 50,
    });
    const estimate = app.status()?.supplies[0]?.told?.estimate;
    expect(estimate?.dosingLeft_days).toBeLessThan(3);
    expect(app.status()?.valves[0]?.decision.action).toBe("open");
    await vi.waitFor(() => expect(raised("end-of-charge/cellar")).toBe(true), {
      timeout: 120_000,
      interval: 50,
    });
    await vi.waitFor(
      () => {
        const alarms = observer.messages.filter(({ topic }) => topic === "fizzward/brook-lane/alarms").at(-1);
        expect(alarms?.payload).toContain("end-of-charge/cellar");
      },
      { timeout: 10_000, interval: 50 },
    );
    expect(app.status()?.valves[0]?.decision.action).toBe("closed");
    expect(events.filter(({ area }) => area === "trip")).toEqual([]);
  }, 200_000);
});
