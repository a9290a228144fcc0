import { describe, expect, it } from "vitest";
import {
  believedComponent,
  believedRemaining,
  supplyBelief,
} from "../../../../lib/estimation/supply-belief.js";
import { firstSupplyState, stepSupply, supplyStateAt } from "../../../../lib/estimation/supply-filter.js";
import { createSupplyModel } from "../../../../lib/estimation/supply-model.js";
import { component, type SupplyState } from "../../../../lib/estimation/supply-state.js";
import type { SupplyReading } from "../../../../lib/estimation/supply-trace.js";
import { suppliedCharge, traceRows, type TraceCourse } from "../../../support/supply-trace-rows.js";

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
const from_epochMs = Date.UTC(2026, 1, 3);
const charge = suppliedCharge();
const model = createSupplyModel(charge);
const whole_g = model.map.co2Available_g;

/** The gauge of a vessel that is as the model says, with 3.5 % lost and 0.6 atm of air, at a temperature. */
const gaugeOf =
  (contents_degC: (at_epochMs: number) => number = () => 20) =>
  (removed_g: number, at_epochMs: number): number =>
    model.map.pressureOf({
      reacted_g: 0.965 * whole_g - removed_g,
      atFirst_g: 0.965 * whole_g,
      temperature_degC: contents_degC(at_epochMs),
      retained_ratio: 1,
      air_ratio: 0.6,
      airHaste_ratio: 1.1,
    }).pressureAbsolute_bar - 1.01325;

const course = (given: Partial<TraceCourse> = {}): TraceCourse => ({
  from_epochMs,
  days: 5,
  flow_gPerH: 0.3,
  gauge_bar: gaugeOf(),
  ...given,
});

function run(readings: readonly SupplyReading[], start?: SupplyState): SupplyState {
  let state = start ?? firstSupplyState(model, readings[0]!);
  for (const reading of readings) state = stepSupply(model, state, reading);
  return state;
}

const rowsOf = (given: Partial<TraceCourse> = {}): readonly SupplyReading[] =>
  traceRows(course(given)).map(({ reading }) => reading);
const value = (state: SupplyState, index: number): number =>
  believedComponent(supplyBelief(state), index).value;
const deviation = (state: SupplyState, index: number): number =>
  believedComponent(supplyBelief(state), index).deviation;

