import { describe, expect, it } from "vitest";
import { statusLines } from "../../../../daemon/status-text.js";
import { tankFields } from "../../../../daemon/tank/tank-document.js";
import type { TankEstimate } from "../../../../daemon/tank/estimated-tank.js";
import { airEquilibriumCo2_mgPerL } from "../../../../lib/tank/air-equilibrium.js";
import { benchYaml, ControlBench } from "../../../support/control-bench.js";

const startAt = "2026-05-01T12:00:00+02:00";
const tankKeys = "    limits: { co2Close";
const withKeys = (keys: string, yaml = benchYaml): string =>
  yaml.replace(tankKeys, `    ${keys}\n${tankKeys}`);

async function running(yaml = benchYaml): Promise<ControlBench> {
  const bench = new ControlBench({ yaml, startAt });
  await bench.start();
  await bench.seconds(5);
  return bench;
}

/** A probe in the tank's water that shows this pH, with the unrest of a live one. */
function probeShows(bench: ControlBench, pH: () => number): void {
  let beat = 0;
  bench.sensors.set("loach/ph", () => (pH() + 0.001 * (beat++ % 3)).toFixed(3));
}

const tankOf = (bench: ControlBench): TankEstimate => bench.status.tanks[0]!;
const enter = async (bench: ControlBench, entry: Readonly<Record<string, unknown>>): Promise<void> => {
  const subject = entry["kind"] === "calibration" ? {} : { tank: "loach" };
  expect(await bench.run.journal.enter({ ...subject, ...entry }, "local")).toMatchObject({ kind: "kept" });
};
const enterKh = (bench: ControlBench, kh_dKH: number) => enter(bench, { kind: "kh test", kh_dKH });
const goodBuffers = [
  { buffer: "7.00", shown: 7.0, temperature_degC: 25 },
  { buffer: "4.01", shown: 4.01, temperature_degC: 25 },
];
const spread = ({ co2 }: TankEstimate): number => co2!.co2High80_mgPerL / co2!.co2Low80_mgPerL;
const methodsOf = ({ methods }: TankEstimate): readonly string[] => methods.map(({ method }) => method);
const methodsSpread = ({ methods }: TankEstimate): readonly number[] =>
  methods.map(({ co2Low80_mgPerL = 0, co2High80_mgPerL = 0 }) => co2High80_mgPerL / co2Low80_mgPerL);
const documentOf = (bench: ControlBench) => tankFields(tankOf(bench), bench.status.at_epochMs);

describe("the carbonate hardness of a tank's estimate", () => {
  it("is the config's until a test stands in the journal, and then the newest test's", async () => {
    const bench = await running();
    const before = tankOf(bench);
    expect(before.hardness).toMatchObject({ kh_dKH: 4, from: "config", testedAt_epochMs: undefined });
    await enterKh(bench, 6);
    await bench.second();
    const after = tankOf(bench);
    expect(after.hardness).toMatchObject({ kh_dKH: 6, from: "KH test" });
    // At one pH free CO2 goes with the alkalinity: Stumm & Morgan, Aquatic Chemistry, chapter 4.
    expect(after.co2!.co2_mgPerL / before.co2!.co2_mgPerL).toBeGreaterThan(1.45);
    expect(after.co2!.co2_mgPerL / before.co2!.co2_mgPerL).toBeLessThan(1.55);
  });

  it("stays the tested one after a restart, and is the config's again when the test is withdrawn", async () => {
    const bench = await running();
    await enterKh(bench, 6);
    await bench.kill();
    await bench.start();
    await bench.seconds(5);
    expect(tankOf(bench).hardness).toMatchObject({ kh_dKH: 6, from: "KH test" });
    await bench.run.journal.withdraw(1, "local");
    await bench.second();
    expect(tankOf(bench).hardness).toMatchObject({ kh_dKH: 4, from: "config" });
  });

  it("outranks a config that is read again", async () => {
    const bench = await running();
    await enterKh(bench, 6);
    bench.replaceModel(benchYaml.replace("kh_dKH: 4", "kh_dKH: 9"));
    await bench.second();
    expect(tankOf(bench).hardness).toMatchObject({ kh_dKH: 6, from: "KH test" });
  });

  it("closes the valve when a test shows that the water holds more CO2 than was believed", async () => {
    const bench = await running();
    await bench.seconds(5);
    expect(bench.relay.isOn()).toBe(true);
    await enterKh(bench, 20);
    await bench.seconds(5);
    expect(bench.relay.isOn()).toBe(false);
    expect(bench.status.trips).toHaveLength(1);
  });

  it("is worth less after a water change", async () => {
    const bench = await running();
    await enterKh(bench, 4);
    await bench.seconds(70);
    const before = spread(tankOf(bench));
    await enter(bench, { kind: "water change", changed_L: 60 });
    await bench.second();
    expect(spread(tankOf(bench))).toBeGreaterThan(before * 1.01);
  });
});

