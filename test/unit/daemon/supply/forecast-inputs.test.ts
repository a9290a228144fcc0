import { describe, expect, it } from "vitest";
import type { Override } from "../../../../lib/control/decide.js";
import { createSupplyHere } from "../../../../daemon/supply/supply-tracker.js";
import { SupplyBench, supplyYaml } from "../../../support/supply-bench.js";

const day_ms = 86_400_000;
const startAt = "2026-03-02T08:00:00+01:00";
const here = createSupplyHere();
/** One table for all; advice is not looked at. */
const runner = {
  ...here,
  run: ((job, done) => {
    here.run({ ...job, refill: undefined }, done);
  }) satisfies typeof here.run,
};
const withScale = supplyYaml()
  .replace(
    "temperatureSensor: cellar-temperature,",
    "temperatureSensor: cellar-temperature, massSensor: cellar-scale,",
  )
  .replace("sensors:", "sensors:\n  cellar-scale: { measures: mass, unit: g, topic: cellar/scale }");

describe("what the forecast knows", () => {
  it.each(["local", "remote"] as const)(
    "puts the run-out off by the days that a %s closing takes",
    (source) => {
      const [closed, plain] = [new SupplyBench({ startAt, runner }), new SupplyBench({ startAt, runner })];
      const later_days = (): number => {
        const [one, other] = [closed, plain].map((bench) => bench.told.estimate.runOut.median_epochMs);
        return (one! - other!) / day_ms;
      };
      const go = (hours: number): void => {
        for (const bench of [closed, plain]) bench.hours(hours, 10);
      };
      go(4);
      expect(later_days()).toBe(0);
      const closing: Override = {
        valveId: "outlet",
        action: "closed",
        source,
        until_epochMs: closed.now_epochMs + 10 * day_ms,
      };
      closed.overrides = [closing];
      go(0.5);
      // What leaks in those days is gone too.
      expect(later_days()).toBeGreaterThan(8.5);
      expect(later_days()).toBeLessThan(10.5);
      closed.overrides = [];
      go(0.5);
      expect(Math.abs(later_days())).toBeLessThan(0.3);
    },
  );

  it("weighs what has gone, and is not fooled by what leans on the vessel", () => {
    const weigh = (leans: (bench: SupplyBench) => number) => {
      const bench = new SupplyBench({ startAt, yaml: withScale, runner });
      bench.sensor = () => undefined;
      bench.scale = () => 5000 - bench.removed_g + leans(bench);
      bench.hours(30, 10);
      return bench;
    };
    const bench = weigh(() => 0);
    const { remaining } = bench.told.estimate;
    const blind = new SupplyBench({ startAt, runner });
    blind.sensor = () => undefined;
    blind.hours(30, 10);
    const width = (of: { readonly low80_g: number; readonly high80_g: number }) => of.high80_g - of.low80_g;
    expect(width(remaining)).toBeLessThan(width(blind.told.estimate.remaining));
    expect(remaining.low80_g).toBeLessThan(bench.remaining_g);
    expect(remaining.high80_g).toBeGreaterThan(bench.remaining_g);

    const begun_epochMs = Date.parse(startAt);
    const leaning = weigh(({ now_epochMs }) => (now_epochMs - begun_epochMs > day_ms / 2 ? 300 : 0));
    expect(Math.abs(leaning.told.estimate.remaining.value_g - remaining.value_g)).toBeLessThan(3);
    expect(leaning.told.estimate.warnings.map(({ id }) => id)).toContain("weight-not-believed");
    expect(bench.told.estimate.warnings.map(({ id }) => id)).not.toContain("weight-not-believed");
  });
});
