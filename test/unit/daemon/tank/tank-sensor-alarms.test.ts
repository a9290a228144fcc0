import { describe, expect, it } from "vitest";
import { tankSnapshotName } from "../../../../daemon/tank/tank-estimate.js";
import { benchYaml, ControlBench } from "../../../support/control-bench.js";

const startAt = "2026-05-01T12:00:00+02:00";
const started_epochMs = Date.parse(startAt);

async function running(yaml = benchYaml): Promise<ControlBench> {
  const bench = new ControlBench({ yaml, startAt });
  await bench.start();
  await bench.seconds(5);
  return bench;
}

function probeShows(bench: ControlBench, pH: () => number): void {
  let beat = 0;
  bench.sensors.set("loach/ph", () => (pH() + 0.001 * (beat++ % 3)).toFixed(3));
}

const causeOf = (bench: ControlBench, alarmId: string): string | undefined =>
  bench.status.alarms.find(({ condition, raised }) => raised && condition.alarmId === alarmId)?.condition
    .cause;

const calibrate = (bench: ControlBench, shift: number, at?: string) =>
  bench.run.journal.enter(
    {
      kind: "calibration",
      ...(at === undefined ? {} : { at }),
      buffers: [
        { buffer: "7.00", shown: 7 + shift, temperature_degC: 25 },
        { buffer: "4.01", shown: 4.01 + shift, temperature_degC: 25 },
      ],
    },
    "local",
  );

describe("a tank's thermometer", () => {
  it("that falls silent leaves its limit unwatched, which is told", async () => {
    const bench = await running();
    expect(bench.alarms()).toEqual([]);
    bench.sensors.delete("loach/temperature");
    await bench.seconds(310);
    expect(bench.alarms()).toEqual(["tank-sensor/loach-temperature"]);
    expect(causeOf(bench, "tank-sensor/loach-temperature")).toContain(
      "the temperature limit cannot be watched",
    );
    bench.sensors.set("loach/temperature", () => "24.5");
    await bench.seconds(3);
    expect(bench.alarms()).toEqual([]);
  });

  it("that speaks in degrees Fahrenheit from the first day on is told, with what it said", async () => {
    const bench = new ControlBench({ startAt });
    bench.sensors.set("loach/temperature", () => "76.1");
    await bench.start();
    await bench.seconds(290);
    expect(bench.alarms()).toEqual([]);
    await bench.seconds(20);
    expect(causeOf(bench, "tank-sensor/loach-temperature")).toContain("76.1");
  });
});

describe("a probe's calibration", () => {
  it("that finds the probe worn out is told, and widens what is known", async () => {
    const bench = await running();
    await calibrate(bench, 1.1);
    await bench.seconds(65);
    expect(causeOf(bench, "probe/loach-ph")).toContain("worn out");
    expect(bench.status.tanks[0]!.probe!.phSigma).toBeGreaterThanOrEqual(0.2);
  });

  it("that is due is told, and that of today is not", async () => {
    const bench = await running();
    await calibrate(bench, 0, "2026-03-01T12:00:00+01:00");
    await bench.seconds(65);
    expect(bench.alarms()).toEqual(["calibration-due/loach-ph"]);
    await calibrate(bench, 0.02);
    await bench.seconds(65);
    expect(bench.alarms()).toEqual([]);
  });
});

describe("a calibration that raises the pH", () => {
  it("opens no way for CO2 that the probe saw before it: valve and floor go by the lower pH for a day", async () => {
    const bench = await running();
    probeShows(bench, () => 6.8);
    expect(await calibrate(bench, -1)).toMatchObject({
      kind: "kept",
      remarks: [{ kind: "far from the buffer" }, { kind: "far from the buffer" }],
    });
    await bench.seconds(5);
    expect(bench.status.tanks[0]!.pH).toBeCloseTo(7.8, 1);
    expect(bench.status.tanks[0]!.pHForFloor).toBeCloseTo(6.8, 1);
    // The tank at pH 5.8 by the old correction: 190 mg/L at 4 dKH, and below the floor.
    probeShows(bench, () => 5.8);
    await bench.seconds(120);
    expect(bench.relay.isOn()).toBe(false);
    const causes = bench.status.trips.map(({ cause }) => cause);
    expect(causes).toContain("CO2 above the close limit");
    expect(causes).toContain("pH below the floor");
  });

  it("from afar is not taken", async () => {
    const bench = await running();
    const outcome = await bench.run.journal.enter(
      {
        kind: "calibration",
        buffers: [
          { buffer: "7.00", shown: 6, temperature_degC: 25 },
          { buffer: "4.01", shown: 3.01, temperature_degC: 25 },
        ],
      },
      "remote",
    );
    expect(outcome).toMatchObject({ kind: "refused" });
    expect(JSON.stringify(outcome)).toContain("daemon's own machine");
  });
});