describe("what the config gives of the water", () => {
  it("is worth less after a water change, too", async () => {
    const bench = await running(withKeys("degassedPh: { pH: 8.1, how: aerated a day }"));
    const before = methodsSpread(tankOf(bench));
    await enter(bench, { kind: "water change", changed_L: 120 });
    await bench.second();
    methodsSpread(tankOf(bench)).forEach((spreadAfter, index) =>
      expect(spreadAfter).toBeGreaterThan(before[index]! * 1.05),
    );
    expect(before).toHaveLength(2);
  });
});

describe("an entry that lies a few minutes ahead", () => {
  it("is of now, and does not outrank the one after it", async () => {
    const bench = await running();
    await enter(bench, { kind: "kh test", kh_dKH: 6, at: "2026-05-01T12:04" });
    await bench.seconds(5);
    expect(tankOf(bench).hardness.testedAt_epochMs).toBeLessThanOrEqual(bench.status.at_epochMs);
    await enterKh(bench, 5);
    await bench.seconds(5);
    expect(tankOf(bench).hardness.kh_dKH).toBe(5);
  });
});

describe("a trip at a harmless central value", () => {
  it("names what is not known, and how to mend it", async () => {
    const bench = new ControlBench({
      yaml: benchYaml.replace("co2Close_mgPerL: 60", "co2Close_mgPerL: 45"),
      startAt,
    });
    probeShows(bench, () => 6.7);
    await bench.start();
    await bench.seconds(60);
    const [trip] = bench.status.trips;
    expect(trip?.cause).toBe("CO2 above the close limit");
    expect(trip?.reason).toContain("but the probe is uncertain to +-0.20 pH: calibrate it");
    expect(trip?.reason).toContain(`central ${Number(tankOf(bench).co2!.co2_mgPerL.toPrecision(2))} mg/L`);
  });
});

