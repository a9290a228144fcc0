import { describe, expect, it } from "vitest";
import { forecastFan } from "../../../../lib/estimation/forecast-fan.js";
import { createSupplyReplay } from "../../../../lib/estimation/replay-trace.js";
import { supplyBelief } from "../../../../lib/estimation/supply-belief.js";
import { supplyEstimate } from "../../../../lib/estimation/supply-estimate.js";
import { createSupplyModel } from "../../../../lib/estimation/supply-model.js";
import { suppliedCharge, usedCharge } from "../../../support/supply-trace-rows.js";

const day_ms = 86_400_000;
const from_epochMs = Date.UTC(2026, 1, 3);
const charge = suppliedCharge();
const model = createSupplyModel(charge);
const rows = usedCharge(charge, { from_epochMs, days: 24 });

describe("the fan of a forecast", () => {
  const now_epochMs = from_epochMs + 8 * day_ms;
  const replay = createSupplyReplay(model);
  for (const { reading } of rows) if (reading.at_epochMs <= now_epochMs) replay.take(reading);
  const state = replay.state!;
  const { runOut } = supplyEstimate(model, state, state.at_epochMs);
  const fanAt = (instants_epochMs: readonly number[]) =>
    forecastFan(model, state, supplyBelief(state), { reference_degC: 20, instants_epochMs });
  const ahead = rows.filter(({ reading }) => reading.at_epochMs > now_epochMs);

  it("holds what the gauge then shows, until the charge is spent", () => {
    const seen = ahead.filter(({ reading }) => reading.at_epochMs < runOut.low80_epochMs);
    const fan = fanAt(seen.map(({ reading }) => reading.at_epochMs));
    const inside = seen.filter(({ reading }, k) => {
      const { low80_bar, high80_bar } = fan[k]!;
      return low80_bar <= reading.pressureGauge_bar! && reading.pressureGauge_bar! <= high80_bar;
    });
    expect(seen.length).toBeGreaterThan(300);
    expect(inside.length / seen.length).toBeGreaterThan(0.9);
  });

  it("meets the working pressure where the run-out is forecast", () => {
    const [low, median, high] = fanAt([runOut.low80_epochMs, runOut.median_epochMs, runOut.high80_epochMs]);
    const working_bar = charge.workingPressureGauge_bar;
    expect(Math.abs(low!.low80_bar - working_bar)).toBeLessThan(0.35);
    expect(Math.abs(median!.median_bar - working_bar)).toBeLessThan(0.35);
    expect(Math.abs(high!.high80_bar - working_bar)).toBeLessThan(0.35);
  });

  it("never rises, stands still while the windows are closed, and widens", () => {
    const fan = fanAt(Array.from({ length: 40 }, (_, k) => now_epochMs + (k * day_ms) / 4));
    for (const [k, point] of fan.entries()) {
      expect(point.low80_bar).toBeLessThanOrEqual(point.median_bar);
      expect(point.median_bar).toBeLessThanOrEqual(point.high80_bar);
      if (k > 0) expect(point.median_bar).toBeLessThanOrEqual(fan[k - 1]!.median_bar + 1e-9);
    }
    const night = [now_epochMs + 19 * 3_600_000, now_epochMs + 23 * 3_600_000];
    const [evening, midnight] = fanAt(night);
    expect(midnight!.median_bar).toBeCloseTo(evening!.median_bar, 6);
    const width = (k: number): number => fan[k]!.high80_bar - fan[k]!.low80_bar;
    expect(width(20)).toBeGreaterThan(width(1));
  });
});
