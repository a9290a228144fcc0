import { describe, expect, it, vi } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { kill, plainConfig, type DaemonProcess } from "../support/daemon-process.js";

const bench = useDaemonBench();

const run = (config: Readonly<Record<string, string>> = {}): Promise<DaemonProcess> =>
  bench().run({ config });

/** The last document on a topic below the base. */
function lastDocument(topic: string): Record<string, unknown> {
  const message = bench()
    .observer.messages.filter((m) => m.topic === `fizzward/mill-house/${topic}`)
    .at(-1);
  const document: unknown = message === undefined ? {} : JSON.parse(message.payload);
  return { ...(document as object) };
}

const pressureForms = [
  {
    unit: "psi",
    value: "",
    payload: "203.05",
    bar: 14,
    because: "1 psi is 6894.757 Pa: NIST SP 811 (2008), table B.8",
  },
  {
    unit: "bar",
    value: "$.gauge.reading",
    payload: '{"gauge":{"reading":14.0}}',
    bar: 14,
    because: "RFC 9535 JSONPath",
  },
  {
    unit: "kPa",
    value: "/channels/1",
    payload: '{"channels":[3,1400]}',
    bar: 14,
    because: "RFC 6901 pointer",
  },
  {
    unit: "kgf/cm2",
    value: "$['p']",
    payload: '{"p":"7.0"}',
    bar: 6.8647,
    because: "1 kgf/cm2 is 98066.5 Pa: NIST SP 811 (2008), table B.8",
  },
];

describe("real payloads through mosquitto", () => {
  it.each(pressureForms)("reads a pressure in $unit ($because)", async ({ unit, value, payload, bar }) => {
    const selector = value === "" ? "" : `, value: "${value}"`;
    await run({
      sensors: `  gauge: { measures: pressure, unit: ${unit}, reference: gauge, topic: cellar/gauge${selector} }`,
      vesselKeys: ", pressureSensor: gauge",
    });
    await bench().observer.publish("cellar/gauge", payload);
    await vi.waitFor(
      () => expect(lastDocument("vessel/cellar")).toMatchObject({ pressureGauge_bar: { fresh: true } }),
      { timeout: 15_000 },
    );
    const { pressureGauge_bar } = lastDocument("vessel/cellar") as { pressureGauge_bar: { value: number } };
    expect(pressureGauge_bar.value).toBeCloseTo(bar, 3);
  });

  it.each([
    { unit: "degC", payload: "25.0" },
    { unit: "degF", payload: "77.0" },
    { unit: "K", payload: "298.15" },
  ])("reads a temperature in $unit and closes above the tank's limit", async ({ unit, payload }) => {
    await run({
      sensors: `  warm: { measures: temperature, unit: ${unit}, topic: tank/warm }`,
      tankKeys: "    temperatureSensor: warm\n    limits: { temperatureHigh_degC: 24 }",
    });
    await bench().observer.publish("tank/warm", payload);
    await bench().observer.publish("tank/ph", "6.8");
    await vi.waitFor(
      () =>
        expect(lastDocument("tank/loach")).toMatchObject({ temperature_degC: { value: 25, fresh: true } }),
      { timeout: 15_000 },
    );
    await vi.waitFor(
      () => expect(String(lastDocument("valve/outlet")["reason"])).toContain("temperature above the limit"),
      { timeout: 5000 },
    );
    expect(bench().relay.changes).toEqual([]);
  });

  it("goes on after garbage on every topic it listens to", async () => {
    const started = await run();
    const garbage = ["", "nan", "6,8", "{", "[]", '{"a":1}', "\u0000", "9".repeat(5000), "-Infinity", "0x1"];
    for (const payload of garbage) {
      for (const topic of ["tank/ph", "relay/state", "fizzward/mill-house/valve/outlet/override"]) {
        await bench().observer.publish(topic, payload);
      }
    }
    await bench().observer.publish("tank/ph", "6.8");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 10_000 });
    expect(started.child.exitCode).toBeNull();
  });

  it("does not count a retained reading as fresh", async () => {
    await bench().observer.publish("tank/ph", "6.8", { retain: true });
    await run();
    await new Promise((resolve) => setTimeout(resolve, 3000));
    expect(bench().relay.changes).toEqual([]);
    await vi.waitFor(
      () =>
        expect(String(lastDocument("valve/outlet")["reason"])).toContain(
          "has not spoken yet since the start",
        ),
      {
        timeout: 5000,
      },
    );
  });

  it("ignores a retained override and answers a live one", async () => {
    const topic = "fizzward/mill-house/valve/outlet/override";
    const closed = JSON.stringify({ action: "closed", until: new Date(Date.now() + 600_000).toISOString() });
    await bench().observer.publish(topic, closed, { retain: true });
    await run();
    await bench().observer.publish("tank/ph", "6.8");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 10_000 });
    await bench().observer.publish(topic, closed);
    const answer = await bench().observer.next(`${topic}/answer`, { timeout_ms: 5000 });
    expect(JSON.parse(answer.payload)).toEqual({ accepted: true });
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 5000 });
  });
});

describe("SIGHUP", () => {
  it("takes a changed config between two ticks, and a faulty one changes nothing and is named", async () => {
    const started = await run();
    await bench().observer.publish("tank/ph", "6.8");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 10_000 });
    const good = plainConfig(bench().broker.address)(started.folder);

    started.writeConfig(good.replace("kh_dKH: 4", "kh_dKH: four"));
    kill(started.processIds().daemon, "SIGHUP");
    await started.logged("changes nothing");
    expect(started.output()).toContain("kh_dKH");
    expect(bench().relay.isOn()).toBe(true);

    // Day off on every date: the window is gone.
    started.writeConfig(
      good.replace(
        "    lead_min: 0",
        '    lead_min: 0\n    datesOff: [{ from: "2020-01-01", to: "2090-01-01" }]',
      ),
    );
    kill(started.processIds().daemon, "SIGHUP");
    await started.logged("tanks.loach.datesOff[0]: added");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 5000 });
    await vi.waitFor(() => expect(lastDocument("valve/outlet")["reason"]).toBe("outside the dosing window"), {
      timeout: 5000,
    });
  });

  it("does not take a file that may be half written", async () => {
    const started = await run();
    const good = plainConfig(bench().broker.address)(started.folder);
    started.writeConfig(good.trimEnd());
    kill(started.processIds().daemon, "SIGHUP");
    await started.logged("does not end with a line end");

    started.writeConfig(good);
    kill(started.processIds().daemon, "SIGHUP");
    await new Promise((resolve) => setTimeout(resolve, 300));
    started.writeConfig(good.replace("kh_dKH: 4", "kh_dKH: 5"));
    await started.logged("still being written");
    expect(started.output()).not.toContain('the config was read again"');
  });

  it("clears the retained document of a tank that is gone, and tells of the one that came", async () => {
    const started = await run();
    await bench().observer.publish("tank/ph", "6.8");
    await bench().observer.next("fizzward/mill-house/tank/loach", { timeout_ms: 10_000 });
    const last = (tank: string): string | undefined =>
      bench()
        .observer.messages.filter((m) => m.topic === `fizzward/mill-house/tank/${tank}`)
        .at(-1)?.payload;
    started.writeConfig(plainConfig(bench().broker.address)(started.folder).replaceAll("loach", "pond"));
    kill(started.processIds().daemon, "SIGHUP");
    await vi.waitFor(() => expect(last("loach")).toBe(""), { timeout: 10_000 });
    await vi.waitFor(() => expect(last("pond")).toContain('"kh_dKH":4'), { timeout: 10_000 });
  });
});