describe("a wrong low method", () => {
  it("does not silence the alarm, and its disagreement is told after half an hour", async () => {
    const yaml = benchYaml.replace(
      "limits: { co2Close_mgPerL: 60",
      "degassedPh: { pH: 7.0, how: aerated a day }\n    limits: { co2Close_mgPerL: 100",
    );
    const bench = new ControlBench({ yaml, startAt });
    // At 4 dKH and pH 6.45 about 47 mg/L; the degassed pH hides it.
    probeShows(bench, () => 6.45);
    await bench.start();
    await bench.seconds(130);
    expect(bench.status.tanks[0]!.agreement?.kind).toBe("methods disagree");
    expect(bench.alarms()).toContain("co2-alarm/loach");
    expect(bench.alarms()).not.toContain("methods-disagree/loach");
    await bench.seconds(1700);
    expect(causeOf(bench, "methods-disagree/loach")).toContain("disagree by a factor");
  });
});

describe("a tank whose estimate fails", () => {
  it("is not one whose kept trace holds what no water has: that is left out", async () => {
    const bench = new ControlBench({ startAt });
    probeShows(bench, () => 6.8);
    // A trace in the kept memory that no formula takes.
    const correction = "loach-ph 1 0 ";
    const trace = Array.from({ length: 30 }, (_, index) => ({
      at_epochMs: started_epochMs - (31 - index) * 50_000,
      pH: -400,
    }));
    bench.disk.snapshots.set(tankSnapshotName, {
      json: JSON.stringify({ state: { loach: { correction, trace, past: [] } } }),
      at_epochMs: started_epochMs - 1000,
    });
    await bench.start();
    await bench.seconds(10);
    expect(bench.alarms()).not.toContain("control-pass");
    expect(bench.relay.isOn()).toBe(true);
  });

  const secondTank = benchYaml
    .replace(
      "  loach-temperature:",
      "  shrimp-ph: { measures: pH, topic: shrimp/ph, maximumAge_s: 120 }\n  loach-temperature:",
    )
    .replace(
      "valves:\n",
      `  shrimp:
    volume_L: 60
    kh_dKH: 4
    phSensor: shrimp-ph
    photoperiods: [{ lightsOn: "10:00", lightsOff: "19:00" }]
valves:
  side:
    vessel: cellar
    feeds: [{ tank: shrimp, share: 1 }]
    guardSensors: [shrimp-ph]
    relay: { commandTopic: relay/2/command, stateTopic: relay/2/state, payloadOn: "ON", payloadOff: "OFF", stateOn: "ON", stateOff: "OFF", autoOff_s: 120, powerOnState: off }
`,
    );

  it("of any cause closes its own valve and no other", async () => {
    const bench = new ControlBench({ yaml: secondTank, startAt });
    let beat = 0;
    bench.sensors.set("shrimp/ph", () => (6.8 + 0.001 * (beat++ % 3)).toFixed(3));
    await bench.start();
    await bench.seconds(10);
    expect(bench.relay.isOn()).toBe(true);
    const tank = bench.run.cycle.model().tanks.get("loach");
    // A broken value where the program trusts the config.
    Object.defineProperty(tank, "salts", {
      get: () => {
        throw new Error("a broken value");
      },
    });
    probeShows(bench, () => 6.7);
    await bench.seconds(3);
    expect(bench.relay.isOn()).toBe(false);
    expect(bench.alarms()).toContain("tank-not-judged/loach");
    expect(bench.alarms()).not.toContain("control-pass");
    const loach = bench.status.valves.find(({ valveId }) => valveId === "outlet")!;
    expect(loach.decision.reason).toContain("nothing can be said of loach");
    expect(bench.relays.get("side")!.isOn()).toBe(true);
  });
});
