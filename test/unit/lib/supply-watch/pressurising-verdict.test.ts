import { beforeAll, describe, expect, it } from "vitest";
import type { SupplyReading } from "../../../../lib/estimation/supply-trace.js";
import { createPressurisingGrid } from "../../../../lib/supply-watch/pressurising-grid.js";
import { pressurisingVerdict, type VesselRating } from "../../../../lib/supply-watch/pressurising-verdict.js";
import {
  firstPressurisingState,
  stepPressurising,
  type PressurisingState,
} from "../../../../lib/supply-watch/pressurising-watch.js";
import { pressurise, usualSurroundings } from "../../../../lib/vessel/pressurising.js";
import { suppliedCharge } from "../../../support/supply-trace-rows.js";

const hour_ms = 3_600_000;
const told = suppliedCharge({ settled: false });
const grid = createPressurisingGrid(told);

interface Given {
  readonly amount?: number;
  readonly mixing_h?: number;
  readonly hours: number;
  /** The gauge stays where it is at this time. */
  readonly standsFrom_h?: number;
}

/** The course of lib/vessel at a pace between those that are tried, half of the air, read every 10 minutes. */
function rowsOf(given: Given): readonly SupplyReading[] {
  const amount = given.amount ?? 1;
  const charge = {
    vesselVolume_L: told.vesselVolume_L,
    water_kg: told.water_kg,
    acid: { kind: told.acid.kind, mass_g: amount * told.acid.mass_g },
    sodiumBicarbonate_g: amount * told.sodiumBicarbonate_g,
    sealedAt_degC: told.sealedAt_degC,
  };
  const usual = usualSurroundings(charge, { room_degC: 20, startWater_degC: 17 });
  const pointCount = 1 + 6 * given.hours;
  const course = pressurise(
    charge,
    { ...usual, mixing_h: given.mixing_h ?? usual.mixing_h },
    { until_h: given.hours, pointCount: 400 },
  );
  return Array.from({ length: pointCount }, (_, k) => {
    const at_h = Math.min(k / 6, given.standsFrom_h ?? Infinity);
    const after = course.points.findIndex((point) => point.at_h >= at_h);
    const point = course.points[Math.max(0, after)];
    return {
      at_epochMs: told.closedAt_epochMs + (k / 6) * hour_ms,
      valveOpen: false,
      temperature_degC: 20,
      pressureGauge_bar: Math.round(((point?.pressureGauge_bar ?? 0) - 0.4) * 20) / 20,
    };
  });
}

function after(given: Given): PressurisingState {
  const rows = rowsOf(given);
  let state = firstPressurisingState(grid, told, rows[0]!);
  for (const row of rows) state = stepPressurising(grid, told, state, row);
  return state;
}

const verdictOn = (given: Given, rating?: VesselRating) =>
  pressurisingVerdict(grid, told, after(given), rating);

describe("verdict on a fresh charge", () => {
  it("is on plan for what was told, and foretells when it is ready", () => {
    const verdict = verdictOn({ hours: 4 });
    expect(verdict.kind).toBe("on-plan");
    expect(Math.abs(verdict.strength.value - 1)).toBeLessThan(0.1);
    const usual_h = grid.plannedReady_h!;
    const ready_h = (verdict.ready_epochMs! - told.closedAt_epochMs) / hour_ms;
    expect(ready_h).toBeGreaterThan(0.5 * usual_h);
    expect(ready_h).toBeLessThan(2.5 * usual_h);
  });

  it.each([
    { amount: 0.72, kind: "too-weak", because: "a quarter and more is missing" },
    { amount: 1, kind: "on-plan", because: "all is there" },
    { amount: 1.3, kind: "too-strong", because: "three tenths more came in" },
  ])("is $kind at $amount of what was told: $because", ({ amount, kind }) => {
    expect(verdictOn({ amount, hours: 8 }).kind).toBe(kind);
  });

  it("is slow where the liquor takes hours to reach the crystals", () => {
    expect(verdictOn({ mixing_h: 6, hours: 10 }).kind).toBe("slow");
  });

  it("is stalled where the pressure stands still far below the plan", () => {
    const verdict = verdictOn({ hours: 10, standsFrom_h: 0.4 });
    expect(verdict.kind).toBe("stalled");
    expect(verdict.ready_epochMs).toBeUndefined();
    expect(verdict.advice[0]).toMatch(/open nothing/);
  });

  it("tells nothing from a single reading", () => {
    const state = firstPressurisingState(grid, told, rowsOf({ hours: 1 })[0]!);
    expect(pressurisingVerdict(grid, told, state).kind).toBe("too-early");
  });

  it("goes on from a state that went through JSON as if there had been no restart", () => {
    const rows = rowsOf({ hours: 4 });
    const run = (state: PressurisingState, from: number, to: number): PressurisingState =>
      rows.slice(from, to).reduce((before, row) => stepPressurising(grid, told, before, row), state);
    const half = run(firstPressurisingState(grid, told, rows[0]!), 0, 12);
    const restarted = run(JSON.parse(JSON.stringify(half)) as PressurisingState, 12, rows.length);
    expect(restarted.paces[0]?.strength_ratio).toBeCloseTo(
      run(half, 12, rows.length).paces[0]!.strength_ratio,
      6,
    );
  });
});

describe("advice where the warm pressure nears the rating", () => {
  let gauge_bar: number;
  let heavy: PressurisingState;

  beforeAll(() => {
    heavy = after({ amount: 1.3, hours: 6 });
    gauge_bar = heavy.pressure_bar!;
  });

  it("lets gas out through the regulator while the gauge is at or below 80 % of it", () => {
    const verdict = pressurisingVerdict(grid, told, heavy, { ratedPressureGauge_bar: gauge_bar / 0.79 });
    // The forecast stays under nine tenths here, and nobody is told to let out what need not go.
    expect(verdict.advice.join(" ")).not.toMatch(/keep away from it/);
    const early = after({ amount: 1.3, hours: 1 });
    const rising = pressurisingVerdict(grid, told, early, {
      ratedPressureGauge_bar: Math.max(early.pressure_bar! / 0.79, gauge_bar / 1.05),
    });
    expect(rising.kind).toBe("too-strong");
    expect(rising.advice[0]).toMatch(/slowly through the regulator, with the line out of the tank/);
    expect(rising.advice.join(" ")).toMatch(/upright/);
    expect(rising.advice.join(" ")).toMatch(/loosen no fitting/);
  });

  it("keeps people away above that, and lets nothing out", () => {
    const verdict = pressurisingVerdict(grid, told, heavy, { ratedPressureGauge_bar: gauge_bar / 0.85 });
    expect(verdict.kind).toBe("too-strong");
    const advice = verdict.advice.join(" ");
    expect(advice).toMatch(/keep away/);
    expect(advice).toMatch(/heat away/);
    expect(advice).toMatch(/ventilate the room/);
    expect(advice).not.toMatch(/let gas out|through the regulator/);
  });

  it("asks for the rating where none is known", () => {
    expect(pressurisingVerdict(grid, told, heavy).advice[0]).toMatch(/rating and its relief device/);
  });
});
