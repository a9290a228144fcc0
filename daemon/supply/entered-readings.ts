import type { JournalView } from "../../lib/journal/journal-entry.js";
import { recentByEye_ms } from "../../lib/supply-watch/end-of-charge.js";
import type { EnteredReading } from "./supply-rows.js";

/** Gauges read by eye and weighings of a vessel, from an instant on. */
export function enteredReadings(
  journal: Pick<JournalView, "entriesOf">,
  vesselId: string,
  since_epochMs: number,
): readonly EnteredReading[] {
  const gauges = journal
    .entriesOf("gauge reading", vesselId, since_epochMs)
    .map(({ entryId, at_epochMs, enteredAt_epochMs, fact }) => ({
      entryId,
      at_epochMs,
      wasRecent: enteredAt_epochMs - at_epochMs <= recentByEye_ms,
      read: {
        pressureGauge_bar: fact.pressureGauge_bar,
        ...(fact.temperature_degC === undefined ? {} : { temperature_degC: fact.temperature_degC }),
      },
    }));
  const weighings = journal
    .entriesOf("weighing", vesselId, since_epochMs)
    .map(({ entryId, at_epochMs, enteredAt_epochMs, fact }) => ({
      entryId,
      at_epochMs,
      wasRecent: enteredAt_epochMs - at_epochMs <= recentByEye_ms,
      read: { vesselMass_g: fact.vesselMass_g },
    }));
  return [...gauges, ...weighings];
}
