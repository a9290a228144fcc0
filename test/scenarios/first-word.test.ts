import { describe, expect, it } from "vitest";
import { benchYaml, ControlBench } from "../support/control-bench.js";
import { edited } from "../support/marked-config.js";

/**
 * What gas waits for after a start: rule "sensor not heard yet". Three kinds of sensor answer the same question by one piece.
 * The bench's guard may be silent for 120 s, the thermometer and the sensor of the room for 300 s.
 */
const yaml = edited(benchYaml, [
  ["vessels:\n", "  cellar-air: { measures: co2InAir, topic: cellar/air }\nvessels:\n"],
  ["workingPressureGauge_bar: 3 }", "workingPressureGauge_bar: 3, roomCo2Sensor: cellar-air }"],
]);
const alarmOf = {
  "loach/ph": "guard-silent/loach-ph",
  "loach/temperature": "tank-sensor/loach-temperature",
  "cellar/air": "room-sensor/cellar-air",
} as const;
type SensorTopic = keyof typeof alarmOf;

async function openBench(): Promise<ControlBench> {
  const bench = new ControlBench({ yaml, startAt: "2026-05-04T09:00:00Z" });
  bench.sensors.set("cellar/air", () => "700");
  await bench.start();
  await bench.seconds(60);
  expect(bench.relay.isOn()).toBe(true);
  return bench;
}

async function restart(bench: ControlBench): Promise<void> {
  await bench.kill();
  await bench.start();
}

/** Whether gas flowed in any of these seconds. */
async function flowsWithin(bench: ControlBench, seconds: number): Promise<boolean> {
  let flowed = false;
  await bench.seconds(seconds, () => (flowed ||= bench.relay.isOn()));
  return flowed;
}

const sensors = [
  { topic: "loach/ph", id: "loach-ph", greatestAge_s: 120, live: "6.8", isGuard: true },
  { topic: "loach/temperature", id: "loach-temperature", greatestAge_s: 300, live: "24.5", isGuard: false },
  { topic: "cellar/air", id: "cellar-air", greatestAge_s: 300, live: "700", isGuard: false },
] as const;

describe("after a start a sensor that has not spoken", () => {
  it.each(sensors)("holds gas off until it does: $id", async ({ topic, id, live }) => {
    const bench = await openBench();
    bench.sensors.delete(topic);
    await restart(bench);
    expect(await flowsWithin(bench, 100)).toBe(false);
    expect(bench.decision.gist).toBe("sensor not heard yet");
    expect(bench.decision.reason).toContain(`${id} has not spoken yet since the start`);
    expect(bench.alarms()).toEqual([]);
    bench.sensors.set(topic, () => live);
    await bench.seconds(3);
    expect(bench.relay.isOn()).toBe(true);
    expect(bench.run.events.filter(({ area }) => area === "alarm")).toEqual([]);
  });

  it.each(sensors)(
    "is silent once its greatest age is over, then the ordinary alarm: $id",
    async ({ topic, greatestAge_s, isGuard }) => {
      const bench = await openBench();
      bench.sensors.delete(topic);
      await restart(bench);
      expect(await flowsWithin(bench, greatestAge_s - 1)).toBe(false);
      expect(bench.alarms()).toEqual([]);
      await bench.seconds(5);
      expect(bench.alarms()).toEqual([alarmOf[topic satisfies SensorTopic]]);
      expect(bench.relay.isOn()).toBe(!isGuard);
    },
  );

  it("is not one that the broker has held back", async () => {
    const bench = await openBench();
    bench.sensors.delete("loach/temperature");
    bench.broker.publish("loach/temperature", "24.5", { retain: true });
    await restart(bench);
    expect(await flowsWithin(bench, 200)).toBe(false);
    expect(bench.decision.gist).toBe("sensor not heard yet");
  });

  it("lets the alarm of its silence from before the start stand, and does not tell that it is over", async () => {
    const bench = await openBench();
    bench.sensors.delete("loach/temperature");
    await bench.seconds(310);
    expect(bench.alarms()).toEqual(["tank-sensor/loach-temperature"]);
    await restart(bench);
    await bench.seconds(310);
    expect(bench.alarms()).toEqual(["tank-sensor/loach-temperature"]);
    expect(bench.run.events.filter(({ area }) => area === "alarm")).toEqual([]);
  });
});

describe("a tank that was too warm", () => {
  it("gets no gas after a restart before its thermometer has spoken", async () => {
    const bench = await openBench();
    bench.sensors.set("loach/temperature", () => "28");
    await bench.second();
    bench.sensors.set("loach/temperature", () => "31");
    await bench.seconds(70);
    expect(bench.relay.isOn()).toBe(false);
    bench.sensors.delete("loach/temperature");
    await restart(bench);
    expect(await flowsWithin(bench, 290)).toBe(false);
    expect(bench.run.events.filter(({ what }) => what === "raised")).toEqual([]);
  });
});