describe("a degassed pH", () => {
  it("that leaves no drop is answered so, and makes no method", async () => {
    const bench = await running();
    const entry = { kind: "degassed pH", tank: "loach", pH: 6.4, how: "aerated a day" };
    expect(await bench.run.journal.enter(entry, "local")).toMatchObject({
      kind: "kept",
      remarks: [{ kind: "not above the present pH", pH: 6.4 }],
    });
    await bench.seconds(3);
    expect(methodsOf(tankOf(bench))).toEqual(["carbonate hardness"]);
    expect(tankOf(bench).remarks.join(" ")).toContain("the pH drop does not count");
  });

  it("makes a second method, first by the config and then by the journal", async () => {
    const bench = await running(withKeys("degassedPh: { pH: 8.1, how: aerated an hour }"));
    expect(methodsOf(tankOf(bench))).toEqual(["carbonate hardness", "pH drop"]);
    expect(tankOf(bench).baseline).toMatchObject({ from: "config", baseline: { pH: 8.1 } });
    const said = (): readonly string[] => statusLines(bench.status, bench.model);
    expect(said()).toContain("  degassed pH 8.1 (aerated an hour) by the config, of a day that is not known");
    await enter(bench, { kind: "degassed pH", pH: 8.0, how: "aerated a day" });
    await bench.second();
    expect(tankOf(bench).baseline).toMatchObject({ from: "journal", baseline: { pH: 8.0 } });
    expect(said()).toContain("  degassed pH 8 (aerated a day) by the journal of 12:00");
    const { methods, agreement } = documentOf(bench);
    expect(methods).toHaveLength(2);
    expect(agreement).toMatchObject({ kind: "methods agree" });
  });

  it("takes the room's CO2 from its sensor at the time of the entry, and keeps it over a restart", async () => {
    const yaml = withKeys("roomCo2Sensor: room-air").replace(
      "sensors:\n",
      "sensors:\n  room-air: { measures: co2InAir, topic: room/air }\n",
    );
    let room_ppm = 1200;
    const bench = new ControlBench({ yaml, startAt });
    bench.sensors.set("room/air", () => String(room_ppm));
    await bench.start();
    await bench.seconds(5);
    await enter(bench, { kind: "degassed pH", pH: 7.9, how: "aerated a day" });
    await bench.seconds(2);
    room_ppm = 450;
    await bench.seconds(400);
    expect(tankOf(bench).baseline!.baseline.roomCo2_ppm).toBe(1200);
    expect(tankOf(bench).roomCo2_ppm).toBe(450);
    await bench.kill();
    await bench.start();
    await bench.seconds(5);
    expect(tankOf(bench).baseline!.baseline.roomCo2_ppm).toBe(1200);
    // Weiss 1974: what the sample holds goes with the room's air.
    const held = (roomCo2_ppm: number) => airEquilibriumCo2_mgPerL({ temperature_degC: 25, roomCo2_ppm });
    expect(held(1200) / held(450)).toBeCloseTo(1200 / 450, 6);
  });
});

