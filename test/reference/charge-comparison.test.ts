import { describe, expect, it } from "vitest";
import {
  blockContrast,
  meanOutcome,
  pooledScatter,
  type Outcome,
} from "../../lib/charge-log/block-contrast.js";
import { studentCumulative, studentQuantile } from "../../lib/numerics/student-t.js";
import { missOf, readReference } from "./read-reference.js";

interface QuantileRow {
  readonly share: number;
  readonly degreesOfFreedom: number;
  readonly t: number;
}

describe.each(["student-t.json", "student-t-fractional.json"])("Student's t against %s", (name) => {
  const table = readReference<QuantileRow>(name);

  it.each(table.rows)("is $t at $share with $degreesOfFreedom degrees of freedom", (row) => {
    const found = studentQuantile(row.share, row.degreesOfFreedom);
    expect(missOf(table, found, row.t), `${table.source}: got ${found}`).toBeLessThanOrEqual(table.tolerance);
    expect(studentCumulative(found, row.degreesOfFreedom)).toBeCloseTo(row.share, 9);
  });
});

interface ContrastRow {
  readonly case: string;
  readonly outcomes: readonly Omit<Outcome, "deviation">[];
  readonly one: string;
  readonly other: string;
  readonly comparisons: number;
  readonly difference: number;
  readonly low: number;
  readonly high: number;
  readonly degreesOfFreedom: number;
}

describe("the difference of two treatments against a general least-squares solver", () => {
  const table = readReference<ContrastRow>("block-contrast.json");

  it.each(table.rows)("agrees for $case", (row) => {
    const outcomes = row.outcomes.map((outcome) => ({ ...outcome, deviation: 0 }));
    const found = blockContrast(outcomes, row, pooledScatter(outcomes), row.comparisons);
    if (found.kind !== "told" && found.kind !== "open") throw new Error(found.kind);
    for (const key of ["difference", "low", "high"] as const) {
      expect(missOf(table, found[key], row[key]), `${table.source}: ${key}`).toBeLessThanOrEqual(
        table.tolerance,
      );
    }
    expect(found.degreesOfFreedom).toBe(row.degreesOfFreedom);
  });
});

interface PaintRow {
  readonly group: string;
  readonly count: number;
  readonly mean: number;
  readonly deviation: number;
  readonly low: number;
  readonly high: number;
}

describe("group means with a pooled deviation against a published example", () => {
  const table = readReference<PaintRow & { readonly pooledDeviation: number }>("pooled-means.json");
  // Half of the values above and half below the mean, so that mean and deviation are those of the table.
  const outcomes = table.rows.flatMap(({ group, count, mean, deviation }) =>
    Array.from({ length: count }, (_, k): Outcome => {
      const away = deviation * Math.sqrt((count - 1) / count);
      return { treatment: group, block: "all", value: mean + (k % 2 === 0 ? away : -away), deviation: 0 };
    }),
  );
  const scatter = pooledScatter(outcomes);

  it.each(table.rows)("gives the interval of $group", (row) => {
    expect(missOf(table, scatter.deviation, row.pooledDeviation)).toBeLessThanOrEqual(table.tolerance);
    const { mean, low, high } = meanOutcome(
      outcomes.filter(({ treatment }) => treatment === row.group),
      scatter,
    );
    expect(missOf(table, mean, row.mean)).toBeLessThanOrEqual(table.tolerance);
    expect(missOf(table, low ?? NaN, row.low), table.source).toBeLessThanOrEqual(table.tolerance);
    expect(missOf(table, high ?? NaN, row.high), table.source).toBeLessThanOrEqual(table.tolerance);
  });
});
