import type { SupplyReading } from "../../lib/estimation/supply-trace.js";

/** What was heard of a vessel since its last row. */
export interface Heard {
  /** Undefined: never yet. */
  readonly seen_epochMs: number | undefined;
  /** Gas flows through any of its valves, as far as their relays say. */
  readonly isOpen: boolean;
  /** How long no relay has said; undefined: they do. Only within one run of the daemon. */
  readonly unknownSince_monotonicMs: number | undefined;
  readonly pressureSum_bar: number;
  readonly pressureCount: number;
  readonly pressureTaken_epochMs: number | undefined;
  readonly temperatureSum_degC: number;
  readonly temperatureCount: number;
  readonly temperatureTaken_epochMs: number | undefined;
  readonly massSum_g: number;
  readonly massCount: number;
  readonly massTaken_epochMs: number | undefined;
}

export const nothingHeard: Heard = {
  seen_epochMs: undefined,
  isOpen: false,
  unknownSince_monotonicMs: undefined,
  pressureSum_bar: 0,
  pressureCount: 0,
  pressureTaken_epochMs: undefined,
  temperatureSum_degC: 0,
  temperatureCount: 0,
  temperatureTaken_epochMs: undefined,
  massSum_g: 0,
  massCount: 0,
  massTaken_epochMs: undefined,
};

export interface HeardReading {
  readonly at_epochMs: number;
  readonly value: number;
}

/** One look at a vessel. */
export interface Glance {
  readonly now_epochMs: number;
  readonly now_monotonicMs: number;
  readonly valves: "open" | "closed" | "unknown";
  /** The latest that were believed, however old. */
  readonly pressure: HeardReading | undefined;
  readonly temperature: HeardReading | undefined;
  readonly mass?: HeardReading | undefined;
}

/** Rows further apart leave it open what the valve did; closer than ten minutes they say nothing new. */
export const rowEvery_ms = 10 * 60_000;
/** After a longer silence the daemon was not running; its relays had dropped by themselves within seconds. */
const away_ms = 5 * 60_000;
const dropsWithin_ms = 3000;
/** A relay that cannot be asked drops by itself after at most so long. */
const longestUnsaid_ms = 300_000;
/** Of a value that nothing is gained from: a millibar, a hundredth of a degree. */
const rounded = (value: number, digits: number): number => Number(value.toFixed(digits));

/**
 * Listens to one vessel: a row for every change of its valves, and each ten minutes one with the means of what was read.
 * Nothing for a clock that was put back, until it has caught up.
 */
export function hearing(
  before: Heard,
  lastRow_epochMs: number | undefined,
  glance: Glance,
): { readonly heard: Heard; readonly rows: readonly SupplyReading[] } {
  const { now_epochMs, now_monotonicMs } = glance;
  if (before.seen_epochMs !== undefined && now_epochMs < before.seen_epochMs) {
    return { heard: before, rows: [] };
  }
  const rows: SupplyReading[] = [];
  let isOpen = before.isOpen;
  if (isOpen && before.seen_epochMs !== undefined && now_epochMs - before.seen_epochMs > away_ms) {
    rows.push({ at_epochMs: before.seen_epochMs + dropsWithin_ms, valveOpen: false });
    isOpen = false;
  }
  const unknownSince_monotonicMs =
    glance.valves === "unknown" ? (before.unknownSince_monotonicMs ?? now_monotonicMs) : undefined;
  const isUnsaid =
    unknownSince_monotonicMs !== undefined && now_monotonicMs - unknownSince_monotonicMs < longestUnsaid_ms;
  const isOpenNow = glance.valves === "open" || (isUnsaid && isOpen);
  if (isOpenNow !== isOpen) rows.push({ at_epochMs: now_epochMs, valveOpen: isOpenNow });

  const summed = withReadings(before, glance);
  const heard = { ...summed, seen_epochMs: now_epochMs, isOpen: isOpenNow, unknownSince_monotonicMs };
  const since_epochMs = rows.at(-1)?.at_epochMs ?? lastRow_epochMs;
  const hasWaited = lastRow_epochMs === undefined || now_epochMs - lastRow_epochMs >= rowEvery_ms;
  const isFirst = lastRow_epochMs === undefined && since_epochMs === undefined;
  if (!hasWaited && !isFirst && !endsSilence(before, heard)) return { heard, rows };
  const { pressureSum_bar, pressureCount, temperatureSum_degC, temperatureCount, massSum_g, massCount } =
    heard;
  rows.push({
    at_epochMs: now_epochMs,
    valveOpen: isOpenNow,
    ...(pressureCount === 0 ? {} : { pressureGauge_bar: rounded(pressureSum_bar / pressureCount, 4) }),
    ...(temperatureCount === 0
      ? {}
      : { temperature_degC: rounded(temperatureSum_degC / temperatureCount, 3) }),
    ...(massCount === 0 ? {} : { vesselMass_g: rounded(massSum_g / massCount, 2) }),
  });
  return {
    heard: withoutReadings(heard),
    rows,
  };
}

/** The first pressure for long, as after a start, is not kept waiting for the next row: people are told that none was read. */
function endsSilence(before: Heard, heard: Heard): boolean {
  const taken_epochMs = heard.pressureTaken_epochMs;
  if (taken_epochMs === undefined || taken_epochMs === before.pressureTaken_epochMs) return false;
  return (
    before.pressureTaken_epochMs === undefined || taken_epochMs - before.pressureTaken_epochMs > rowEvery_ms
  );
}

/** What was read so far belongs to the charge before. */
export function withoutReadings(heard: Heard): Heard {
  return {
    ...heard,
    pressureSum_bar: 0,
    pressureCount: 0,
    temperatureSum_degC: 0,
    temperatureCount: 0,
    massSum_g: 0,
    massCount: 0,
  };
}

/** The rows of a charge that was closed at an instant. The mean of ten minutes may hold what was read before. */
export function rowsSince(
  closedAt_epochMs: number,
  rows: readonly SupplyReading[],
): readonly SupplyReading[] {
  return rows
    .filter(({ at_epochMs }) => at_epochMs >= closedAt_epochMs)
    .map((row) => {
      if (row.at_epochMs >= closedAt_epochMs + rowEvery_ms) return row;
      const { at_epochMs, valveOpen } = row;
      return { at_epochMs, valveOpen };
    });
}

function withReadings(before: Heard, { pressure, temperature, mass }: Glance): Heard {
  const isNew = (reading: HeardReading | undefined, taken_epochMs: number | undefined): boolean =>
    reading !== undefined && reading.at_epochMs > (taken_epochMs ?? -Infinity);
  let heard = before;
  if (pressure !== undefined && isNew(pressure, before.pressureTaken_epochMs)) {
    heard = {
      ...heard,
      pressureSum_bar: heard.pressureSum_bar + pressure.value,
      pressureCount: heard.pressureCount + 1,
      pressureTaken_epochMs: pressure.at_epochMs,
    };
  }
  if (temperature !== undefined && isNew(temperature, before.temperatureTaken_epochMs)) {
    heard = {
      ...heard,
      temperatureSum_degC: heard.temperatureSum_degC + temperature.value,
      temperatureCount: heard.temperatureCount + 1,
      temperatureTaken_epochMs: temperature.at_epochMs,
    };
  }
  if (mass !== undefined && isNew(mass, before.massTaken_epochMs)) {
    heard = {
      ...heard,
      massSum_g: heard.massSum_g + mass.value,
      massCount: heard.massCount + 1,
      massTaken_epochMs: mass.at_epochMs,
    };
  }
  return heard;
}
