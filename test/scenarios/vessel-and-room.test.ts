import { describe, expect, it } from "vitest";
import type { SocketReply } from "../../daemon/control-socket/control-socket.js";
import { statusLines } from "../../daemon/status-text.js";
import { benchYaml, ControlBench, type BenchOptions } from "../support/control-bench.js";
import { edited } from "../support/marked-config.js";

/** The control path inside a dosing window, with a vessel whose pressure is measured, in a room whose air is. */
const yaml = edited(benchYaml, [
  [
    "vessels:\n  cellar: { kind: generator, volume_L: 2, workingPressureGauge_bar: 3 }",
    `  cellar-gauge: { measures: pressure, unit: bar, reference: gauge, topic: cellar/gauge, accuracy: 0.2 }
  cellar-air: { measures: co2InAir, topic: cellar/air }
vessels:
  cellar:
    kind: generator
    volume_L: 2
    workingPressureGauge_bar: 3
    ratedPressureGauge_bar: 20
    reliefOpeningGauge_bar: 18
    pressureSensor: cellar-gauge
    roomCo2Sensor: cellar-air`,
  ],
]);

async function openBench(options: Partial<BenchOptions> = {}): Promise<ControlBench> {
  const bench = new ControlBench({ yaml, startAt: "2026-05-04T09:00:00Z", ...options });
  bench.sensors.set("cellar/gauge", () => "12");
  bench.sensors.set("cellar/air", () => "700");
  await bench.start();
  await bench.seconds(60);
  expect(bench.relay.isOn()).toBe(true);
  return bench;
}

const alarmOf = (bench: ControlBench, alarmId: string) =>
  bench.status.alarms.find(({ condition }) => condition.alarmId === alarmId);
const text = (reply: SocketReply): string => reply.text;

