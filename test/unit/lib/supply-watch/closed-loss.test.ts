import { describe, expect, it } from "vitest";
import { createSupplyModel } from "../../../../lib/estimation/supply-model.js";
import type { SupplyReading } from "../../../../lib/estimation/supply-trace.js";
import { createRandomSource, drawNormal } from "../../../../lib/simulation/random-source.js";
import {
  firstClosedLossState,
  stepClosedLoss,
  type ClosedLossState,
} from "../../../../lib/supply-watch/closed-loss.js";
import { leakTestVerdict } from "../../../../lib/supply-watch/leak-test.js";
import { lossFits } from "../../../../lib/supply-watch/loss-fit.js";
import { lossVerdict, type LossKind } from "../../../../lib/supply-watch/loss-verdict.js";
import { suppliedCharge, traceRows } from "../../../support/supply-trace-rows.js";

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
const from_epochMs = Date.UTC(2026, 1, 3);
const charge = suppliedCharge();
const model = createSupplyModel(charge);
const whole_g = model.map.co2Available_g;

/** First-order lag of 2 h behind a room that swings by 3 K: damped and late, as a handbook of control has it. */
const angular_perH = (2 * Math.PI) / 24;
const lag_h = 2;
const room_degC = (at_epochMs: number): number =>
  20 + 1.5 * Math.cos(angular_perH * (at_epochMs / hour_ms - 15));
const contents_degC = (at_epochMs: number): number =>
  20 +
  (1.5 / Math.hypot(1, angular_perH * lag_h)) *
    Math.cos(angular_perH * (at_epochMs / hour_ms - 15) - Math.atan(angular_perH * lag_h));

interface Given {
  readonly days: number;
  readonly leak_gPerH?: number;
  readonly step_bar?: number;
  readonly openTo_h?: number;
  /** By which the gauge sags in the closed hours of every day, for a reason that no sensor shows. */
  readonly nightlySag_bar?: number;
  /** A leak from an instant on. */
  readonly late?: { readonly onset_epochMs: number; readonly leak_gPerH: number };
}

function rowsOf(given: Given): readonly SupplyReading[] {
  const random = createRandomSource(7);
  const step_bar = given.step_bar ?? 0.01;
  const leakedLate_g = (at_epochMs: number): number =>
    given.late === undefined
      ? 0
      : given.late.leak_gPerH * (Math.max(0, at_epochMs - given.late.onset_epochMs) / hour_ms);
  // From 18 to 10 o'clock, and gone with the first gas that flows.
  const sag_bar = (at_epochMs: number): number => {
    const closed_h = (at_epochMs / hour_ms + 6) % 24;
    return closed_h < 16 ? ((given.nightlySag_bar ?? 0) * closed_h) / 16 : 0;
  };
  return traceRows({
    from_epochMs,
    days: given.days,
    flow_gPerH: 0.3,
    leak_gPerH: given.leak_gPerH ?? 0,
    openTo_h: given.openTo_h ?? 18,
    gauge_bar: (removed_g, at_epochMs) => {
      const { pressureAbsolute_bar } = model.map.pressureOf({
        reacted_g: 0.95 * whole_g - removed_g - leakedLate_g(at_epochMs),
        atFirst_g: 0.95 * whole_g,
        temperature_degC: contents_degC(at_epochMs),
        retained_ratio: 1.15,
        air_ratio: 0.3,
        airHaste_ratio: 1.2,
      });
      const shown_bar = pressureAbsolute_bar - 1.01325 - sag_bar(at_epochMs) + 0.006 * drawNormal(random);
      return Math.round(shown_bar / step_bar) * step_bar;
    },
    sensor_degC: (at_epochMs) => Math.round(room_degC(at_epochMs) * 10) / 10,
  }).map(({ reading }) => reading);
}

function watched(rows: readonly SupplyReading[], start?: ClosedLossState) {
  const [first] = rows;
  let state = start ?? firstClosedLossState(first!);
  let kind: LossKind = "none";
  const kinds: LossKind[] = [];
  for (const row of rows) {
    const before = state.lastBin;
    state = stepClosedLoss(model.map, state, row);
    if (state.lastBin !== undefined && state.lastBin !== before) {
      ({ kind } = lossVerdict(state, charge.gaugeAccuracy_bar, kind));
    }
    kinds.push(kind);
  }
  return { state, kinds };
}

