import { describe, expect, it } from "vitest";
import type { SupplyRunner } from "../../../../daemon/supply/supply-tracker.js";
import { SupplyBench, supplyYaml } from "../../../support/supply-bench.js";

const day_ms = 86_400_000;
const startAt = "2026-02-03T00:00:00+01:00";
const refill = {
  kind: "charge closed",
  vesselId: "cellar",
  acid: { kind: "citric-acid-anhydrous", mass_g: 82 },
  sodiumBicarbonate_g: 100,
  water_kg: 0.5,
  closedWith: "water",
  sealedAt_degC: 20,
} as const;

describe("what is left in a vessel with a pressure sensor", () => {
  it("follows what is drawn, by tank and by day, and holds the truth in its interval", () => {
    const bench = new SupplyBench({ startAt });
    bench.hours(4 * 24);
    const { estimate, source, use } = bench.told;
    expect(source).toBe("sensor");
    expect(estimate.phase).toBe("dosing");
    expect(estimate.remaining.low95_g).toBeLessThan(bench.remaining_g);
    expect(estimate.remaining.high95_g).toBeGreaterThan(bench.remaining_g);
    // 8 h a day, as the valve was open.
    expect(use.total_gPerDay).toBeGreaterThan(0.7 * 8 * bench.flow_gPerH);
    expect(use.total_gPerDay).toBeLessThan(1.4 * 8 * bench.flow_gPerH);
    expect(use.byTank).toEqual([{ tankId: "loach", co2_gPerDay: expect.any(Number) as number }]);
    const told = bench.events.filter(({ area }) => area === "charge");
    expect(told[0]?.what).toMatch(/^runs out about 2026-\d\d-\d\d$/);
  });

  it("goes on after a restart as if there had been none, rows folded into a checkpoint or not", () => {
    const straight = new SupplyBench({ startAt });
    const restarted = new SupplyBench({ startAt });
    for (const span_h of [1.1, 40, 60]) {
      straight.hours(span_h);
      restarted.hours(span_h);
      restarted.restart();
      straight.hours(0.5);
      restarted.hours(0.5);
      expect(restarted.told.estimate).toEqual(straight.told.estimate);
    }
    const kept = JSON.stringify(restarted.saved);
    expect(kept).toContain('"checkpoint":{');
    expect(kept.length).toBeLessThan(150_000);
  });

  it.each([
    { says: () => 0, warning: "pressure-of-open-air", because: "a cut wire" },
    { says: () => 1e6, warning: "pressure-beyond-charge", because: "nonsense" },
    { says: (bar: number) => bar * 14.5038, warning: "pressure-in-another-unit", because: "psi sent as bar" },
    { says: (bar: number) => bar / 14.5038, warning: "pressure-in-another-unit", because: "bar sent as psi" },
  ])("is not poisoned by hours of $because, and says so", ({ says, warning }) => {
    const bench = new SupplyBench({ startAt });
    bench.hours(36);
    const before_g = bench.told.estimate.remaining.value_g;
    bench.sensor = says;
    bench.hours(8);
    expect(bench.told.estimate.warnings.map(({ id }) => id)).toContain(warning);
    expect(Math.abs(bench.told.estimate.remaining.value_g - before_g)).toBeLessThan(4);
    bench.sensor = (bar) => bar;
    bench.hours(2);
    expect(bench.told.estimate.warnings.map(({ id }) => id)).not.toContain(warning);
    expect(bench.told.estimate.remaining.low95_g).toBeLessThan(bench.remaining_g);
    expect(bench.told.estimate.remaining.high95_g).toBeGreaterThan(bench.remaining_g);
  });

  it("counts no flow while the daemon was away, and is less sure of what is left", () => {
    const bench = new SupplyBench({ startAt });
    bench.hours(36);
    const before = bench.told.estimate;
    const away_ms = 2 * day_ms;
    bench.sensor = () => undefined;
    bench.restart();
    bench.now_epochMs += away_ms;
    bench.hours(0.1);
    const after = bench.told.estimate;
    expect(after.remaining.value_g).toBeCloseTo(before.remaining.value_g, 0);
    expect(after.runOut.median_epochMs).toBeGreaterThan(before.runOut.median_epochMs);
  });
});