describe("a vessel above its rating", () => {
  it("trips its valve within seconds, sends people away, and is re-armed at the machine once it is below", async () => {
    const bench = await openBench();
    // Slow enough for the gate of spikes: a vessel in the sun.
    let gauge_bar = 15;
    bench.sensors.set("cellar/gauge", () => (gauge_bar += 0.05).toFixed(2));
    await bench.seconds(70);
    expect(gauge_bar).toBeGreaterThan(17.8);
    expect(bench.relay.isOn()).toBe(false);
    expect(bench.decision.gist).toBe("tripped");
    expect(bench.decision.reason).toMatch(/vessel cellar is at 17\.[89] bar, give or take 0\.2/);
    const alarm = alarmOf(bench, "trip/valve/outlet/pressure above the rating");
    expect(alarm?.condition).toMatchObject({ priority: "critical" });
    expect(alarm?.condition.whatToDo).toMatch(
      /Keep away.*ventilate.*Loosen and open nothing.*never lets gas out/s,
    );
    expect(bench.alarms()).toEqual(["trip/valve/outlet/pressure above the rating"]);

    expect(await bench.say({ command: "rearm", kind: "valve", id: "outlet" })).toMatchObject({
      kind: "refused",
    });
    bench.sensors.delete("cellar/gauge");
    await bench.seconds(301);
    const silent = await bench.say({ command: "rearm", kind: "valve", id: "outlet" });
    expect(silent).toMatchObject({ kind: "refused" });
    expect(text(silent)).toContain("the pressure of vessel cellar is not known");
    bench.sensors.set("cellar/gauge", () => "12");
    await bench.seconds(10);
    expect(bench.relay.isOn()).toBe(false);
    expect(await bench.say({ command: "rearm", kind: "valve", id: "outlet" })).toMatchObject({
      kind: "done",
    });
    await bench.seconds(61);
    expect(bench.relay.isOn()).toBe(true);
  });

  it("trips by a gauge that was read by eye and entered, where no sensor speaks, until a lower one is entered", async () => {
    const byEye = edited(yaml, [["    pressureSensor: cellar-gauge\n", ""]]);
    const bench = await openBench({ yaml: byEye });
    await bench.run.journal.enter(
      { kind: "gauge reading", vessel: "cellar", pressure: 12, unit: "bar" },
      "local",
    );
    await bench.seconds(5);
    expect(bench.relay.isOn()).toBe(true);
    await bench.run.journal.enter(
      { kind: "gauge reading", vessel: "cellar", pressure: 25, unit: "bar" },
      "local",
    );
    await bench.seconds(5);
    expect(bench.relay.isOn()).toBe(false);
    expect(bench.decision.reason).toContain("vessel cellar is at 25 bar, give or take 0.4");
    expect(bench.alarms()).toEqual(["trip/valve/outlet/pressure above the rating"]);
    expect(await bench.say({ command: "rearm", kind: "valve", id: "outlet" })).toMatchObject({
      kind: "refused",
    });
    await bench.run.journal.enter(
      { kind: "gauge reading", vessel: "cellar", pressure: 12.1, unit: "bar" },
      "local",
    );
    await bench.seconds(5);
    expect(await bench.say({ command: "rearm", kind: "valve", id: "outlet" })).toMatchObject({
      kind: "done",
    });
  });

  it("is not told by a gauge that its sensor has contradicted since, when that falls silent or the daemon starts", async () => {
    const bench = await openBench();
    await bench.run.journal.enter(
      { kind: "gauge reading", vessel: "cellar", pressure: 174, unit: "bar", sure: true },
      "local",
    );
    await bench.seconds(5);
    bench.sensors.delete("cellar/gauge");
    await bench.seconds(310);
    expect(bench.status.trips).toEqual([]);
    expect(bench.alarms()).not.toContain("above-rating/cellar");
    bench.sensors.set("cellar/gauge", () => "12");
    await bench.kill();
    await bench.start();
    bench.sensors.delete("cellar/gauge");
    await bench.seconds(20);
    bench.sensors.set("cellar/gauge", () => "12");
    await bench.seconds(20);
    expect(bench.status.trips).toEqual([]);
    expect(bench.run.events.filter(({ area }) => area === "alarm")).toEqual([]);
  });

  it.each([
    { says: undefined, because: "its sensor is silent" },
    { says: "174", because: "its sensor speaks in another unit" },
  ])("that nobody watches any more is told after a while, and closes nothing: $because", async ({ says }) => {
    const bench = await openBench();
    bench.sensors.set("cellar/gauge", () => says);
    await bench.seconds(550);
    expect(bench.alarms()).toEqual([]);
    await bench.seconds(360);
    expect(bench.alarms()).toEqual(["pressure-silent/cellar"]);
    expect(bench.relay.isOn()).toBe(true);
    bench.sensors.set("cellar/gauge", () => "12");
    await bench.seconds(5);
    expect(bench.alarms()).toEqual([]);
  });

  it("does not call a gauge of the charge before, or of the day before, the pressure of now", async () => {
    const byEye = edited(yaml, [["    pressureSensor: cellar-gauge\n", ""]]);
    const bench = await openBench({ yaml: byEye });
    await bench.run.journal.enter(
      {
        kind: "gauge reading",
        vessel: "cellar",
        pressure: 25,
        unit: "bar",
        at: "2026-05-03T08:00",
      },
      "local",
    );
    await bench.seconds(5);
    expect(bench.relay.isOn()).toBe(true);
  });

  it("without a valve raises a critical alarm of its own", async () => {
    const spare = edited(yaml, [
      [
        "    roomCo2Sensor: cellar-air",
        "    roomCo2Sensor: cellar-air\n  spare:\n    kind: generator\n    volume_L: 2\n    workingPressureGauge_bar: 3\n    ratedPressureGauge_bar: 16\n    pressureSensor: spare-gauge",
      ],
      [
        "  cellar-air: {",
        "  spare-gauge: { measures: pressure, unit: bar, reference: gauge, topic: spare/gauge }\n  cellar-air: {",
      ],
    ]);
    const bench = await openBench({ yaml: spare });
    bench.sensors.set("spare/gauge", () => "15.9");
    await bench.seconds(2);
    expect(bench.alarms()).toEqual(["above-rating/spare"]);
    expect(bench.relay.isOn()).toBe(true);
  });
});

