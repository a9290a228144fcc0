import { describe, expect, it } from "vitest";
import { NoConvergenceError } from "../../../../lib/errors.js";
import { drawCharge } from "../../../../lib/simulation/drawn-charge.js";
import { idealRunOut_epochMs } from "../../../../lib/simulation/ideal-forecast.js";
import { simulateCharge } from "../../../../lib/simulation/simulated-charge.js";
import type { SupplyFault } from "../../../../lib/simulation/supply-fault.js";

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;

describe("a drawn charge", () => {
  it("is the same for the same seed, and another for another", () => {
    const conditions = { readBy: "device" } as const;
    expect(drawCharge(5, conditions)).toEqual(drawCharge(5, conditions));
    expect(drawCharge(5, conditions)).not.toEqual(drawCharge(6, conditions));
  });

  it("spreads its errors and recipes as asked", () => {
    const draws = Array.from({ length: 400 }, (_, seed) => drawCharge(seed, { readBy: "device" }));
    const spreadOf = (values: readonly number[]): readonly [number, number] => {
      const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
      const variance = values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (values.length - 1);
      return [mean, Math.sqrt(variance)];
    };
    // Standard error of a standard deviation of 400 values: 3.5 %; four of them.
    const [pressureMean, pressureSpread] = spreadOf(draws.map((draw) => draw.errors.co2Pressure_ratio));
    expect(Math.abs(pressureMean - 1)).toBeLessThan(0.008);
    expect(Math.abs(pressureSpread / 0.04 - 1)).toBeLessThan(0.15);
    const [, retainedSpread] = spreadOf(draws.map((draw) => draw.errors.retainedBicarbonate_ratio));
    expect(Math.abs(retainedSpread / 0.25 - 1)).toBeLessThan(0.15);
    for (const draw of draws) {
      const { told, errors } = draw;
      expect(errors.lostBeforeClosing_ratio).toBeGreaterThanOrEqual(0);
      expect(errors.lostBeforeClosing_ratio).toBeLessThan(0.08);
      expect(errors.trappedAir_ratio).toBeGreaterThanOrEqual(0);
      expect(errors.trappedAir_ratio).toBeLessThan(1);
      expect(draw.plannedGauge_bar).toBeGreaterThan(8);
      expect(draw.plannedGauge_bar).toBeLessThan(22);
      expect(draw.planned_days).toBeGreaterThanOrEqual(10);
      expect(draw.planned_days).toBeLessThanOrEqual(80);
      expect(told.vesselVolume_L).toBeGreaterThanOrEqual(1);
      expect(told.vesselVolume_L).toBeLessThanOrEqual(3);
      expect(Math.abs(draw.gauge.bias_bar)).toBeLessThanOrEqual(told.gaugeAccuracy_bar);
      for (const window of told.windows) {
        expect(window.opens_min).toBeLessThan(window.closes_min);
        expect(window.closes_min).toBeLessThan(1440);
      }
    }
  });

  it("says so when no charge fits the conditions", () => {
    expect(() => drawCharge(1, { readBy: "device", leastDays: 5000, mostDays: 9000 })).toThrow(
      NoConvergenceError,
    );
  });
});