describe("supply filter", () => {
  it("learns the flow from the fall of the gauge over the open hours", () => {
    const state = run(rowsOf({ days: 8 }));
    const inlet_bar = gaugeOf()(8 * 8 * 0.3, 0);
    const flow = value(state, component.flow) * (1 + value(state, component.supplyEffect) * (15 - inlet_bar));
    expect(flow).toBeGreaterThan(0.3 * 0.93);
    expect(flow).toBeLessThan(0.3 * 1.07);
  });

  it("takes a fall by day and night for a leak, and none by day alone", () => {
    const leaking = run(rowsOf({ days: 6, leak_gPerH: 2 / 24 }));
    expect(24 * value(leaking, component.leak)).toBeGreaterThan(1.4);
    expect(24 * value(leaking, component.leak)).toBeLessThan(2.6);
    expect(24 * Math.abs(value(run(rowsOf({ days: 6 })), component.leak))).toBeLessThan(0.1);
  });

  it("does not take a room that cools at night for a leak", () => {
    const room = (at_epochMs: number): number =>
      20 + 1.5 * Math.cos((2 * Math.PI * (at_epochMs / hour_ms - 15)) / 24);
    // Contents two hours behind the room: the swing damped and late.
    const lag = (2 * Math.PI * 2) / 24;
    const contents = (at_epochMs: number): number =>
      20 +
      (1.5 / Math.hypot(1, lag)) *
        Math.cos((2 * Math.PI * (at_epochMs / hour_ms - 15)) / 24 - Math.atan(lag));
    const state = run(rowsOf({ days: 6, gauge_bar: gaugeOf(contents), sensor_degC: room }));
    expect(24 * value(state, component.leak)).toBeLessThan(0.3);
    const weights = supplyBelief(state).weights;
    const lags = state.hypotheses.map(({ lag_h }, k) => ({ lag_h, weight: weights[k]! }));
    const near = lags
      .filter(({ lag_h }) => lag_h > 1 && lag_h < 5)
      .reduce((sum, { weight }) => sum + weight, 0);
    expect(near).toBeGreaterThan(0.7);
  });

  it("passes over a dropout and goes on", () => {
    const rows = rowsOf({ days: 3 });
    const spoilt = rows.map((row, k) => (k === 200 || k === 201 ? { ...row, pressureGauge_bar: 0 } : row));
    const whole = believedRemaining(model, supplyBelief(run(rows)));
    const passed = believedRemaining(model, supplyBelief(run(spoilt)));
    expect(Math.abs(whole.value - passed.value)).toBeLessThan(0.1);
  });

  it("believes a fall that stays: gas that was let out by hand", () => {
    const rows = rowsOf({ days: 3 }).map((row) =>
      row.at_epochMs > from_epochMs + 1.2 * day_ms
        ? { ...row, pressureGauge_bar: row.pressureGauge_bar! - 4 }
        : row,
    );
    const state = run(rows);
    const untouched = believedRemaining(model, supplyBelief(run(rowsOf({ days: 3 }))));
    expect(state.refused.count).toBe(0);
    expect(untouched.value - believedRemaining(model, supplyBelief(state)).value).toBeGreaterThan(10);
  });

  it("reckons through a gap with the dosing windows, and is less sure after it", () => {
    const rows = rowsOf({ days: 6 });
    const gap = rows.filter(
      ({ at_epochMs }) => at_epochMs < from_epochMs + 3 * day_ms || at_epochMs > from_epochMs + 5 * day_ms,
    );
    const before = run(gap.filter(({ at_epochMs }) => at_epochMs < from_epochMs + 3 * day_ms));
    const within = supplyStateAt(model, before, from_epochMs + 5 * day_ms);
    expect(value(within, component.removed) - value(before, component.removed)).toBeCloseTo(2 * 8 * 0.3, 0);
    expect(deviation(within, component.removed)).toBeGreaterThan(deviation(before, component.removed));
  });

  it("counts the open time of a log that has a row for every change of the valve only", () => {
    const changes = [0, 1, 2, 4, 5].flatMap((day) => [
      { at_epochMs: from_epochMs + day * day_ms + 10 * hour_ms, valveOpen: true },
      { at_epochMs: from_epochMs + day * day_ms + 18 * hour_ms, valveOpen: false },
    ]);
    const first = { at_epochMs: from_epochMs, valveOpen: false, pressureGauge_bar: gaugeOf()(0, 0) };
    const start = run([first]);
    const flow_gPerH = value(start, component.flow);
    const state = run(changes, start);
    // Day 3 was left out: the log shows it closed.
    expect(value(state, component.removed) / flow_gPerH).toBeGreaterThan(36);
    expect(value(state, component.removed) / flow_gPerH).toBeLessThan(44);
  });

  it("is surer with a scale than without", () => {
    const rows = traceRows(course({ days: 6 }));
    const weighed = rows.map(({ reading, removed_g }) => ({ ...reading, vesselMass_g: 3400 - removed_g }));
    const scaled = run(weighed);
    const plain = run(rows.map(({ reading }) => reading));
    expect(deviation(scaled, component.removed)).toBeLessThan(0.6 * deviation(plain, component.removed));
    expect(value(scaled, component.removed)).toBeCloseTo(rows.at(-1)!.removed_g, 0);
  });

  it("trusts a gauge read by eye less than the same gauge read by a device", () => {
    const first = { at_epochMs: from_epochMs, valveOpen: false, pressureGauge_bar: 14, temperature_degC: 20 };
    const device = run([first]);
    const eye = run([{ ...first, byEye: true }]);
    expect(deviation(eye, component.pressureFactor)).toBeGreaterThan(
      deviation(device, component.pressureFactor),
    );
  });

  it("takes a first pressure far below that of the full charge for gas that was drawn before the first row", () => {
    const drawn_g = 0.35 * whole_g;
    const older = createSupplyModel(suppliedCharge({ closedAt_epochMs: from_epochMs - 6 * day_ms }));
    const rows = traceRows(
      course({ days: 2, gauge_bar: (removed_g, at_epochMs) => gaugeOf()(removed_g + drawn_g, at_epochMs) }),
    );
    let state = firstSupplyState(older, rows[0]!.reading);
    for (const { reading } of rows) state = stepSupply(older, state, reading);
    const left = believedRemaining(older, supplyBelief(state));
    const true_g = 0.965 * whole_g - drawn_g - rows.at(-1)!.removed_g;
    expect(Math.abs(left.value - true_g) / whole_g).toBeLessThan(0.04);
    expect(Math.abs(left.value - true_g)).toBeLessThan(2 * left.deviation);
  });

  describe("a fresh charge with ice whose gauge is read by eye at closing and two days later", () => {
    const iced = createSupplyModel(
      suppliedCharge({ settled: false, closedWith: "ice", gaugeAccuracy_bar: 0.4 }),
    );
    const { closedAt_epochMs } = iced.charge;
    const readBy = (later_h: number, pressureGauge_bar: number): SupplyState => {
      const first = {
        at_epochMs: closedAt_epochMs,
        valveOpen: false,
        pressureGauge_bar: 0.3,
        temperature_degC: 0,
      };
      const start = stepSupply(iced, firstSupplyState(iced, { ...first, byEye: true }), {
        ...first,
        byEye: true,
      });
      return stepSupply(iced, start, {
        at_epochMs: closedAt_epochMs + later_h * hour_ms,
        valveOpen: false,
        pressureGauge_bar,
        temperature_degC: 20,
        byEye: true,
      });
    };

    it("never has less than nothing waiting, however high the gauge", () => {
      for (const above_bar of [0, 1, 2]) {
        const state = readBy(48, gaugeOf()(0, 0) + above_bar);
        for (const { mean } of state.hypotheses) expect(mean[component.pending]).toBeGreaterThanOrEqual(0);
      }
    });

    it("takes nothing for dosed in windows that passed before the charge was of use", () => {
      expect(value(readBy(24, gaugeOf()(0, 0)), component.removed)).toBeCloseTo(0, 1);
    });

    it("lets a high gauge say that a window which passed unseen was not used", () => {
      const usual_g = value(readBy(48, gaugeOf()(0, 0)), component.removed);
      const high_g = value(readBy(48, gaugeOf()(0, 0) + 1.5), component.removed);
      expect(usual_g).toBeLessThan(0.03 * whole_g);
      expect(high_g).toBeLessThan(0.6 * usual_g);
    });

    it("is as unsure of what waits after one long step as after many short ones", () => {
      const first = { at_epochMs: closedAt_epochMs, valveOpen: false, temperature_degC: 0 };
      const start = firstSupplyState(iced, first);
      const once = supplyStateAt(iced, start, closedAt_epochMs + 20 * hour_ms);
      let many = start;
      for (let hour = 1; hour <= 20; hour += 1) {
        many = supplyStateAt(iced, many, closedAt_epochMs + hour * hour_ms);
      }
      expect(deviation(once, component.pending)).toBeCloseTo(deviation(many, component.pending), 1);
      expect(deviation(once, component.pending)).toBeLessThan(0.2 * whole_g);
    });
  });

  it("lets what has not reacted yet run out while a fresh charge settles", () => {
    const fresh = createSupplyModel(
      suppliedCharge({ settled: false, closedAt_epochMs: from_epochMs - 0.5 * hour_ms }),
    );
    const closing = {
      at_epochMs: from_epochMs,
      valveOpen: false,
      pressureGauge_bar: 6,
      temperature_degC: 20,
    };
    const start = firstSupplyState(fresh, closing);
    expect(start.hypotheses[0]!.mean[component.pending]).toBeGreaterThan(0.5 * whole_g);
    const later = supplyStateAt(fresh, start, from_epochMs + 24 * hour_ms);
    expect(later.hypotheses[0]!.mean[component.pending]).toBeLessThan(0.01 * whole_g);
  });
});
