import type { JournalEntry, JournalView } from "../../lib/journal/journal-entry.js";
import { recentByEye_ms } from "../../lib/supply-watch/end-of-charge.js";
import type { EnteredReading } from "./supply-rows.js";

/** Gauges read by eye and weighings of a vessel, from an instant on. */
export function enteredReadings(
  journal: Pick<JournalView, "entriesOf">,
  vesselId: string,
  since_epochMs: number,
): readonly EnteredReading[] {
  const gauges = journal.entriesOf("gauge reading", vesselId, since_epochMs).map(({ fact, ...entry }) => ({
    ...readingOf(entry),
    read: {
      pressureGauge_bar: fact.pressureGauge_bar,
      ...(fact.temperature_degC === undefined ? {} : { temperature_degC: fact.temperature_degC }),
    },
  }));
  const weighings = journal.entriesOf("weighing", vesselId, since_epochMs).map(({ fact, ...entry }) => ({
    ...readingOf(entry),
    read: { vesselMass_g: fact.vesselMass_g },
  }));
  return [...gauges, ...weighings];
}

function readingOf({
  entryId,
  at_epochMs,
  enteredAt_epochMs,
  source,
}: Omit<JournalEntry, "fact">): Omit<EnteredReading, "read"> {
  const wasRecent = enteredAt_epochMs - at_epochMs <= recentByEye_ms;
  const from = !wasRecent ? "by eye, long ago" : source === "local" ? "by eye" : "by eye, from afar";
  return { entryId, at_epochMs, from };
}
