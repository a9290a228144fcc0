import { describe, expect, it } from "vitest";
import { emptySnapshot, readSnapshot, type ControlSnapshot } from "../../../../daemon/control-snapshot.js";
import { createLeakTestKeeper, type LeakTestKeeper } from "../../../../daemon/leak-tests/leak-test-keeper.js";
import type { LeakTest } from "../../../../daemon/leak-tests/leak-test.js";
import type { SiteEvent } from "../../../../daemon/ports/site-store.js";
import { supplyYaml, SupplyBench } from "../../../support/supply-bench.js";

const wish = { vesselId: "cellar", hold_h: 14, matters_gPerDay: 1, gaugeAccuracy_bar: undefined };

/** A vessel with a transducer that has been followed for a day, and a keeper of tests beside its tracker. */
function benchAfter(hours: number, leak_gPerDay: number) {
  const bench = new SupplyBench({
    startAt: "2026-02-06T18:00:00+01:00",
    yaml: supplyYaml({ datesOff: '["2026-02-07", "2026-02-08"]' }),
    removed_g: 10,
  });
  bench.leak_gPerH = leak_gPerDay / 24;
  bench.hours(hours, 10);
  const kept = { snapshot: emptySnapshot };
  const events: SiteEvent[] = [];
  const newKeeper = (): LeakTestKeeper =>
    createLeakTestKeeper({
      now_epochMs: () => bench.now_epochMs,
      model: () => bench.site,
      journal: bench.journal,
      closedVessel: (vesselId) => bench.tracker.closedVessel(vesselId),
      kept: {
        current: () => kept.snapshot,
        replace: (next: ControlSnapshot, event: SiteEvent) => {
          // As a restart reads it.
          kept.snapshot = readSnapshot(JSON.parse(JSON.stringify(next)));
          events.push(event);
          return Promise.resolve(true);
        },
      },
    });
  return { bench, kept, events, newKeeper };
}

async function begun(keeper: LeakTestKeeper): Promise<LeakTest> {
  const outlook = keeper.outlook(wish);
  if (outlook.kind === "refused") throw new Error(outlook.reason);
  await keeper.begin(outlook.test);
  return outlook.test;
}

describe("a leak test by the pressure sensor", () => {
  it("finds 3 g a day in a night, with an interval that holds it, over a restart", async () => {
    const { bench, newKeeper, events } = benchAfter(12, 3);
    await begun(newKeeper());
    bench.hours(7, 10);
    bench.restart();
    const keeper = newKeeper();
    keeper.follow();
    expect(keeper.views()).toMatchObject([{ isRunning: true, byNow: { verdict: {} } }]);
    bench.hours(7.1, 10);
    keeper.follow();
    const [view] = keeper.views();
    expect(view).toMatchObject({ isRunning: false, test: { found: { isEarly: false } } });
    const verdict = view!.test.found!.verdict;
    expect(verdict.kind).toBe("leaks");
    if (verdict.kind !== "leaks") return;
    expect(verdict.low95_gPerDay).toBeLessThan(3);
    expect(verdict.high95_gPerDay).toBeGreaterThan(3);
    expect(events.map(({ what }) => what)).toEqual(["began", "ended"]);
    expect(events[1]?.reason).toMatch(/^It leaks: \d/);
  });

  it("calls a tight vessel tight, and has found nothing after its first hour", async () => {
    const { bench, newKeeper } = benchAfter(12, 0);
    const keeper = newKeeper();
    await begun(keeper);
    bench.hours(1, 10);
    keeper.follow();
    expect(keeper.views()[0]?.byNow?.verdict.kind).toBe("cannot-be-told");
    bench.hours(12, 10);
    const found = await keeper.end("cellar");
    expect(found?.isEarly).toBe(true);
    expect(found?.verdict.kind).toBe("tight");
    expect(await keeper.end("cellar")).toBeUndefined();
  });

  it("is refused while the sensor is silent, and takes a gauge read by eye instead", () => {
    const { bench, newKeeper } = benchAfter(10, 0);
    bench.sensor = () => undefined;
    bench.hours(2, 10);
    // Rows without a pressure still come; what was last read is two hours old.
    const keeper = newKeeper();
    expect(keeper.outlook(wish)).toMatchObject({ kind: "refused" });
    bench.readGauge();
    const outlook = keeper.outlook({ ...wish, gaugeAccuracy_bar: 0.1 });
    expect(outlook).toMatchObject({ kind: "possible", missedWindows: 0 });
    if (outlook.kind === "possible") expect(outlook.needed_h).toBeGreaterThan(1);
  });

  it("forgets the test of a vessel that is gone from the config", async () => {
    const { bench, newKeeper, kept, events } = benchAfter(12, 0);
    await begun(newKeeper());
    (bench.site.vessels as Map<string, unknown>).delete("cellar");
    newKeeper().follow();
    expect(kept.snapshot.leakTests).toEqual([]);
    expect(events.at(-1)?.what).toBe("forgotten");
  });
});
