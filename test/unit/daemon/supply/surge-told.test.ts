import { describe, expect, it } from "vitest";
import { supplyConditions } from "../../../../daemon/supply/supply-alarms.js";
import { supplyFields } from "../../../../daemon/supply/supply-document.js";
import { createSupplyHere } from "../../../../daemon/supply/supply-tracker.js";
import { SupplyBench, supplyYaml } from "../../../support/supply-bench.js";

const here = createSupplyHere();
const runner = {
  ...here,
  run: ((job, done) => {
    here.run({ ...job, refill: undefined }, done);
  }) satisfies typeof here.run,
};
const count = (bubbles_perMin: number) =>
  ({ kind: "bubble count", valveId: "outlet", bubbles_perMin }) as const;

/** Far into the charge, some grams above its end. */
function benchAt(): SupplyBench {
  const bench = new SupplyBench({ startAt: "2026-03-02T09:30:00+01:00", yaml: supplyYaml(), runner });
  bench.removed_g = 0.66 * bench.pressure.co2Available_g;
  bench.enter(count(60), Date.parse("2026-02-03T12:00:00+01:00"));
  bench.hours(3, 10);
  return bench;
}
const told = (bench: SupplyBench) => bench.told.estimate.warnings.map(({ id }) => id);

describe("a surge in the daemon", () => {
  it("is told at once when more bubbles are counted, as an alarm, and no longer when fewer are again", () => {
    const bench = benchAt();
    expect(told(bench)).not.toContain("surge-now");
    bench.enter(count(90));
    bench.hours(0.5, 10);
    expect(told(bench)).toContain("surge-now");
    expect(told(bench)).not.toContain("flow-creeps");
    const views = bench.tracker.views();
    const alarm = supplyConditions(views, bench.site, bench.now_epochMs).find(
      ({ alarmId }) => alarmId === "surge-now/cellar",
    );
    expect(alarm).toMatchObject({ priority: "high" });
    expect(alarm?.cause).toMatch(/surges now: by the bubble count it is at 150 %/u);
    const fields = supplyFields(views[0], { now_epochMs: bench.now_epochMs, timeZone: "Europe/Berlin" });
    expect(fields["surge"]).toMatchObject({ verdict: "confirmed", signs: [{ kind: "bubble count" }] });
    bench.enter(count(61));
    bench.hours(0.5, 10);
    expect(told(bench)).not.toContain("surge-now");
  });
});
