import { createSupplyModel } from "../../lib/estimation/supply-model.js";
import type { SuppliedCharge, SupplyReading } from "../../lib/estimation/supply-trace.js";

const hour_ms = 3_600_000;

/** A charge as it is told, for tests that do not care which. */
export function suppliedCharge(given: Partial<SuppliedCharge> = {}): SuppliedCharge {
  return {
    acid: { kind: "citric-acid-anhydrous", mass_g: 100 },
    sodiumBicarbonate_g: 120,
    water_kg: 0.5,
    vesselVolume_L: 2,
    sealedAt_degC: 20,
    closedAt_epochMs: Date.UTC(2026, 1, 1),
    closedWith: "water",
    settled: true,
    workingPressureGauge_bar: 2.5,
    gaugeAccuracy_bar: 0.1,
    timeZone: "Etc/UTC",
    windows: [{ opens_min: 10 * 60, closes_min: 18 * 60 }],
    ...given,
  };
}

/** What a vessel does in a trace that is made for a test. */
export interface TraceCourse {
  readonly from_epochMs: number;
  readonly days: number;
  readonly every_min?: number;
  readonly flow_gPerH: number;
  readonly leak_gPerH?: number;
  /** The valve, by the hour of the day in UTC. */
  readonly openFrom_h?: number;
  readonly openTo_h?: number;
  readonly gauge_bar: (removed_g: number, at_epochMs: number) => number;
  readonly sensor_degC?: (at_epochMs: number) => number;
}

export interface TraceRow {
  readonly reading: SupplyReading;
  readonly removed_g: number;
}

/** Rows of a vessel from which gas is drawn at a constant rate in the same hours of every day. */
export function traceRows(course: TraceCourse): readonly TraceRow[] {
  const every_min = course.every_min ?? 10;
  const openFrom_h = course.openFrom_h ?? 10;
  const openTo_h = course.openTo_h ?? 18;
  const rows: TraceRow[] = [];
  let removed_g = 0;
  for (let minute = 0; minute <= course.days * 1440; minute += every_min) {
    const at_epochMs = course.from_epochMs + minute * 60_000;
    const hourOfDay = (at_epochMs / hour_ms) % 24;
    const valveOpen = hourOfDay >= openFrom_h && hourOfDay < openTo_h;
    rows.push({
      removed_g,
      reading: {
        at_epochMs,
        valveOpen,
        pressureGauge_bar: course.gauge_bar(removed_g, at_epochMs),
        temperature_degC: course.sensor_degC?.(at_epochMs) ?? 20,
      },
    });
    removed_g += ((valveOpen ? course.flow_gPerH : 0) + (course.leak_gPerH ?? 0)) * (every_min / 60);
  }
  return rows;
}

/** A charge that reacted to 96.5 % and then gives 0.3 g an hour of its windows, at 20 degC and sea level. */
export function usedCharge(
  charge: SuppliedCharge,
  span: { readonly from_epochMs: number; readonly days: number },
): readonly TraceRow[] {
  const { map } = createSupplyModel(charge);
  return traceRows({
    ...span,
    flow_gPerH: 0.3,
    gauge_bar: (removed_g) =>
      map.pressureOf({
        reacted_g: 0.965 * map.co2Available_g - removed_g,
        atFirst_g: 0.965 * map.co2Available_g,
        temperature_degC: 20,
        retained_ratio: 1,
        air_ratio: 0.6,
        airHaste_ratio: 1.1,
      }).pressureAbsolute_bar - 1.01325,
  });
}