describe("a simulated charge", () => {
  it("keeps every mole from closing to the end, refills and leaks counted", () => {
    for (const seed of [1, 2, 6]) {
      const drawn = drawCharge(seed, { readBy: "device" });
      const onset_epochMs = drawn.traceFrom_epochMs + 6 * day_ms;
      const { end } = simulateCharge(drawn, {
        until_epochMs: drawn.traceFrom_epochMs + 14 * day_ms,
        faults: [
          { kind: "vessel-leak", onset_epochMs, leak_gPerDay: 2 },
          { kind: "refill", onset_epochMs: onset_epochMs + 2 * day_ms },
        ],
      });
      expect(
        Math.abs(end.putIn_mol - end.lostBeforeClosing_mol - end.left_mol - end.carbon_mol),
      ).toBeLessThan(1e-9);
      expect(Math.abs(end.airPutIn_mol - end.airLeft_mol - end.air_mol)).toBeLessThan(1e-9);
    }
  });

  it("tells what remains: the lesser of bicarbonate and three times the acid, less all that left", () => {
    const drawn = drawCharge(8, { readBy: "device" });
    const { truth, available_g } = simulateCharge(drawn);
    const lost_g = drawn.errors.lostBeforeClosing_ratio * available_g;
    for (const row of truth) {
      expect(row.co2Remaining_g).toBeCloseTo(available_g - lost_g - row.delivered_g - row.leaked_g, 6);
    }
    const last = truth.at(-1)!;
    expect(last.deliverable_g()).toBe(0);
    expect(last.co2Remaining_g).toBeGreaterThan(0.1 * available_g);
  });

  it("runs out when the gauge has fallen for good: above before, never after", () => {
    for (const seed of [3, 4, 5]) {
      const { truth, runOut_epochMs, drawn } = simulateCharge(drawCharge(seed, { readBy: "device" }));
      expect(runOut_epochMs).toBeDefined();
      const working_bar = drawn.told.workingPressureGauge_bar;
      const after = truth.filter((row) => row.at_epochMs > runOut_epochMs!);
      expect(after.length).toBeGreaterThan(30);
      expect(after.every((row) => row.pressureGauge_bar < working_bar)).toBe(true);
      expect(
        truth.find((row) => row.at_epochMs > runOut_epochMs! - 2 * hour_ms)!.pressureGauge_bar,
      ).toBeLessThan(working_bar + 0.3);
    }
  });

  it("gives an estimator rows in order of time, on the pressure's clock and at each change of the valve", () => {
    const { readings } = simulateCharge(drawCharge(9, { readBy: "device" }), { gaps: "none" });
    readings.slice(1).forEach((row, index) => {
      const before = readings[index]!;
      expect(row.at_epochMs).toBeGreaterThan(before.at_epochMs);
      expect(row.at_epochMs - before.at_epochMs).toBeLessThanOrEqual(600_000);
      if (row.pressureGauge_bar === undefined) expect(row.valveOpen).not.toBe(before.valveOpen);
    });
  });

  it("is read by eye twice a week: at first use, and then every two to five days", () => {
    const drawn = drawCharge(11, { readBy: "eye", leastDays: 40 });
    const byEye = simulateCharge(drawn).readings.filter((row) => row.pressureGauge_bar !== undefined);
    expect(byEye.every((row) => row.byEye === true)).toBe(true);
    expect(byEye.some((row) => row.at_epochMs === drawn.dosingFrom_epochMs)).toBe(true);
    const gaps = byEye.slice(1).map((row, index) => row.at_epochMs - byEye[index]!.at_epochMs);
    const weeks = (byEye.at(-1)!.at_epochMs - byEye[0]!.at_epochMs) / (7 * day_ms);
    expect(byEye.length / weeks).toBeGreaterThan(1.6);
    expect(byEye.length / weeks).toBeLessThan(2.7);
    expect(Math.max(...gaps)).toBeLessThan(5.1 * day_ms);
  });

  it("has its recorder silent for hours to days now and then", () => {
    const { readings } = simulateCharge(drawCharge(14, { readBy: "device", leastDays: 50 }));
    const pressures = readings.filter((row) => row.pressureGauge_bar !== undefined);
    const longest_ms = Math.max(
      ...pressures.slice(1).map((row, index) => row.at_epochMs - pressures[index]!.at_epochMs),
    );
    expect(longest_ms).toBeGreaterThan(2 * hour_ms);
    expect(longest_ms).toBeLessThan(4 * day_ms);
  });

  const since = (drawnFrom_epochMs: number): number => drawnFrom_epochMs + 4 * day_ms;
  const leak: readonly {
    readonly because: string;
    readonly fault: (onset_epochMs: number) => SupplyFault;
    readonly extra_g: readonly [number, number];
  }[] = [
    {
      because: "a gram a day for five days, a little less as the pressure falls",
      fault: (onset_epochMs) => ({ kind: "vessel-leak", onset_epochMs, leak_gPerDay: 1 }),
      extra_g: [3.5, 5.1],
    },
    {
      because: "a tenth of a gram an hour while the valve is closed, two thirds of the time",
      fault: (onset_epochMs) => ({ kind: "valve-leaks", onset_epochMs, leak_gPerH: 0.1 }),
      extra_g: [5, 10],
    },
    {
      because: "nothing gets through a blocked filter",
      fault: (onset_epochMs) => ({ kind: "outlet-blocked", onset_epochMs, opening_ratio: 0 }),
      extra_g: [-30, -3],
    },
    {
      because: "one of two equal branches is shut",
      fault: (onset_epochMs) => ({ kind: "branch-closed", onset_epochMs, share_ratio: 0.5 }),
      extra_g: [-15, -1.5],
    },
    {
      because: "half more through a needle valve that was opened",
      fault: (onset_epochMs) => ({ kind: "needle-readjusted", onset_epochMs, opening_ratio: 1.5 }),
      extra_g: [1.5, 15],
    },
    {
      because: "a gauge that steps loses no gas",
      fault: (onset_epochMs) => ({ kind: "gauge-step", onset_epochMs, step_bar: -1 }),
      extra_g: [0, 0],
    },
  ];
  it.each(leak)("loses in five days what a fault takes: $because", ({ fault, extra_g }) => {
    const drawn = drawCharge(3, { readBy: "transducer", settled: true, leastDays: 20 });
    const onset_epochMs = since(drawn.traceFrom_epochMs);
    const run = { until_epochMs: onset_epochMs + 5 * day_ms + hour_ms, gaps: "none" } as const;
    const sound = simulateCharge(drawn, run);
    const faulty = simulateCharge(drawn, { ...run, faults: [fault(onset_epochMs)] });
    const taken_g = sound.truth.at(-1)!.co2Remaining_g - faulty.truth.at(-1)!.co2Remaining_g;
    expect(taken_g).toBeGreaterThanOrEqual(extra_g[0]);
    expect(taken_g).toBeLessThanOrEqual(extra_g[1]);
    const before = faulty.truth.filter((row) => row.at_epochMs < onset_epochMs);
    expect(before.map((row) => row.pressureGauge_bar)).toEqual(
      sound.truth.slice(0, before.length).map((row) => row.pressureGauge_bar),
    );
  });

  it("tells the leak of each hour, in the state that the valve is in", () => {
    const drawn = drawCharge(3, { readBy: "transducer", settled: true, leastDays: 20 });
    const onset_epochMs = since(drawn.traceFrom_epochMs);
    const { truth } = simulateCharge(drawn, {
      until_epochMs: onset_epochMs + 2 * day_ms,
      faults: [
        { kind: "vessel-leak", onset_epochMs, until_epochMs: onset_epochMs + day_ms, leak_gPerDay: 1 },
      ],
    });
    for (const row of truth) {
      const leaks = row.at_epochMs >= onset_epochMs && row.at_epochMs < onset_epochMs + day_ms;
      expect(row.leak_gPerDay > 0).toBe(leaks);
      if (leaks) expect(Math.abs(row.leak_gPerDay - 1)).toBeLessThan(0.2);
    }
  });

  it("shows a step of the gauge, a short charge and a heavy one where they are", () => {
    const drawn = drawCharge(3, { readBy: "transducer", settled: true, leastDays: 20 });
    const onset_epochMs = since(drawn.traceFrom_epochMs);
    const { readings, truth } = simulateCharge(drawn, {
      until_epochMs: onset_epochMs + hour_ms,
      gaps: "none",
      faults: [{ kind: "gauge-step", onset_epochMs, step_bar: -1 }],
    });
    const shown = readings.filter((row) => row.pressureGauge_bar !== undefined);
    const first = shown.find((row) => row.at_epochMs >= onset_epochMs)!;
    const before = shown.filter((row) => row.at_epochMs < onset_epochMs).at(-1)!;
    expect(first.pressureGauge_bar! - before.pressureGauge_bar!).toBeCloseTo(-1, 0);
    expect(truth.length).toBeGreaterThan(90);
    const available = (weighed_ratio: number): number =>
      simulateCharge(drawCharge(3, { readBy: "transducer", settled: true, leastDays: 20, weighed_ratio }), {
        until_epochMs: drawn.traceFrom_epochMs + hour_ms,
      }).available_g;
    expect(available(0.75) / available(1)).toBeCloseTo(0.75, 9);
    expect(available(1.3) / available(1)).toBeCloseTo(1.3, 9);
  });

  it("is foretold to the hour by who knows all, where nothing is left to chance", () => {
    const drawn = drawCharge(9, { readBy: "device" });
    const steady = {
      ...drawn,
      climate: { ...drawn.climate, wander_K: 0, dailySwing_K: 0.1 },
      habits: {
        skippedDay_ratio: 0,
        openedByHand_ratio: 0,
        closedByHand_ratio: 0,
        needleTouched_days: Infinity,
        needleTouch_ln: 0,
        flowWander_ln: 0,
      },
    };
    const { truth, runOut_epochMs } = simulateCharge(steady, { gaps: "none" });
    const now = truth[Math.floor(truth.length / 3)]!;
    const forecast_epochMs = idealRunOut_epochMs(steady, now);
    expect(Math.abs(forecast_epochMs! - runOut_epochMs!) / (runOut_epochMs! - now.at_epochMs)).toBeLessThan(
      0.01,
    );
  });
});
