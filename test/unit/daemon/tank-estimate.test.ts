import { describe, expect, it } from "vitest";
import { benchYaml, ControlBench } from "../../support/control-bench.js";

const startAt = "2026-05-01T12:00:00+02:00";

async function running(): Promise<ControlBench> {
  const bench = new ControlBench({ yaml: benchYaml, startAt });
  await bench.start();
  await bench.seconds(5);
  return bench;
}

const tankOf = (bench: ControlBench) => bench.status.tanks[0]!;
const enterKh = (bench: ControlBench, kh_dKH: number) =>
  bench.run.journal.enter({ kind: "kh test", tank: "loach", kh_dKH }, "local");

describe("the carbonate hardness of a tank's estimate", () => {
  it("is the config's until a test stands in the journal, and then the newest test's", async () => {
    const bench = await running();
    const before = tankOf(bench);
    expect(before.hardness).toMatchObject({ kh_dKH: 4, from: "config", testedAt_epochMs: undefined });
    expect(await enterKh(bench, 6)).toMatchObject({ kind: "kept" });
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
});