describe("a calibration in the journal", () => {
  const corrected = benchYaml.replace(
    "loach-ph: { measures: pH, topic: loach/ph,",
    "loach-ph: { measures: pH, topic: loach/ph, calibration: { offset: 0.3 },",
  );

  it("takes the place of the config's correction and never comes on top of it", async () => {
    const bench = await running(corrected);
    probeShows(bench, () => 6.8);
    await bench.seconds(5);
    expect(tankOf(bench).pH).toBeCloseTo(7.1, 2);
    expect(tankOf(bench).probe).toMatchObject({ basis: "calibration in the config" });
    await enter(bench, {
      kind: "calibration",
      buffers: [
        { buffer: "7.00", shown: 6.9, temperature_degC: 25 },
        { buffer: "4.01", shown: 3.91, temperature_degC: 25 },
      ],
    });
    await bench.seconds(5);
    expect(tankOf(bench).pH).toBeCloseTo(6.9, 2);
    expect(tankOf(bench).probe).toMatchObject({
      basis: "calibration in the journal",
      calibrationIsDue: false,
    });
    expect(statusLines(bench.status, bench.model).join("\n")).toContain(
      "probe: corrected by its calibration in the journal of 12:00",
    );
    await bench.run.journal.withdraw(1, "local");
    await bench.seconds(5);
    expect(tankOf(bench).pH).toBeCloseTo(7.1, 2);
  });

  it("corrects the reading that stands, so that the valve does not close for it", async () => {
    const bench = await running();
    await bench.seconds(30);
    expect(bench.relay.isOn()).toBe(true);
    const before = tankOf(bench).pH!;
    bench.sensors.delete("loach/ph");
    await enter(bench, {
      kind: "calibration",
      buffers: goodBuffers.map((reading) => ({ ...reading, shown: reading.shown - 0.1 })),
    });
    await bench.seconds(30, () => expect(bench.relay.isOn()).toBe(true));
    expect(tankOf(bench).pH).toBeCloseTo(before + 0.1, 2);
  });

  it("narrows the interval, and is used from the first reading after a restart", async () => {
    const bench = await running();
    const before = spread(tankOf(bench));
    await enter(bench, { kind: "calibration", buffers: goodBuffers });
    await bench.seconds(5);
    expect(spread(tankOf(bench))).toBeLessThan(before / 1.5);
    await bench.kill();
    await bench.start();
    await bench.seconds(5);
    expect(tankOf(bench).probe!.basis).toBe("calibration in the journal");
    expect(spread(tankOf(bench))).toBeLessThan(before / 1.5);
  });

  it("in one buffer leaves the slope unchecked, and says so", async () => {
    const bench = await running();
    const said = (): string => statusLines(bench.status, bench.model).join("\n");
    await enter(bench, { kind: "calibration", buffers: goodBuffers });
    await bench.seconds(60);
    expect(said()).not.toContain("slope not checked");
    await enter(bench, { kind: "calibration", buffers: goodBuffers.slice(0, 1) });
    await bench.seconds(5);
    expect(said()).toMatch(/probe: .* good, slope not checked \(one buffer/);
    expect(documentOf(bench)["probe"]).toMatchObject({ slopeIsChecked: false });
  });

  it("that cannot be right is not used, and the reason is told", async () => {
    const bench = await running();
    await enter(bench, {
      kind: "calibration",
      buffers: [
        { buffer: "7.00", shown: 4.01, temperature_degC: 25 },
        { buffer: "4.01", shown: 7.0, temperature_degC: 25 },
      ],
    });
    await bench.seconds(5);
    expect(tankOf(bench).probe!.basis).toBe("never calibrated");
    expect(tankOf(bench).probe!.remarks.join(" ")).toContain(
      "The last calibration is not used: The readings run",
    );
  });

  it("makes no rise of the step that it makes in the pH", async () => {
    const bench = await running();
    probeShows(bench, () => 6.65);
    await enter(bench, { kind: "calibration", buffers: goodBuffers });
    await bench.seconds(900);
    await enter(bench, {
      kind: "calibration",
      buffers: goodBuffers.map((reading) => ({ ...reading, shown: reading.shown + 0.15 })),
    });
    await bench.seconds(900);
    expect(tankOf(bench).risesTooFast).toBeUndefined();
    expect(bench.status.trips).toEqual([]);
  });
});

describe("a drop checker", () => {
  const yaml = withKeys("dropChecker: { referenceKh_dKH: 4, fillDepth_mm: 3 }");

  it("should show the colour that the tank's CO2 gives its liquid, and is known after three time constants", async () => {
    const bench = await running(yaml);
    await bench.seconds(70);
    expect(tankOf(bench).dropChecker).toMatchObject({ isSettled: false, expected: { colour: "green" } });
    await bench.seconds(6000);
    expect(tankOf(bench).dropChecker).toMatchObject({ isSettled: true, expected: { colour: "green" } });
    expect(documentOf(bench)["dropChecker"]).toMatchObject({
      expectedColour: "green",
      expectedSwatch: expect.stringMatching(/^#[0-9a-f]{6}$/) as string,
      swatchCaution: expect.stringContaining("Screens") as string,
      seenColour: null,
    });
    await bench.kill();
    await bench.start();
    await bench.seconds(5);
    expect(tankOf(bench).dropChecker).toMatchObject({ isSettled: true });
  });

  it("is not to go by while CO2 is dangerous: its colour is hours old", async () => {
    const bench = await running(yaml);
    let pH = 6.8;
    probeShows(bench, () => pH);
    await bench.seconds(70);
    const said = (): string => statusLines(bench.status, bench.model).join("\n");
    expect(said()).toContain("drop checker: should be green now");
    expect(documentOf(bench)["dropChecker"]).toMatchObject({
      notToGoByBecause: null,
      referenceAssumed: false,
    });
    pH = 6.0;
    await bench.seconds(10);
    expect(tankOf(bench).dropChecker!.expected!.colour).toBe("green");
    expect(said()).toMatch(
      /drop checker: not to go by now: its colour follows the water only after 32 min or more/,
    );
    expect(said()).not.toContain("should be green");
    expect(documentOf(bench)["dropChecker"]).toMatchObject({
      notToGoByBecause: expect.stringContaining("green does not mean that all is well") as string,
    });
  });

  it("whose liquid the config does not name is said to be assumed at 4 dKH", async () => {
    const bench = await running(withKeys("dropChecker: { fillDepth_mm: 3 }"));
    await bench.seconds(70);
    expect(statusLines(bench.status, bench.model).join("\n")).toContain(
      "a liquid of 4 dKH is assumed: dropChecker.referenceKh_dKH is not in the config",
    );
    expect(documentOf(bench)["dropChecker"]).toMatchObject({ referenceKh_dKH: 4, referenceAssumed: true });
  });

  it("that shows another colour is explained, and the valve's limit is held against the higher", async () => {
    const bench = await running(yaml);
    await enter(bench, { kind: "calibration", buffers: goodBuffers });
    await bench.seconds(70);
    const before = tankOf(bench).co2!;
    await enter(bench, { kind: "drop checker", colour: "blue" });
    await bench.second();
    const { agreement, co2, dropChecker } = tankOf(bench);
    expect(agreement?.kind).toBe("methods disagree");
    expect(statusLines(bench.status, bench.model).join("\n")).toMatch(
      /KH reading and drop checker disagree by a factor/,
    );
    expect(dropChecker!.seen!.colour).toBe("blue");
    expect(co2!.co2High80_mgPerL).toBeGreaterThan(before.co2High80_mgPerL * 0.98);
  });

  it("entered as blue by mistake does not hold the valve open while the pH falls", async () => {
    const bench = await running(yaml);
    await enter(bench, { kind: "calibration", buffers: goodBuffers });
    let pH = 6.9;
    probeShows(bench, () => pH);
    await bench.seconds(60);
    await enter(bench, { kind: "drop checker", colour: "blue" });
    await bench.seconds(10);
    expect(bench.relay.isOn()).toBe(true);
    // Two hours by 0.3 pH each: too slow for the limit of the rise below the target, and then 60 mg/L and more.
    const fall = (): void => void (pH -= 0.6 / 7200);
    await bench.seconds(7200, fall);
    expect(tankOf(bench).co2!.co2High80_mgPerL).toBeGreaterThan(60);
    expect(bench.relay.isOn()).toBe(false);
    expect(bench.status.trips.map(({ subject }) => subject.id)).toContain("loach");
  });
});

describe("a tank's estimate", () => {
  it("shows the band of the present value from its first second; the delay is the alarm's", async () => {
    const bench = await running();
    await enter(bench, { kind: "calibration", buffers: goodBuffers });
    probeShows(bench, () => 6.75);
    await bench.seconds(70);
    expect(tankOf(bench).band).toBe("in target");
    probeShows(bench, () => 5.9);
    await bench.seconds(4);
    expect(tankOf(bench).co2!.co2_mgPerL).toBeGreaterThan(140);
    expect(tankOf(bench)).toMatchObject({ band: "close", lastBand: "in target" });
    expect(documentOf(bench)).toMatchObject({ band: "close" });
    const text = statusLines(bench.status, bench.model).join("\n");
    expect(text).toMatch(/CO2 \d+ mg\/L .*, close/);
    expect(text).toContain("the closing limit is 60");
  });

  it("is none as soon as the pH is stale, and the last band stays an alarm until it is known again", async () => {
    const bench = await running(withKeys("animals: [shrimp]"));
    await enter(bench, { kind: "calibration", buffers: goodBuffers });
    probeShows(bench, () => 6.5);
    await bench.seconds(130);
    expect(tankOf(bench).band).toBe("alarm");
    expect(bench.alarms()).toContain("co2-alarm/loach");
    bench.sensors.delete("loach/ph");
    await bench.seconds(125);
    expect(tankOf(bench)).toMatchObject({
      co2: undefined,
      methods: [],
      band: "not known",
      lastBand: "alarm",
    });
    expect(documentOf(bench)).toMatchObject({ co2_mgPerL: null, co2Age_s: null, band: "not known" });
    expect(bench.alarms()).toContain("co2-alarm/loach");
    const text = statusLines(bench.status, bench.model).join("\n");
    expect(text).toContain("CO2 not known");
    expect(text).toContain("Shrimp in the tank: no published CO2 limit");
  });

  it("says that it takes the temperature for granted without a thermometer, and is wider for it", async () => {
    const bench = await running();
    await enter(bench, { kind: "calibration", buffers: goodBuffers });
    await bench.seconds(5);
    const before = spread(tankOf(bench));
    bench.sensors.delete("loach/temperature");
    await bench.seconds(310);
    expect(tankOf(bench)).toMatchObject({ temperature_degC: undefined, temperatureIsAssumed: true });
    expect(statusLines(bench.status, bench.model)).toContain(
      "  temperature assumed: 25 +-3 degC, since no thermometer tells it",
    );
    expect(spread(tankOf(bench))).toBeGreaterThan(before * 1.001);
  });

  it("trips when CO2 above the target surely rises too fast, though it is below the close limit", async () => {
    const bench = await running();
    await enter(bench, { kind: "calibration", buffers: goodBuffers });
    let pH = 6.75;
    probeShows(bench, () => pH);
    await bench.seconds(900);
    expect(bench.status.trips).toEqual([]);
    // From 25 to about 40 mg/L in half an hour.
    await bench.seconds(1500, () => void (pH -= 0.2 / 1800));
    expect(bench.status.trips.map(({ cause }) => cause)).toContain("CO2 rises too fast");
    expect(bench.relay.isOn()).toBe(false);
  });

  /** At 32 mg/L for an hour, then within three minutes at 53. */
  const jumping = async (inBetween: (bench: ControlBench) => Promise<void> = () => Promise.resolve()) => {
    const bench = await running(
      benchYaml.replace(/co2Close_mgPerL: \d+/, "co2Alarm_mgPerL: 60, co2Close_mgPerL: 95"),
    );
    await enter(bench, { kind: "calibration", buffers: goodBuffers });
    let pH = 6.64;
    probeShows(bench, () => pH);
    await bench.seconds(4000);
    await inBetween(bench);
    await bench.seconds(180, () => void (pH -= 0.22 / 180));
    await bench.seconds(340);
    return bench;
  };

  it("trips when CO2 has jumped by more than the limit within minutes, and says by how much", async () => {
    const bench = await jumping();
    expect(bench.status.trips).toMatchObject([
      {
        cause: "CO2 rises too fast",
        reason: expect.stringMatching(/^by [12]\d mg\/L within \d+ min/) as string,
      },
    ]);
    expect(bench.relay.isOn()).toBe(false);
    expect(statusLines(bench.status, bench.model).join("\n")).toMatch(/up by [12]\d mg\/L within \d+ min/);
    expect(documentOf(bench)["jump_mgPerL"]).toMatchObject({ value: expect.any(Number) as number });
  });

  it("does not trip on the same step after a water change in the journal, nor on what follows from it", async () => {
    const bench = await jumping((running) => enter(running, { kind: "water change", changed_L: 30 }));
    await bench.seconds(1200);
    expect(bench.status.trips).toEqual([]);
    expect(tankOf(bench)).toMatchObject({ rise: undefined, risesTooFast: undefined });
  });

  it("does not trip on the morning's rise below the target", async () => {
    const bench = await running();
    await enter(bench, { kind: "calibration", buffers: goodBuffers });
    let pH = 7.2;
    probeShows(bench, () => pH);
    await bench.seconds(60);
    // From 9 to 25 mg/L in 45 minutes.
    await bench.seconds(2700, () => void (pH -= 0.48 / 2700));
    expect(tankOf(bench).co2!.co2_mgPerL).toBeGreaterThan(24);
    expect(bench.status.trips).toEqual([]);
  });

  it("goes on with its rise after a restart", async () => {
    const bench = await running();
    await enter(bench, { kind: "calibration", buffers: goodBuffers });
    await bench.seconds(1300);
    expect(tankOf(bench).rise).toBeDefined();
    await bench.kill();
    await bench.start();
    await bench.seconds(40);
    expect(tankOf(bench).rise?.span_min).toBeGreaterThan(10);
  });
});
