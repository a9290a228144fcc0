import { describe, expect, it } from "vitest";
import { reportCharge } from "../../../../lib/charge-log/charge-report.js";
import {
  begunCharge,
  endOf,
  recordOf,
  withDosing,
  withSight,
  type ChargeSight,
  type FollowedCharge,
} from "../../../../lib/charge-log/followed-charge.js";

const day_ms = 86_400_000;
const hour_ms = 3_600_000;
const closed_epochMs = Date.UTC(2026, 2, 2, 18);
const begun = begunCharge({
  vesselId: "cellar",
  acid: { kind: "citric-acid-anhydrous", mass_g: 100 },
  sodiumBicarbonate_g: 120,
  water_kg: 0.5,
  vesselVolume_L: 2,
  closedWith: "water",
  closed_epochMs,
  workingPressureGauge_bar: 1.5,
});

/** After some hours, so much has left and so much can still be had. */
function sight(after_h: number, change: Partial<ChargeSight> = {}): ChargeSight {
  const at_epochMs = closed_epochMs + after_h * hour_ms;
  return {
    at_epochMs,
    phase: "dosing",
    removed: { value: 0, deviation: 0.5 },
    leak_gPerDay: { value: 0, deviation: 0.1 },
    remaining_g: { value: 60, low: 55, high: 63 },
    deliverable_g: { value: 50, low: 44, high: 56 },
    runOut: {
      median_epochMs: at_epochMs + 10 * day_ms,
      low80_epochMs: at_epochMs + 8 * day_ms,
      high80_epochMs: at_epochMs + 12 * day_ms,
    },
    ...change,
  };
}
const seen = (sights: readonly ChargeSight[], from = begun): FollowedCharge => sights.reduce(withSight, from);

describe("a charge from its closing to its end", () => {
  it("keeps what was foreseen in its first day, and when it was seen to settle", () => {
    const charge = seen([
      sight(2, { phase: "settling" }),
      sight(5, { phase: "ready", deliverable_g: { value: 52, low: 47, high: 57 } }),
      sight(9, { phase: "ready" }),
    ]);
    expect(charge.foreseen_g?.value).toBe(50);
    expect(charge.ready_epochMs).toBe(closed_epochMs + 5 * hour_ms);
    expect(endOf(charge).kind).toBe("running");
  });

  it("foresees nothing where it was first seen later, and has not seen it settle", () => {
    const charge = seen([sight(30)]);
    expect(charge.foreseen_g).toBeUndefined();
    expect(charge.ready_epochMs).toBeUndefined();
  });

  it("parts what was delivered from what leaked, with the errors of both", () => {
    const charge = seen([
      sight(240, {
        removed: { value: 30, deviation: 1 },
        leak_gPerDay: { value: 0.5, deviation: 0.1 },
      }),
    ]);
    // 30 g less ten days of half a gram; 1.959964 (normal table, 95 %) times the root of 1 and (10 x 0.1) squared.
    expect(charge.delivered_g.value).toBeCloseTo(25, 9);
    expect(charge.delivered_g.high - 25).toBeCloseTo(1.959964 * Math.SQRT2, 6);
    expect(charge.leak_gPerDay?.low).toBeCloseTo(0.5 - 0.1959964, 6);
  });

  it("keeps the run-out that was foretold at half of it, once", () => {
    const half = sight(100, { deliverable_g: { value: 24, low: 20, high: 28 } });
    const later = sight(150, { deliverable_g: { value: 12, low: 9, high: 15 } });
    const charge = seen([sight(2, { phase: "ready" }), sight(60), half, later]);
    expect(charge.forecastAtHalf).toEqual({ made_epochMs: half.at_epochMs, ...half.runOut });
  });

  it("is spent when the gauge stays down for a day, since it fell; a cold night is no end", () => {
    const spent = (after_h: number): ChargeSight => sight(after_h, { phase: "spent" });
    expect(endOf(seen([spent(100), sight(110), spent(120), spent(130)])).kind).toBe("running");
    expect(endOf(seen([spent(100), spent(112), spent(124)]))).toEqual({
      kind: "spent",
      at_epochMs: closed_epochMs + 100 * hour_ms,
    });
  });

  it("was refilled early where another took its place before that", () => {
    const charge = { ...seen([sight(100)]), replaced_epochMs: closed_epochMs + 101 * hour_ms };
    expect(endOf(charge)).toEqual({ kind: "refilled early", at_epochMs: charge.replaced_epochMs });
    const over = {
      ...seen([sight(100, { phase: "spent" })]),
      replaced_epochMs: closed_epochMs + 126 * hour_ms,
    };
    expect(endOf(over).kind).toBe("spent");
  });

  it("counts civil days that it served and gives each valve and tank its share", () => {
    const dosed = [
      [{ outlet: 2 }, "2026-03-03"],
      [{ outlet: 1, second: 1 }, "2026-03-03"],
      [{ second: 2 }, "2026-03-04"],
    ] as const;
    const charge = dosed.reduce<FollowedCharge>(
      (so, [open_h, date]) => withDosing(so, open_h, date),
      seen([sight(60, { removed: { value: 12, deviation: 0.5 } })]),
    );
    expect(charge.dosing_days).toBe(2);
    const record = recordOf(charge, {
      closedOn: "2026-03-02",
      prices: { currency: "EUR", sodiumBicarbonatePricePerKg: 3, citricAcidPricePerKg: 8 },
      feeds: new Map([
        ["outlet", [{ tank: "loach", share: 1 }]],
        [
          "second",
          [
            { tank: "loach", share: 0.25 },
            { tank: "shrimp", share: 0.75 },
          ],
        ],
      ]),
    });
    const parts = (of: typeof record.byTank) => of.map(({ name, co2_g }) => [name, co2_g.value]);
    expect(parts(record.byValve)).toEqual([
      ["outlet", 6],
      ["second", 6],
    ]);
    expect(parts(record.byTank)).toEqual([
      ["loach", 7.5],
      ["shrimp", 4.5],
    ]);
    const report = reportCharge(
      { ...record, ended: { kind: "spent", at_epochMs: closed_epochMs + 3 * day_ms } },
      0,
    );
    expect(report.chargeId).toBe("cellar 2026-03-02");
    // 120 g at 3 a kilogram and 100 g at 8, over two days.
    expect(report.cost?.perDay).toBeCloseTo((0.36 + 0.8) / 2, 9);
    // 120 g of bicarbonate give 120 / 84.007 x 44.009 g of CO2 [IUPAC2021]; the acid is in excess.
    expect(report.theoretical_g.value).toBeCloseTo((120 / 84.0066) * 44.0095, 1);
    expect(report.yield_ratio.value).toBeCloseTo(12 / report.theoretical_g.value, 9);
  });

  it("takes no older estimate", () => {
    const charge = seen([sight(60)]);
    expect(withSight(charge, sight(50))).toBe(charge);
  });
});