describe("what is left in a vessel without any sensor", () => {
  const byEye = (startedAt = startAt): SupplyBench =>
    new SupplyBench({ startAt: startedAt, yaml: supplyYaml({ sensors: false }) });
  const width_g = (bench: SupplyBench): number =>
    bench.told.estimate.remaining.high80_g - bench.told.estimate.remaining.low80_g;

  it("is told from what was put in, widely, until a gauge is read by eye twice a week", () => {
    const bench = byEye();
    bench.hours(6 * 24, 4);
    expect(bench.told.source).toBe("nothing yet");
    const unread_g = width_g(bench);
    expect(bench.told.estimate.remaining.low95_g).toBeLessThan(bench.remaining_g);
    expect(bench.told.estimate.remaining.high95_g).toBeGreaterThan(bench.remaining_g);
    for (let week = 0; week < 2; week += 1) {
      bench.readGauge();
      bench.hours(3 * 24, 4);
      bench.readGauge();
      bench.hours(4 * 24, 4);
    }
    expect(bench.told.source).toBe("by eye");
    expect(width_g(bench)).toBeLessThan(unread_g / 2);
    expect(Math.abs(bench.told.estimate.remaining.value_g - bench.remaining_g)).toBeLessThan(4);
  });

  it("is the same whether a reading was entered at once or two days late, and forgets a withdrawn one", () => {
    const [prompt, late, withdrawn] = [byEye(), byEye(), byEye()];
    const benches = [prompt, late, withdrawn];
    benches.forEach((bench) => bench.hours(48, 4));
    const seenAt_epochMs = prompt.now_epochMs;
    const seen_bar = Math.round(prompt.gauge_bar * 10) / 10;
    prompt.readGauge(seen_bar);
    const wrong = withdrawn.readGauge(9);
    benches.forEach((bench) => bench.hours(48, 4));
    late.readGauge(seen_bar, seenAt_epochMs);
    withdrawn.journal.withdraw(withdrawn.journal.find(wrong)!);
    withdrawn.readGauge(seen_bar, seenAt_epochMs);
    benches.forEach((bench) => bench.hours(0.5, 4));
    expect(late.told.estimate).toEqual(prompt.told.estimate);
    expect(withdrawn.told.estimate).toEqual(prompt.told.estimate);
  });

  it("takes in what was read before the daemon was first started", () => {
    const bench = byEye("2026-02-20T08:00:00+01:00");
    bench.removed_g = 18;
    bench.readGauge(undefined, bench.now_epochMs - 3 * day_ms);
    bench.hours(0.2);
    expect(bench.told.source).toBe("by eye");
    expect(bench.told.estimate.remaining.value_g).toBeLessThan(52);
  });
});

describe("a charge that another replaces", () => {
  it("is recorded with what it gave, after a restart too, and the new one begins", () => {
    const bench = new SupplyBench({ startAt });
    bench.hours(4 * 24);
    const gave_g = bench.removed_g;
    bench.restart();
    bench.enter(refill);
    bench.sensor = () => undefined;
    bench.hours(0.5);
    const ended = bench.events.find(({ what }) => what === "ended");
    expect(ended?.details["gave_g"]).toBeGreaterThan(gave_g - 5);
    // What escaped before closing is counted among what it gave.
    expect(ended?.details["gave_g"]).toBeLessThan(gave_g + 7);
    const view = bench.tracker.views()[0]!;
    expect(view.charge?.from).toBe("journal");
    expect(view.told?.estimate.phase).toBe("settling");
    // 100 g of bicarbonate give 52.4 g of CO2 where there is acid enough: 44.01 / 84.01. [IUPAC2021]
    expect(view.told?.estimate.charge_g).toBeCloseTo((100 * 44.0095) / 84.0066, 1);
  });

  it("is the same charge where an entry only corrects what was written of it", () => {
    const bench = new SupplyBench({ startAt });
    bench.hours(24);
    const wrong = bench.enter({ ...refill, sodiumBicarbonate_g: 10 }, bench.now_epochMs);
    bench.hours(0.2);
    bench.journal.withdraw(bench.journal.find(wrong)!);
    bench.events.length = 0;
    bench.enter(refill, bench.now_epochMs);
    bench.hours(0.2);
    expect(bench.events.filter(({ what }) => what === "ended")).toEqual([]);
  });
});

describe("a supply that cannot be worked out", () => {
  it("is told as such, and tried again with the next rows", () => {
    let isBroken = true;
    const results: (() => void)[] = [];
    const runner: SupplyRunner = {
      run: (_job, done) => {
        if (isBroken) done(undefined, "its thread ended with code 1");
        else results.push(() => done(undefined));
      },
      stop: () => Promise.resolve(),
    };
    const bench = new SupplyBench({ startAt, runner });
    bench.hours(0.5);
    expect(bench.tracker.views()[0]).toMatchObject({
      told: undefined,
      failure: "its thread ended with code 1",
    });
    isBroken = false;
    bench.hours(0.5);
    expect(results).toHaveLength(1);
  });

  it("is told with its reason where the charge does not go into the vessel, until that is withdrawn", () => {
    const bench = new SupplyBench({ startAt });
    bench.hours(0.5);
    const overfull = bench.enter({ ...refill, water_kg: 1.9 });
    bench.hours(0.2);
    expect(bench.tracker.views()[0]?.failure).toMatch(/water/);
    bench.journal.withdraw(bench.journal.find(overfull)!);
    bench.hours(0.2);
    expect(bench.tracker.views()[0]).toMatchObject({ failure: undefined, charge: { from: "config" } });
    expect(bench.told.estimate.phase).toBe("ready");
  });
});
