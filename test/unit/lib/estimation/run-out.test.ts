import { describe, expect, it } from "vitest";
import { toldRunOut } from "../../../../lib/estimation/run-out.js";
import { createSupplyReplay } from "../../../../lib/estimation/replay-trace.js";
import type { SupplyEstimate } from "../../../../lib/estimation/supply-estimate.js";
import { createSupplyModel } from "../../../../lib/estimation/supply-model.js";
import type { SuppliedCharge } from "../../../../lib/estimation/supply-trace.js";
import { suppliedCharge, usedCharge, type TraceRow } from "../../../support/supply-trace-rows.js";

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
const from_epochMs = Date.UTC(2026, 1, 3);

const courseOf = (charge: SuppliedCharge, days: number): readonly TraceRow[] =>
  usedCharge(charge, { from_epochMs, days });

function estimatesOf(charge: SuppliedCharge, rows: readonly TraceRow[]): readonly SupplyEstimate[] {
  const replay = createSupplyReplay(createSupplyModel(charge));
  return [...rows.flatMap(({ reading }) => replay.take(reading)), ...replay.end()];
}

describe("run-out", () => {
  const charge = suppliedCharge();
  const rows = courseOf(charge, 24);
  const end = rows.find(({ reading }) => reading.pressureGauge_bar! <= charge.workingPressureGauge_bar)!;
  const end_epochMs = end.reading.at_epochMs;
  const estimates = estimatesOf(charge, rows);
  const at = (at_epochMs: number): SupplyEstimate =>
    estimates.find((estimate) => estimate.at_epochMs === at_epochMs)!;

  it.each([4, 8, 12])("on day %i foretells the end within a tenth of what is left, and holds it", (day) => {
    const { runOut, at_epochMs } = at(from_epochMs + day * day_ms);
    expect(Math.abs(runOut.median_epochMs - end_epochMs) / (end_epochMs - at_epochMs)).toBeLessThan(0.1);
    expect(runOut.low80_epochMs).toBeLessThan(end_epochMs);
    expect(runOut.high80_epochMs).toBeGreaterThan(end_epochMs);
  });

  it("comes in a dosing window, and closer as the end nears", () => {
    const width_ms = (day: number): number => {
      const { runOut } = at(from_epochMs + day * day_ms);
      return runOut.high80_epochMs - runOut.low80_epochMs;
    };
    const hour = (at(from_epochMs + 8 * day_ms).runOut.median_epochMs / hour_ms) % 24;
    expect(hour).toBeGreaterThanOrEqual(10);
    expect(hour).toBeLessThanOrEqual(18);
    expect(width_ms(12)).toBeLessThan(width_ms(4));
  });

  it("is the instant at which it came, once it has come", () => {
    const last = estimates.at(-1)!;
    expect(last.phase).toBe("spent");
    expect(Math.abs(last.runOut.median_epochMs - end_epochMs)).toBeLessThan(1.2 * day_ms);
    expect(last.runOut.low80_epochMs).toBe(last.runOut.high80_epochMs);
    expect(last.dosingLeft_days).toBe(0);
  });

  it("puts a coming end later when less of each day is dosed", () => {
    const half = courseOf(charge, 8);
    const shorter = suppliedCharge({ windows: [{ opens_min: 600, closes_min: 1080 }] });
    const used = estimatesOf(shorter, half).at(-1)!;
    const longerDay = suppliedCharge({ windows: [{ opens_min: 600, closes_min: 1320 }] });
    const unused = estimatesOf(longerDay, half).at(-1)!;
    // The valve was open 8 of 12 hours of the longer window: its end comes in between, not a third sooner.
    expect(unused.dosingLeft_days).toBeGreaterThan(0.66 * used.dosingLeft_days);
  });

  it("counts what the gauge may be wrong by: the regulator has the true pressure", () => {
    const halfWidth_g = (gaugeAccuracy_bar: number): number => {
      const { deliverable } = estimatesOf(suppliedCharge({ gaugeAccuracy_bar }), courseOf(charge, 10)).at(
        -1,
      )!;
      return (deliverable.high80_g - deliverable.low80_g) / 2;
    };
    expect(halfWidth_g(0.8) / halfWidth_g(0.1)).toBeGreaterThan(1.5);
  });

  it("goes through the phases of a settled charge in their order", () => {
    const phases = estimates.map(({ phase }) => phase);
    expect([...new Set(phases)]).toEqual(["ready", "dosing", "spent"]);
  });
});

describe("a run-out as it is told", () => {
  const at_epochMs = Date.UTC(2026, 4, 1);
  const inDays = (days: number): number => at_epochMs + days * day_ms;

  it("names no minute", () => {
    const exact_ms = 25 * 60_000;
    const told = toldRunOut(
      {
        median_epochMs: inDays(10) + exact_ms,
        low80_epochMs: inDays(8) - exact_ms,
        high80_epochMs: inDays(13) + exact_ms,
      },
      at_epochMs,
    );
    expect(told).toEqual({
      median_epochMs: inDays(10),
      low80_epochMs: inDays(8),
      high80_epochMs: inDays(13),
    });
  });

  it("is not told while its interval is wider than the time left and a day", () => {
    const vague = { median_epochMs: inDays(10), low80_epochMs: inDays(4), high80_epochMs: inDays(16) };
    expect(toldRunOut(vague, at_epochMs)).toBeUndefined();
  });
});
