import { describe, expect, it } from "vitest";
import type { ChargeRecord } from "../../../../lib/charge-log/charge-record.js";
import { recipeOf, reportCharge, theoreticalCo2_g } from "../../../../lib/charge-log/charge-report.js";
import { chargeTable } from "../../../../lib/charge-log/charge-log-text.js";
import { OutOfValidRangeError } from "../../../../lib/errors.js";

const closed_epochMs = Date.parse("2026-05-02T19:00+02:00");
const day_ms = 86_400_000;
const after = (days: number): number => closed_epochMs + days * day_ms;
const now_epochMs = after(40);

const record: ChargeRecord = {
  chargeId: "c7",
  vesselId: "cellar",
  planned: {
    sodiumBicarbonate_g: 80,
    citricAcid_g: 66,
    deliverable_g: { value: 30, low: 27, high: 33 },
    ready_h: { value: 2.5, low: 1.25, high: 5 },
    settledGauge_bar: { value: 11.2, low: 10.7, high: 11.7 },
  },
  acid: { kind: "citric-acid-anhydrous", mass_g: 66 },
  sodiumBicarbonate_g: 80,
  water_kg: 0.5,
  vesselVolume_L: 2,
  weighing_g: 1,
  closedWith: "water",
  closed_epochMs,
  workingPressureGauge_bar: 2,
  ready_epochMs: closed_epochMs + 3 * 3_600_000,
  settledGauge_bar: { value: 12.1, low: 11.9, high: 12.3 },
  delivered_g: { value: 29, low: 27, high: 31 },
  byValve: [{ name: "living-room", co2_g: { value: 29, low: 27, high: 31 } }],
  byTank: [
    { name: "loach", co2_g: { value: 20, low: 18, high: 22 } },
    { name: "shrimp", co2_g: { value: 9, low: 7, high: 11 } },
  ],
  leak_gPerDay: { value: 0.1, low: 0, high: 0.2 },
  left_g: { value: 8, low: 7, high: 9 },
  dosing_days: 28,
  forecastAtHalf: {
    made_epochMs: after(16),
    median_epochMs: after(31.2),
    low80_epochMs: after(28),
    high80_epochMs: after(34),
  },
  ended: { kind: "spent", at_epochMs: after(30) },
  prices: { currency: "EUR", sodiumBicarbonatePricePerKg: 4.2, citricAcidPricePerKg: 6.5 },
};

describe("what a charge could give", () => {
  it.each([
    // 84.007, 192.12, 210.14 and 44.009 g/mol: IUPAC standard atomic weights 2021.
    {
      bicarbonate: 84.007,
      acid: 192.12,
      kind: "citric-acid-anhydrous",
      co2: 44.009,
      because: "the bicarbonate is the lesser",
    },
    {
      bicarbonate: 840.07,
      acid: 192.12,
      kind: "citric-acid-anhydrous",
      co2: 132.027,
      because: "three for each acid",
    },
    {
      bicarbonate: 840.07,
      acid: 210.14,
      kind: "citric-acid-monohydrate",
      co2: 132.027,
      because: "with its water of crystallisation",
    },
  ] as const)("is $co2 g: $because", ({ bicarbonate, acid, kind, co2 }) => {
    const found = theoreticalCo2_g({
      acid: { kind, mass_g: acid },
      sodiumBicarbonate_g: bicarbonate,
      weighing_g: 0,
    });
    expect(found.value).toBeCloseTo(co2, 1);
    expect(found.low).toBe(found.value);
  });

  it("is as uncertain as the powder that is the lesser", () => {
    const found = theoreticalCo2_g(record);
    expect(found.high - found.value).toBeCloseTo(44.009 / 84.007, 3);
  });
});

