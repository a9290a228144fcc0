import { describe, expect, it } from "vitest";
import { ControlBench } from "../support/control-bench.js";
import { supplyYaml } from "../support/supply-bench.js";

const startAt = "2026-03-02T08:00:00+01:00";

async function benchAt(gauge: () => string | undefined): Promise<ControlBench> {
  const bench = new ControlBench({ startAt, yaml: supplyYaml(), step_s: 20 });
  bench.sensors.set("cellar/gauge", gauge);
  bench.sensors.set("cellar/temperature", () => "20.5");
  await bench.start();
  return bench;
}

const told = (bench: ControlBench) => bench.status.supplies[0]!.told!;

describe("a day of dosing, with what is left beside it", () => {
  it("is dosed the same whatever the vessel's gauge says, and garbage moves no gram", async () => {
    let says = "12.40";
    const bench = await benchAt(() => says);
    await bench.stretch("2026-03-02T09:30:00+01:00");
    expect(told(bench)).toMatchObject({ source: "sensor", estimate: { phase: "ready" } });
    const before_g = told(bench).estimate.remaining.value_g;
    for (const [garbage, until] of [
      ["0", "10:30"],
      ["1000000", "11:30"],
      ["180", "12:30"],
      ["0.855", "13:30"],
      ["not a number", "14:30"],
    ] as const) {
      says = garbage;
      await bench.stretch(`2026-03-02T${until}:00+01:00`);
      expect(Math.abs(told(bench).estimate.remaining.value_g - before_g)).toBeLessThan(3);
      expect(bench.decision.action).toBe("open");
    }
    expect(bench.alarms().filter((id) => !id.startsWith("pressure"))).toEqual([]);
    says = "12.10";
    await bench.stretch("2026-03-02T18:30:00+01:00");
    expect(bench.decision.action).toBe("closed");
    expect(told(bench).estimate.phase).toBe("dosing");
    expect(told(bench).estimate.warnings.filter(({ id }) => id.startsWith("pressure"))).toEqual([]);
  });
});
