import { describe, expect, it } from "vitest";
import { createSupplyHere } from "../../../../daemon/supply/supply-tracker.js";
import { SupplyBench, supplyYaml } from "../../../support/supply-bench.js";

const here = createSupplyHere();
const runner = {
  ...here,
  run: ((job, done) => {
    here.run({ ...job, refill: undefined }, done);
  }) satisfies typeof here.run,
};
const closedAt = Date.parse("2026-02-01T12:00:00+01:00");
const hour_ms = 3_600_000;

function benchFrom(startAt: string): SupplyBench {
  return new SupplyBench({ startAt, yaml: supplyYaml(), runner });
}

describe("how a fresh charge comes on, in the daemon", () => {
  it("is told with its evidence while it reacts: far below the plan with little drawn, it is weak", () => {
    const bench = benchFrom("2026-02-01T12:10:00+01:00");
    bench.sensor = () => Math.min(3, (bench.now_epochMs - closedAt) / hour_ms);
    bench.hours(9, 10);
    const { pressurising } = bench.told;
    expect(pressurising?.kind).toBe("too-weak");
    expect(pressurising?.evidence).toMatch(/^3\.0 bar read 9\.\d h after closing/u);
    expect(pressurising?.strength.value).toBeLessThan(0.84);
    expect(pressurising?.plannedGauge_bar).toBeGreaterThan(10);
  });

  it("is told no more once its reaction must be over", () => {
    const bench = benchFrom("2026-02-04T12:00:00+01:00");
    bench.hours(2, 10);
    expect(bench.told.pressurising).toBeUndefined();
  });
});
