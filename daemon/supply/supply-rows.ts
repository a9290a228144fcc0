import type { SupplyReading } from "../../lib/estimation/supply-trace.js";
import type { EndLook } from "../../lib/supply-watch/end-of-charge.js";

/** What a person read and entered: a gauge by eye, a scale. */
export interface EnteredReading {
  readonly entryId: number;
  readonly at_epochMs: number;
  /** What it may be believed for at the end of a charge. */
  readonly from: Exclude<EndLook["from"], "sensor">;
  readonly read: Pick<SupplyReading, "pressureGauge_bar" | "temperature_degC" | "vesselMass_g">;
}

/** A sensor that was heard so recently tells more than an eye. */
const sensorSpeaks_ms = 3_600_000;

export interface MergedReading {
  readonly reading: SupplyReading;
  /** Its pressure comes from a sensor. */
  readonly fromSensor: boolean;
  readonly from: EndLook["from"];
}

/** What is known where the rows begin. */
export interface BeforeRows {
  /** Undefined: the calendar tells. */
  readonly valveOpen: boolean | undefined;
  /** When a sensor last told the pressure; undefined: never. */
  readonly sensor_epochMs: number | undefined;
}

/**
 * Rows and what people entered as one run of rows in order of time. An entry takes the valve's state from the row before it;
 * before the first row the calendar tells. A gauge read by eye counts where no sensor has just told the pressure.
 */
export function mergedReadings(
  rows: readonly SupplyReading[],
  entries: readonly EnteredReading[],
  known: BeforeRows,
  isWindowOpenAt: (at_epochMs: number) => boolean,
): readonly MergedReading[] {
  const waiting = [...entries].sort((a, b) => a.at_epochMs - b.at_epochMs || a.entryId - b.entryId);
  const merged: MergedReading[] = [];
  let { valveOpen } = known;
  let sensor_epochMs = known.sensor_epochMs ?? -Infinity;
  const takeEntriesBefore = (at_epochMs: number): void => {
    for (let next = waiting[0]; next !== undefined && next.at_epochMs < at_epochMs; next = waiting[0]) {
      waiting.shift();
      const { pressureGauge_bar, ...rest } = next.read;
      const byEye =
        pressureGauge_bar !== undefined && next.at_epochMs - sensor_epochMs > sensorSpeaks_ms
          ? { pressureGauge_bar, byEye: true }
          : {};
      const reading = {
        at_epochMs: next.at_epochMs,
        ...rest,
        ...byEye,
        valveOpen: valveOpen ?? isWindowOpenAt(next.at_epochMs),
      };
      merged.push({ reading, fromSensor: false, from: next.from });
    }
  };
  for (const row of rows) {
    takeEntriesBefore(row.at_epochMs);
    const fromSensor = row.pressureGauge_bar !== undefined;
    merged.push({ reading: row, fromSensor, from: "sensor" });
    ({ valveOpen } = row);
    if (fromSensor) sensor_epochMs = row.at_epochMs;
  }
  takeEntriesBefore(Infinity);
  return merged;
}
