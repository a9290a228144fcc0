import { describe, expect, it } from "vitest";
import { benchYaml, ControlBench } from "../../../support/control-bench.js";

/** A probe that shows 6.4 and a calibration from afar that makes 6.8 of it: at 4 dKH 21 mg/L in place of 53. */
const checked = benchYaml.replace(
  "    limits: { co2Close",
  "    dropChecker: { referenceKh_dKH: 4 }\n    limits: { co2Close",
);

async function doubted(yaml = checked): Promise<ControlBench> {
  const bench = new ControlBench({ yaml, startAt: "2026-05-01T12:00:00+02:00", step_s: 110 });
  let beat = 0;
  bench.sensors.set("loach/ph", () => (6.4 + 0.001 * (beat++ % 3)).toFixed(3));
  await bench.start();
  await bench.seconds(3);
  const calibration = {
    kind: "calibration",
    buffers: [
      { buffer: "7.00", shown: 6.6, temperature_degC: 25 },
      { buffer: "4.01", shown: 3.61, temperature_degC: 25 },
    ],
  };
  expect(await bench.run.journal.enter(calibration, "remote")).toMatchObject({ kind: "kept" });
  // By now only the way by which it came is doubted, no longer that it is new.
  await bench.stretch("2026-05-02T13:00:00+02:00");
  expect(pHOf(bench).pH).toBeCloseTo(6.8, 1);
  expect(pHOf(bench).pHForFloor).toBeCloseTo(6.4, 1);
  return bench;
}

const pHOf = (bench: ControlBench) => bench.status.tanks[0]!;

async function see(bench: ControlBench, colour: string, source: "local" | "remote"): Promise<void> {
  const outcome = await bench.run.journal.enter({ kind: "drop checker", tank: "loach", colour }, source);
  expect(outcome).toMatchObject({ kind: "kept" });
  await bench.seconds(4);
}

describe("a calibration from afar that shows less CO2", () => {
  it("is borne out by a colour that a person enters here and that excludes the doubted figure", async () => {
    const bench = await doubted();
    await see(bench, "green", "local");
    expect(pHOf(bench).pHForFloor).toBeCloseTo(6.8, 1);
    expect(pHOf(bench).co2!.co2High80_mgPerL).toBeLessThan(50);
    // Also once the colour itself counts no more, and over a restart.
    await bench.kill();
    await bench.start();
    await bench.stretch("2026-05-02T21:00:00+02:00");
    expect(pHOf(bench).pHForFloor).toBeCloseTo(6.8, 1);
    // Unless it is withdrawn.
    const { entryId } = bench.run.journal.latest("drop checker", "loach")!;
    await bench.run.journal.withdraw(entryId, "local");
    await bench.seconds(4);
    expect(pHOf(bench).pHForFloor).toBeCloseTo(6.4, 1);
  }, 60_000);

  it("stays doubted after a colour that came from afar as well, or that excludes no high figure", async () => {
    const bench = await doubted();
    await see(bench, "green", "remote");
    expect(pHOf(bench).pHForFloor).toBeCloseTo(6.4, 1);
    await see(bench, "yellow", "local");
    expect(pHOf(bench).pHForFloor).toBeCloseTo(6.4, 1);
  }, 60_000);

  it("stays doubted by a colour of a liquid of which the config says nothing", async () => {
    const bench = await doubted(benchYaml);
    await see(bench, "green", "local");
    expect(pHOf(bench).pHForFloor).toBeCloseTo(6.4, 1);
  }, 60_000);

  it("is doubted again when a later colour speaks against it", async () => {
    const bench = await doubted();
    await see(bench, "green", "local");
    expect(pHOf(bench).pHForFloor).toBeCloseTo(6.8, 1);
    await see(bench, "yellow", "local");
    expect(pHOf(bench).pHForFloor).toBeCloseTo(6.4, 1);
  }, 60_000);
});