describe("a vessel without a valve whose gauge is read by eye", () => {
  const spare = edited(yaml, [
    [
      "    roomCo2Sensor: cellar-air",
      "    roomCo2Sensor: cellar-air\n  spare:\n    kind: generator\n    volume_L: 2\n    workingPressureGauge_bar: 3\n    ratedPressureGauge_bar: 16",
    ],
  ]);
  const reads = (bench: ControlBench, pressure: number, at?: string) =>
    bench.run.journal.enter(
      { kind: "gauge reading", vessel: "spare", pressure, unit: "bar", ...(at === undefined ? {} : { at }) },
      "local",
    );

  it("raises a critical alarm above its rating, which stands until a lower reading is entered", async () => {
    const bench = await openBench({ yaml: spare });
    await reads(bench, 15.8);
    await bench.seconds(3);
    expect(bench.alarms()).toEqual(["above-rating/spare"]);
    expect(alarmOf(bench, "above-rating/spare")?.condition).toMatchObject({
      priority: "critical",
      whatToDo: expect.stringContaining("Keep away") as string,
    });
    // The other vessel's valve has nothing to do with it.
    expect(bench.relay.isOn()).toBe(true);
    await reads(bench, 9);
    await bench.seconds(605);
    expect(bench.alarms()).toEqual([]);
  });

  it("does not forget it because nobody read the gauge for two days", async () => {
    const bench = await openBench({ yaml: spare });
    await reads(bench, 15.8);
    await bench.second();
    await bench.kill();
    await bench.clock.advance(2 * 86_400_000);
    await bench.start();
    await bench.seconds(3);
    expect(bench.alarms()).toContain("above-rating/spare");
  });

  it("is not told as of now by what was read days ago", async () => {
    const bench = await openBench({ yaml: spare });
    await reads(bench, 15.8, "2026-05-02T08:00");
    await bench.seconds(3);
    expect(bench.alarms()).toEqual([]);
  });
});

describe("CO2 in the air of the vessel's room", () => {
  it("from 5000 ppm on closes the valve and alarms, and lets it go below 4500", async () => {
    const bench = await openBench();
    bench.sensors.set("cellar/air", () => "5000");
    await bench.seconds(2);
    expect(bench.relay.isOn()).toBe(false);
    expect(bench.decision.gist).toBe("CO2 in the room");
    expect(bench.alarms()).toEqual(["room-air/cellar-air"]);
    expect(alarmOf(bench, "room-air/cellar-air")?.condition).toMatchObject({ priority: "high" });
    bench.sensors.set("cellar/air", () => "4600");
    await bench.seconds(120);
    expect(bench.relay.isOn()).toBe(false);
    bench.sensors.set("cellar/air", () => "4500");
    await bench.seconds(2);
    expect(bench.relay.isOn()).toBe(true);
    await bench.seconds(300);
    expect(bench.alarms()).toEqual([]);
  });

  it.each([
    { ppm: "15000", cause: "CO2 in the room from 15000 ppm", toDo: /leave the room, with children/ },
    { ppm: "30000", cause: "CO2 in the room from 30000 ppm", toDo: /Leave the room now/ },
  ])("at $ppm ppm trips and sends people out, with one alarm", async ({ ppm, cause, toDo }) => {
    const bench = await openBench();
    bench.sensors.set("cellar/air", () => ppm);
    await bench.seconds(2);
    expect(bench.relay.isOn()).toBe(false);
    expect(bench.alarms()).toEqual([`trip/valve/outlet/${cause}`]);
    expect(alarmOf(bench, `trip/valve/outlet/${cause}`)?.condition.whatToDo).toMatch(toDo);
    bench.sensors.set("cellar/air", () => "700");
    await bench.seconds(120);
    expect(bench.relay.isOn()).toBe(false);
    expect(await bench.say({ command: "rearm", kind: "valve", id: "outlet" })).toMatchObject({
      kind: "done",
    });
  });

  it("that nobody measures any more alarms, and closes the valve where its sensor is a guard", async () => {
    const bench = await openBench();
    bench.sensors.delete("cellar/air");
    await bench.seconds(310);
    expect(bench.relay.isOn()).toBe(true);
    expect(bench.alarms()).toEqual(["room-sensor/cellar-air"]);

    const guarded = await openBench({
      yaml: edited(yaml, [["guardSensors: [loach-ph]", "guardSensors: [loach-ph, cellar-air]"]]),
    });
    guarded.sensors.delete("cellar/air");
    await guarded.seconds(310);
    expect(guarded.relay.isOn()).toBe(false);
    expect(guarded.alarms()).toEqual(["guard-silent/cellar-air"]);
  });
});