describe("the report of a charge", () => {
  const report = reportCharge(record, now_epochMs);

  it("gives the yield with the errors of delivery and weighing", () => {
    const theoretical = (80 / 84.007) * 44.009;
    expect(report.yield_ratio.value).toBeCloseTo(29 / theoretical, 4);
    const delivery = 2 / theoretical;
    const weighing = (29 / theoretical) * (1 / 80);
    expect(report.yield_ratio.high - report.yield_ratio.value).toBeCloseTo(Math.hypot(delivery, weighing), 3);
  });

  it("accounts for every gram", () => {
    expect(report.leaked_g).toEqual({ value: 3, low: 0, high: 6 });
    expect(report.missing_g?.value).toBeCloseTo((80 / 84.007) * 44.009 - 29 - 3 - 8, 3);
    expect(report.remarks).toEqual([]);
  });

  it("sets each forecast beside what came", () => {
    expect(report.ready_h).toMatchObject({ actual: 3, error: 0.5, isInside: true });
    expect(report.settledGauge_bar).toMatchObject({ isInside: false });
    expect(report.runOut_days?.actual).toBeCloseTo(14, 12);
    expect(report.runOut_days?.error_ratio).toBeCloseTo(1.2 / 14, 12);
    expect(report.runOut_days?.isInside).toBe(true);
  });

  it("costs by the dosing day and by the gram", () => {
    const total = 0.08 * 4.2 + 0.066 * 6.5;
    expect(report.cost?.total).toBeCloseTo(total, 12);
    expect(report.cost?.perDay).toBeCloseTo(total / 28, 12);
    expect(report.cost?.perGram?.high).toBeCloseTo(total / 27, 12);
  });

  it.each([
    {
      change: { ended: { kind: "running" } } as const,
      missing: ["life_days", "runOut_days"],
      because: "it has not ended",
    },
    {
      change: { ended: { kind: "refilled early", at_epochMs: after(20) } } as const,
      missing: ["runOut_days"],
      because: "it never ran out",
    },
    { change: { ready_epochMs: undefined }, missing: ["ready_h", "actualReady_h"], because: "nobody saw it" },
    { change: { left_g: undefined }, missing: ["missing_g"], because: "a sum with an unknown part" },
    { change: { prices: undefined }, missing: ["cost"], because: "no price is known" },
  ])("leaves out what nobody knows: $because", ({ change, missing }) => {
    const other = reportCharge({ ...record, ...change }, now_epochMs);
    for (const key of missing) expect(other[key as keyof typeof other], key).toBeUndefined();
  });

  it.each([
    { change: { delivered_g: { value: 48, low: 46, high: 50 } }, kind: "more-than-possible" },
    { change: { sodiumBicarbonate_g: 85 }, kind: "weighed-unlike-plan" },
    {
      change: { ended: { kind: "refilled early", at_epochMs: after(20) } } as const,
      kind: "not-run-to-its-end",
    },
    { change: { delivered_g: { value: 15, low: 14, high: 16 } }, kind: "lost-otherwise" },
  ])("remarks on $kind", ({ change, kind }) => {
    const remarks = reportCharge({ ...record, ...change }, now_epochMs).remarks;
    expect(remarks.map((remark) => remark.kind)).toContain(kind);
  });

  it("survives being written as JSON", () => {
    expect(JSON.parse(JSON.stringify(report))).toEqual(report);
  });

  it("refuses a charge that could give nothing", () => {
    expect(() => reportCharge({ ...record, sodiumBicarbonate_g: 0 }, now_epochMs)).toThrow(
      OutOfValidRangeError,
    );
  });

  it("is a line of a table whose columns stand below one another", () => {
    const running = reportCharge(
      { ...record, chargeId: "c8", closed_epochMs: after(30), ended: { kind: "running" } },
      now_epochMs,
    );
    const [head = "", first = "", second = ""] = chargeTable([running, report], "Europe/Berlin");
    expect(first).toMatch(/^c7 +2026-05-02 +water +29\.0 \(27\.0-31\.0\) +69 \(64-74\)/);
    expect(first).toContain("12.1 of 11.2 outside");
    expect(first).toContain("+9 %");
    expect(second.startsWith("c8")).toBe(true);
    for (const title of ["closed", "yield %", "cost/day", "ended"]) {
      const column = head.indexOf(title);
      for (const line of [first, second]) {
        expect(line[column - 1]).toBe(" ");
        expect(line[column]).not.toBe(" ");
      }
    }
  });
});

describe("a recipe's name", () => {
  it("is the same for the same proportions in a larger vessel", () => {
    const large = {
      ...record,
      vesselVolume_L: 5,
      sodiumBicarbonate_g: 200,
      water_kg: 1.25,
      acid: { ...record.acid, mass_g: 165 },
    };
    expect(recipeOf(large)).toBe(recipeOf(record));
  });

  it("differs for other proportions of acid", () => {
    expect(recipeOf({ ...record, acid: { ...record.acid, mass_g: 80 } })).not.toBe(recipeOf(record));
  });
});
