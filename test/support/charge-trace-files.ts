import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import type { SuppliedCharge, SupplyReading } from "../../lib/estimation/supply-trace.js";
import { wallClockAt } from "../../lib/schedule/civil-time.js";
import type { SimulatedCharge } from "../../lib/simulation/simulated-charge.js";

/** ISO 8601 with the offset that the zone has then. */
export function isoWithOffset(at_epochMs: number, timeZone: string): string {
  const { date, timeOfDay, offset_min } = wallClockAt(at_epochMs, timeZone);
  const size_min = Math.abs(offset_min);
  const two = (value: number): string => String(value).padStart(2, "0");
  const sign = offset_min < 0 ? "-" : "+";
  return `${date}T${timeOfDay}${sign}${two(Math.floor(size_min / 60))}:${two(Math.round(size_min % 60))}`;
}

const clockTime = (minute: number): string =>
  `${String(Math.floor(minute / 60)).padStart(2, "0")}:${String(minute % 60).padStart(2, "0")}`;

/** The charge as a replay reads it. */
export function chargeDocument(charge: SuppliedCharge): Readonly<Record<string, unknown>> {
  const { acid, closedAt_epochMs, windows, ...rest } = charge;
  return {
    [acid.kind === "citric-acid-anhydrous" ? "citricAcidAnhydrous_g" : "citricAcidMonohydrate_g"]:
      acid.mass_g,
    ...rest,
    closedAt: isoWithOffset(closedAt_epochMs, charge.timeZone),
    windows: windows.map((window) => ({
      opens: clockTime(window.opens_min),
      closes: clockTime(window.closes_min),
    })),
  };
}

/** The rows as a replay reads them; the columns of the mass and of readings by eye only where there are any. */
export function traceCsv(readings: readonly SupplyReading[], timeZone: string): string {
  const hasMass = readings.some((row) => row.vesselMass_g !== undefined);
  const columns = [
    "at",
    "pressureGauge_bar",
    "temperature_degC",
    "valveOpen",
    ...(hasMass ? ["vesselMass_g"] : []),
  ];
  const lines = readings.map((row) =>
    [
      isoWithOffset(row.at_epochMs, timeZone),
      row.pressureGauge_bar ?? "",
      row.temperature_degC ?? "",
      row.valveOpen ? 1 : 0,
      ...(hasMass ? [row.vesselMass_g ?? ""] : []),
    ].join(","),
  );
  return [columns.join(","), ...lines, ""].join("\n");
}

function truthCsv(charge: SimulatedCharge): string {
  const { timeZone } = charge.drawn.told;
  const lines = charge.truth.map((row) =>
    [
      isoWithOffset(row.at_epochMs, timeZone),
      row.co2Remaining_g.toFixed(3),
      row.deliverable_g().toFixed(3),
      row.leak_gPerDay.toFixed(4),
      row.pressureGauge_bar.toFixed(4),
      row.contents_degC.toFixed(3),
      row.room_degC.toFixed(3),
      row.reacted_ratio.toFixed(4),
    ].join(","),
  );
  const columns =
    "at,co2Remaining_g,co2Deliverable_g,leak_gPerDay,truePressureGauge_bar,contents_degC,room_degC,reacted_ratio";
  return [columns, ...lines, ""].join("\n");
}

/**
 * Writes a simulated charge as `charge.json` and `trace.csv`, for a replay, and beside them what was really so:
 * `truth.csv`, one line an hour, and `drawn.json` with run-out, errors and faults.
 */
export function writeSimulatedCharge(folder: string, charge: SimulatedCharge): void {
  mkdirSync(folder, { recursive: true });
  const { drawn } = charge;
  const { timeZone } = drawn.told;
  const json = (value: unknown): string => `${JSON.stringify(value, null, 2)}\n`;
  writeFileSync(join(folder, "charge.json"), json(chargeDocument(drawn.told)));
  writeFileSync(join(folder, "trace.csv"), traceCsv(charge.readings, timeZone));
  writeFileSync(join(folder, "truth.csv"), truthCsv(charge));
  writeFileSync(
    join(folder, "drawn.json"),
    json({
      seed: drawn.seed,
      runOut: charge.runOut_epochMs === undefined ? null : isoWithOffset(charge.runOut_epochMs, timeZone),
      co2Available_g: charge.available_g,
      errors: drawn.errors,
      readBy: drawn.readBy,
      gauge: drawn.gauge,
      temperatureSensor: drawn.temperatureSensor,
      pace: drawn.pace,
      faults: charge.faults,
    }),
  );
}