describe("a maintenance lock", () => {
  const lock = {
    command: "hold-set",
    kind: "maintenance lock",
    subject: { kind: "vessel", id: "cellar" },
    note: "O-ring",
  };

  it("closes at once, outlasts override, hub, trial and restart, and shows until it is lifted", async () => {
    const bench = await openBench();
    const set = await bench.say(lock);
    expect(set.kind).toBe("done");
    expect(text(set)).toMatch(/outlet stays closed.*Shut the vessel by hand and pull the relay's plug/);
    await bench.seconds(2);
    expect(bench.relay.isOn()).toBe(false);
    expect(bench.decision.reason).toBe("maintenance lock on vessel cellar (O-ring)");
    await bench.say({ command: "override", valve: "outlet", action: "open", for_min: 30 });
    const trial = await bench.say({ command: "commission", valve: "outlet" }, ["yes"]);
    expect(trial).toMatchObject({ kind: "refused" });
    await bench.seconds(90);
    expect(bench.commandsTo("outlet").slice(-1)).toEqual(["OFF"]);
    expect(bench.relay.isOn()).toBe(false);

    await bench.kill();
    await bench.start();
    await bench.seconds(90);
    expect(bench.relay.isOn()).toBe(false);
    expect(statusLines(bench.status, bench.model).join("\n")).toContain(
      "held     maintenance lock on vessel cellar (O-ring), since 11:01; lift with: maintenance end vessel cellar",
    );
    expect(await bench.say({ ...lock, command: "hold-lift", note: undefined })).toMatchObject({
      kind: "refused",
    });
    const { kind, subject } = lock;
    expect(await bench.say({ command: "hold-lift", kind, subject })).toMatchObject({ kind: "done" });
    await bench.seconds(62);
    expect(bench.relay.isOn()).toBe(true);
  });

  it("ends the trial of a relay that runs, and the relay goes off", async () => {
    const bench = await openBench();
    const heard: string[] = [];
    expect(
      bench.run.cycle.beginTrial("outlet", "outlet", "shut by hand", ({ reported }) => heard.push(reported)),
    ).toBe(true);
    bench.run.cycle.commandForTrial("outlet", "on");
    await bench.seconds(2);
    expect(bench.relay.isOn()).toBe(true);
    await bench.say(lock);
    await bench.seconds(3);
    expect(bench.relay.isOn()).toBe(false);
    bench.run.cycle.commandForTrial("outlet", "on");
    await bench.seconds(2);
    expect(bench.relay.isOn()).toBe(false);
  });

  it("keeps every valve closed when its vessel is renamed in the config", async () => {
    const bench = await openBench();
    await bench.say(lock);
    bench.replaceModel(
      yaml.replaceAll("  cellar:\n", "  loft:\n").replaceAll("vessel: cellar", "vessel: loft"),
    );
    await bench.seconds(90);
    expect(bench.relay.isOn()).toBe(false);
    expect(bench.decision.gist).toBe("maintenance lock");
  });

  it("asks after twelve hours whether it was forgotten, and refuses what does not exist", async () => {
    const bench = await openBench({ step_s: 60, startAt: "2026-05-04T08:00:00Z" });
    await bench.say(lock);
    await bench.stretch("2026-05-04T20:59:00Z");
    expect(bench.alarms()).not.toContain("maintenance-lock/vessel/cellar");
    await bench.stretch("2026-05-04T21:05:00Z");
    expect(bench.alarms()).toContain("maintenance-lock/vessel/cellar");
    const wrong = await bench.say({ ...lock, subject: { kind: "valve", id: "cellar" } });
    expect(wrong).toMatchObject({ kind: "refused" });
    expect(text(wrong)).toBe('there is no valve "cellar"; the config has outlet');
    expect(await bench.say(lock)).toMatchObject({
      kind: "done",
      text: "maintenance lock on vessel cellar stands already",
    });
  });

  it("that the disk did not take says so", async () => {
    const bench = await openBench();
    bench.run.store.saveSnapshot = () => Promise.resolve(false);
    expect(text(await bench.say(lock))).toMatch(/could not be stored.*shut the vessel by hand/);
    await bench.seconds(2);
    expect(bench.relay.isOn()).toBe(false);
  });
});

describe("a refill in progress", () => {
  const refill = {
    command: "hold-set",
    kind: "refill in progress",
    subject: { kind: "vessel", id: "cellar" },
    note: "",
  };
  const charge = {
    kind: "charge closed",
    sodiumBicarbonate_g: 60,
    citricAcidAnhydrous_g: 50,
    water_kg: 0.5,
    sealedAt_degC: 20,
  };

  it("holds the valve until the new charge is recorded, one from before does not end it", async () => {
    const bench = await openBench();
    await bench.say(refill);
    await bench.seconds(2);
    expect(bench.relay.isOn()).toBe(false);
    await bench.run.journal.enter({ ...charge, at: "2026-05-01T10:00" }, "local");
    await bench.seconds(90);
    expect(bench.relay.isOn()).toBe(false);
    expect(bench.status.holds).toHaveLength(1);
    expect(await bench.run.journal.enter(charge, "local")).toMatchObject({ kind: "kept" });
    await bench.seconds(2);
    expect(bench.relay.isOn()).toBe(true);
    expect(
      bench.run.events.filter(({ area }) => area === "hold").map(({ what, reason }) => `${what}: ${reason}`),
    ).toEqual([
      "refill in progress set: by a person at the daemon's socket",
      "refill in progress ended: the new charge is recorded",
    ]);
  });

  it("is not ended from afar, where nobody sees the hands at the vessel", async () => {
    const bench = await openBench();
    await bench.say(refill);
    await bench.seconds(60);
    expect(await bench.run.journal.enter(charge, "remote")).toMatchObject({ kind: "kept" });
    await bench.seconds(90);
    expect(bench.relay.isOn()).toBe(false);
    await bench.kill();
    await bench.start();
    await bench.seconds(90);
    expect(bench.status.holds).toHaveLength(1);
    expect(bench.relay.isOn()).toBe(false);
  });

  it("is not ended by the charge before it where the clock was behind when it was set", async () => {
    const bench = await openBench();
    expect(await bench.run.journal.enter(charge, "local")).toMatchObject({ kind: "kept" });
    bench.clock.setCivilTime(bench.clock.now_epochMs() - 7_200_000);
    await bench.seconds(5);
    await bench.say(refill);
    bench.clock.setCivilTime(bench.clock.now_epochMs() + 7_200_000);
    await bench.seconds(400);
    expect(bench.status.clock.kind).toBe("plausible");
    expect(bench.status.holds).toHaveLength(1);
    expect(bench.relay.isOn()).toBe(false);
    await bench.run.journal.enter({ ...charge, sodiumBicarbonate_g: 61 }, "local");
    await bench.seconds(90);
    expect(bench.relay.isOn()).toBe(true);
  });

  it("is ended by hand where no charge is recorded, and is no lock: a lock beside it stands", async () => {
    const bench = await openBench();
    await bench.say(refill);
    await bench.say({ ...refill, kind: "maintenance lock" });
    const { kind, subject } = refill;
    expect(text(await bench.say({ command: "hold-lift", kind, subject }))).toBe(
      "refill in progress on vessel cellar is lifted; still set: maintenance lock on vessel cellar",
    );
    await bench.seconds(70);
    expect(bench.relay.isOn()).toBe(false);
    expect(await bench.say({ command: "hold-lift", kind, subject })).toMatchObject({ kind: "refused" });
  });
});