describe("loss while closed", () => {
  it("says nothing of a tight vessel in a room that swings by 3 K", () => {
    expect(new Set(watched(rowsOf({ days: 8 })).kinds)).toEqual(new Set(["none"]));
  });

  it("finds a gram a day in the same room within three days, and the right size", () => {
    const { state, kinds } = watched(rowsOf({ days: 3, leak_gPerH: 1 / 24 }));
    expect(kinds.at(-1)).not.toBe("none");
    const { fit } = lossVerdict(state, charge.gaugeAccuracy_bar, "none");
    expect(24 * fit!.loss_gPerH).toBeGreaterThan(0.75);
    expect(24 * fit!.loss_gPerH).toBeLessThan(1.25);
  });

  it("takes off what every closed span showed before the loss began", () => {
    const onset_epochMs = from_epochMs + 4.3 * day_ms;
    const sagging = { days: 7, nightlySag_bar: 0.02 };
    const tight = watched(rowsOf(sagging));
    expect(new Set(tight.kinds)).toEqual(new Set(["none"]));
    // The sag alone, fitted over the last two days: 0.02 bar in 16 h of a charge with about 0.15 bar to the gram.
    const lastDays = lossFits(tight.state, charge.gaugeAccuracy_bar).find(({ closed_h }) => closed_h > 30)!;
    expect(24 * Math.abs(lastDays.loss_gPerH)).toBeLessThan(0.08);
    const leaking = watched(rowsOf({ ...sagging, late: { onset_epochMs, leak_gPerH: 1 / 24 } }));
    expect(leaking.kinds.at(-1)).toBe("leak");
    const { fit } = lossVerdict(leaking.state, charge.gaugeAccuracy_bar, "none");
    expect(24 * fit!.loss_gPerH).toBeGreaterThan(0.75);
    expect(24 * fit!.loss_gPerH).toBeLessThan(1.25);
  });

  it("goes on from a state that went through JSON as if there had been no restart", () => {
    const rows = rowsOf({ days: 3, leak_gPerH: 1 / 24 });
    const half = Math.floor(rows.length / 2);
    const { state } = watched(rows.slice(0, half));
    const kept = JSON.parse(JSON.stringify(state)) as ClosedLossState;
    expect(watched(rows.slice(half), kept).state).toEqual(watched(rows.slice(half), state).state);
  });

  it("takes a jump of the gauge for a step and not for a loss", () => {
    const rows = rowsOf({ days: 4 }).map((row) =>
      row.at_epochMs > from_epochMs + 2 * day_ms + 3 * hour_ms
        ? { ...row, pressureGauge_bar: row.pressureGauge_bar! - 0.6 }
        : row,
    );
    const { state, kinds } = watched(rows);
    expect(new Set(kinds)).toEqual(new Set(["none"]));
    expect(state.steps).toHaveLength(1);
    expect(state.steps[0]?.step_bar).toBeCloseTo(-0.6, 1);
  });
});

describe("leak test", () => {
  const test = {
    since_epochMs: from_epochMs + day_ms,
    matters_gPerDay: 1,
    gaugeAccuracy_bar: charge.gaugeAccuracy_bar,
  };
  const held = (given: Given) => watched(rowsOf({ ...given, days: 1 + given.days, openTo_h: 0 })).state;

  it("calls a tight vessel tight below a gram a day after a night", () => {
    const verdict = leakTestVerdict(held({ days: 0.7 }), test);
    expect(verdict.kind).toBe("tight");
  });

  it("gives the loss of a leaking one with an interval that holds it", () => {
    const verdict = leakTestVerdict(held({ days: 0.7, leak_gPerH: 3 / 24 }), test);
    expect(verdict.kind).toBe("leaks");
    if (verdict.kind !== "leaks") return;
    expect(verdict.low95_gPerDay).toBeLessThan(3);
    expect(verdict.high95_gPerDay).toBeGreaterThan(3);
  });

  it("cannot tell after an hour, and says how many are needed", () => {
    const verdict = leakTestVerdict(held({ days: 1.2 / 24 }), test);
    expect(verdict.kind).toBe("cannot-be-told");
    if (verdict.kind !== "cannot-be-told") return;
    expect(verdict.needed_h).toBeGreaterThan(1);
  });

  it("names a gauge that is read in steps too coarse for the night", () => {
    const verdict = leakTestVerdict(held({ days: 0.5, step_bar: 0.5 }), { ...test, gaugeAccuracy_bar: 0.4 });
    expect(verdict).toMatchObject({ kind: "cannot-be-told", why: "gauge-too-coarse" });
  });

  it("has nothing to say without readings since it began", () => {
    expect(
      leakTestVerdict(held({ days: 0.5 }), { ...test, since_epochMs: from_epochMs + 9 * day_ms }),
    ).toEqual({
      kind: "cannot-be-told",
      why: "no-readings",
      needed_h: undefined,
      closed_h: 0,
    });
  });
});
