import type { SupplyReading } from "../../lib/estimation/supply-trace.js";
import type { ReadingSummary, SiteEvent } from "../ports/site-store.js";
import { rowEvery_ms } from "./vessel-ear.js";

type ValveEvent = Pick<SiteEvent, "at_epochMs" | "area" | "subject" | "what">;

/** Where the rows of a vessel's past come from. */
export interface VesselHistory {
  readonly from_epochMs: number;
  readonly to_epochMs: number;
  readonly valveIds: readonly string[];
  readonly events: readonly ValveEvent[];
  readonly pressures: (from_epochMs: number, to_epochMs: number) => readonly ReadingSummary[];
  readonly temperatures: (from_epochMs: number, to_epochMs: number) => readonly ReadingSummary[];
}

/** Few enough that a reading each ten seconds is given as it came. */
const chunk_ms = 36 * rowEvery_ms;

/** The rows that the daemon had of a vessel: one for every change of its valves, and means of ten minutes. */
export function* historyRows(history: VesselHistory): Generator<SupplyReading> {
  const { from_epochMs, to_epochMs, valveIds } = history;
  const open = new Set<string>();
  const isTold = new Set<string>();
  const events = [...history.events];
  const apply = ({ area, subject, what }: ValveEvent): void => {
    // A relay drops by itself while nobody is there to hold it.
    if (area === "daemon") {
      open.clear();
      isTold.clear();
      return;
    }
    if (!valveIds.includes(subject)) return;
    const [verb, state] = what.split(" ");
    // What it reports counts; what it was told only until it first reports.
    if (verb === "reports") isTold.add(subject);
    else if (verb !== "commanded" || isTold.has(subject)) return;
    if (state === "open") open.add(subject);
    else open.delete(subject);
  };
  for (let next = events[0]; next !== undefined && next.at_epochMs < from_epochMs; next = events[0]) {
    events.shift();
    apply(next);
  }
  for (let chunk_epochMs = from_epochMs; chunk_epochMs < to_epochMs; chunk_epochMs += chunk_ms) {
    const end_epochMs = Math.min(to_epochMs, chunk_epochMs + chunk_ms);
    const pressures = meansBySlot(history.pressures(chunk_epochMs, end_epochMs), from_epochMs);
    const temperatures = meansBySlot(history.temperatures(chunk_epochMs, end_epochMs), from_epochMs);
    for (let slot_epochMs = chunk_epochMs; slot_epochMs < end_epochMs; slot_epochMs += rowEvery_ms) {
      const at_epochMs = Math.min(end_epochMs, slot_epochMs + rowEvery_ms);
      for (let next = events[0]; next !== undefined && next.at_epochMs < at_epochMs; next = events[0]) {
        events.shift();
        const wasOpen = open.size > 0;
        apply(next);
        if (open.size > 0 !== wasOpen) yield { at_epochMs: next.at_epochMs, valveOpen: open.size > 0 };
      }
      const slot = Math.floor((slot_epochMs - from_epochMs) / rowEvery_ms);
      const pressureGauge_bar = pressures.get(slot);
      const temperature_degC = temperatures.get(slot);
      yield {
        at_epochMs,
        valveOpen: open.size > 0,
        ...(pressureGauge_bar === undefined ? {} : { pressureGauge_bar }),
        ...(temperature_degC === undefined ? {} : { temperature_degC }),
      };
    }
  }
}

function meansBySlot(readings: readonly ReadingSummary[], from_epochMs: number): ReadonlyMap<number, number> {
  const sums = new Map<number, { sum: number; count: number }>();
  for (const { from_epochMs: at_epochMs, mean, count } of readings) {
    const slot = Math.floor((at_epochMs - from_epochMs) / rowEvery_ms);
    const before = sums.get(slot) ?? { sum: 0, count: 0 };
    sums.set(slot, { sum: before.sum + mean * count, count: before.count + count });
  }
  return new Map([...sums].map(([slot, { sum, count }]) => [slot, sum / count]));
}
