import { describe, expect, it } from "vitest";
import { rateOfRise } from "../../lib/tank/rate-of-rise.js";
import { missOf, readReference } from "./read-reference.js";

interface RateRow {
  readonly case: string;
  readonly minutes: readonly number[];
  readonly co2_mgPerL: readonly number[];
  readonly rate: number;
  readonly low: number;
  readonly high: number;
}

describe("rate of rise against a general-purpose library", () => {
  const table = readReference<RateRow>("rate-of-rise.json");

  it.each(table.rows)("of $case is $rate ($low to $high) mg/L in 30 minutes", (row) => {
    const trace = row.minutes.map((minute, index) => ({
      at_monotonicMs: 60_000 * minute,
      co2_mgPerL: row.co2_mgPerL[index] ?? Number.NaN,
    }));
    const rate = rateOfRise(trace, { now_monotonicMs: 60_000 * 30 });
    if (rate === undefined) throw new Error("no rate");
    expect(missOf(table, rate.rate_mgPerLPer30Min, row.rate)).toBeLessThanOrEqual(table.tolerance);
    expect(missOf(table, rate.rateLow80_mgPerLPer30Min, row.low)).toBeLessThanOrEqual(table.tolerance);
    expect(missOf(table, rate.rateHigh80_mgPerLPer30Min, row.high)).toBeLessThanOrEqual(table.tolerance);
  });
});
