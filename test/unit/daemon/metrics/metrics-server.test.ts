import { createServer } from "node:http";
import type { AddressInfo } from "node:net";
import { describe, expect, it, onTestFinished, vi } from "vitest";
import { createMetricsServer } from "../../../../daemon/metrics/metrics-server.js";
import { metricsText } from "../../../../daemon/metrics/site-metrics.js";
import type { SiteStatus } from "../../../../daemon/site-status.js";
import { ControlBench } from "../../../support/control-bench.js";
import { parseOpenMetrics } from "../../../support/openmetrics-parser.js";

async function running(seconds = 30): Promise<ControlBench> {
  const bench = new ControlBench({ startAt: "2026-05-04T10:00:00Z" });
  await bench.start();
  await bench.seconds(seconds);
  return bench;
}

async function served(bench: ControlBench, status: () => SiteStatus | undefined): Promise<string> {
  const server = createMetricsServer(
    { clock: bench.clock, logger: bench.logger },
    { status, model: () => bench.model },
    0,
  );
  const port = await server.start();
  onTestFinished(() => server.stop());
  return `http://127.0.0.1:${port}`;
}

describe("the metrics of a site", () => {
  it("are OpenMetrics to a strict reader, in base units, with a help text each", async () => {
    const bench = await running();
    const families = parseOpenMetrics(await metricsText("openmetrics", bench.status, bench.model));
    const one = (name: string): unknown => families.get(name)?.samples;
    expect(one("fizzward_valve_open")).toEqual([{ labels: { valve: "outlet" }, value: 1 }]);
    expect(one("fizzward_sensor_temperature_celsius")).toEqual([
      { labels: { sensor: "loach-temperature" }, value: 24.5 },
    ]);
    expect(families.get("fizzward_alarms")?.samples).toHaveLength(4);
    const [co2] = families.get("fizzward_tank_co2_grams_per_cubic_metre")!.samples;
    expect(co2!.value).toBe(Number(bench.status.tanks[0]!.co2!.co2_mgPerL.toPrecision(2)));
    for (const { name, help, type } of families.values()) {
      expect(type, name).toBe(name === "fizzward_sensor_readings" ? "counter" : "gauge");
      expect(help.length, name).toBeGreaterThan(10);
      expect(name).toMatch(/^fizzward_[a-z0-9_]+$/);
      // Prometheus, "Metric and label naming": base units only.
      expect(name).not.toMatch(/gauge|_(bar|mbar|kpa|minutes|hours|milligrams|kilograms|kelvin|percent)\b/);
    }
  });

  it("have a pressure in pascals above that of the air", async () => {
    const bench = await running();
    const view = bench.status.sensors[0]!;
    const model = {
      ...bench.model,
      sensors: new Map([
        [
          view.sensorId,
          {
            ...bench.model.sensors.get(view.sensorId)!,
            rules: {
              ...bench.model.sensors.get(view.sensorId)!.rules,
              quantity: "pressureGauge_bar" as const,
            },
          },
        ],
      ]),
    };
    const status = {
      ...bench.status,
      sensors: [{ ...view, lastAccepted: { ...view.lastAccepted!, value: 12.5 } }],
    };
    const families = parseOpenMetrics(await metricsText("openmetrics", status, model));
    expect(families.get("fizzward_sensor_pressure_pascals")?.samples).toEqual([
      { labels: { sensor: view.sensorId }, value: 1_250_000 },
    ]);
  });

  it("count each sensor's readings by what became of them, in the classic form too", async () => {
    const bench = await running(10);
    bench.sensors.set("loach/ph", () => "no number");
    await bench.seconds(3);
    bench.sensors.set("loach/ph", () => "99");
    await bench.seconds(2);
    const families = parseOpenMetrics(await metricsText("openmetrics", bench.status, bench.model));
    const ofProbe = families
      .get("fizzward_sensor_readings")!
      .samples.filter(({ labels, value }) => labels["sensor"] === "loach-ph" && value > 0)
      .map(({ labels, value }) => [labels["outcome"], value]);
    expect(ofProbe).toEqual([
      ["accepted", 10],
      ["undecodable", 3],
      ["implausible", 2],
    ]);
    const classic = await metricsText("classic", bench.status, bench.model);
    expect(classic).toContain("# TYPE fizzward_sensor_readings_total counter\n");
    expect(classic).toContain('fizzward_sensor_readings_total{sensor="loach-ph",outcome="accepted"} 10\n');
  });

  it("have no sample of what is not known", async () => {
    const bench = await running();
    bench.sensors.clear();
    await bench.seconds(400);
    const families = parseOpenMetrics(await metricsText("openmetrics", bench.status, bench.model));
    expect(families.has("fizzward_sensor_ph")).toBe(false);
    expect(families.has("fizzward_tank_co2_grams_per_cubic_metre")).toBe(false);
    expect(families.get("fizzward_sensor_age_seconds")!.samples[0]!.value).toBeGreaterThan(390);
    const bands = families.get("fizzward_tank_band")!.samples.filter(({ value }) => value === 1);
    expect(bands.map(({ labels }) => labels["band"])).toEqual(["not known"]);
  });
});

describe("the place where metrics are read", () => {
  it("gives the form that is asked for, and the classic one otherwise", async () => {
    const bench = await running();
    const url = await served(bench, () => bench.status);
    const open = await fetch(`${url}/metrics`, {
      headers: { Accept: "application/openmetrics-text;version=1.0.0,text/plain;q=0.5" },
    });
    expect(open.headers.get("content-type")).toContain("application/openmetrics-text; version=1.0.0");
    expect(parseOpenMetrics(await open.text()).size).toBeGreaterThan(10);
    const classic = await fetch(`${url}/metrics`);
    expect(classic.headers.get("content-type")).toContain("text/plain; version=0.0.4");
    expect(await classic.text()).not.toContain("# EOF");
  });

  it("can only be read, has nothing else, and says whether the daemon works", async () => {
    const bench = await running();
    const seen: SiteStatus[] = [];
    const url = await served(bench, () => seen.at(-1));
    expect((await fetch(`${url}/healthz`)).status).toBe(503);
    expect((await fetch(`${url}/metrics`)).status).toBe(503);
    seen.push(bench.status);
    const healthy = await fetch(`${url}/healthz`);
    expect([healthy.status, await healthy.text()]).toEqual([200, "ok\n"]);
    expect((await fetch(`${url}/metrics`, { method: "POST", body: "x" })).status).toBe(405);
    expect((await fetch(`${url}/../etc/passwd`)).status).toBe(404);
    await bench.clock.advance(20_000);
    const late = await fetch(`${url}/healthz`);
    expect([late.status, await late.text()]).toEqual([
      503,
      expect.stringContaining("the last control pass was 2"),
    ]);
  });

  it("says which port is taken, keeps nobody from starting, and tries again", async () => {
    const bench = await running(1);
    const first = createServer();
    await new Promise<void>((resolve) => first.listen(0, "127.0.0.1", resolve));
    onTestFinished(() => void first.close());
    const { port } = first.address() as AddressInfo;
    const second = createMetricsServer(
      { clock: bench.clock, logger: bench.logger },
      { status: () => bench.status, model: () => bench.model },
      port,
    );
    onTestFinished(() => second.stop());
    expect(await second.start()).toBeUndefined();
    const told = bench.logger.lines.filter(({ level }) => level === "error");
    expect(told.map(({ message }) => message)).toEqual([
      "the metrics cannot be told at this port; set metrics.port to a free one",
    ]);
    await new Promise<void>((resolve) => {
      first.close(() => resolve());
      first.closeAllConnections();
    });
    await bench.clock.advance(60_000);
    await vi.waitFor(() => fetch(`http://127.0.0.1:${port}/healthz`));
  });
});
