import { NoConvergenceError, OutOfValidRangeError } from "../../lib/errors.js";
import { openSpansOfCalendars } from "../../lib/estimation/open-spans.js";
import { createSupplyModel } from "../../lib/estimation/supply-model.js";
import type { SupplyReading } from "../../lib/estimation/supply-trace.js";
import { formatFault } from "../config/config-faults.js";
import { loadConfig } from "../config/load-config.js";
import { JournalMemory } from "../journal/journal-memory.js";
import { entryFromRow } from "../journal/stored-fact.js";
import { siteModelFrom, type SiteModel } from "../site-model.js";
import { HistoryUnreadableError, openKeptHistory, type KeptHistory } from "../store/kept-history.js";
import { chargeInUse, type ChargeInUse } from "../supply/charge-in-use.js";
import { enteredReadings } from "../supply/entered-readings.js";
import { historyRows } from "../supply/history-rows.js";
import { doubtOf } from "../supply/pressure-doubt.js";
import { begunSupply } from "../supply/supply-job.js";
import { mergedReadings } from "../supply/supply-rows.js";
import { watchedVessel } from "../supply/watched-vessel.js";
import { createToldEstimates } from "./replay.js";
import { createWatchedReplay } from "./watched-replay.js";

export interface ReplayDatabaseOptions {
  readonly database?: string;
  readonly config?: string;
  readonly vessel?: string;
  readonly ndjson?: boolean;
}

/**
 * What the estimator would have said over what the daemon has kept of the charge that is in a vessel: its readings, the reports of
 * its relays and the journal. A lead that was learnt is not among it: windows are those of the config.
 * @returns the exit code: 0, or 1 where it cannot be done
 */
export async function replayDatabaseCommand(
  trace: string | undefined,
  database: string,
  options: ReplayDatabaseOptions,
  write: (line: string) => void,
): Promise<number> {
  const isNdjson = options.ndjson ?? false;
  const complain = (message: string): number => {
    write(isNdjson ? JSON.stringify({ error: { message } }) : message);
    return 1;
  };
  if (trace !== undefined) return complain("give either a trace or --database");
  if (options.config === undefined) {
    return complain("--database needs --config: it names the vessel's sensors and valves");
  }
  const parsed = await loadConfig(options.config);
  if (parsed.kind === "invalid") {
    const { config } = options;
    return complain(parsed.faults.map((fault) => formatFault(config, fault)).join("\n"));
  }
  const site = siteModelFrom(parsed.config);
  const vesselId = options.vessel ?? onlyGenerator(site);
  if (vesselId === undefined || site.vessels.get(vesselId)?.kind !== "generator") {
    const known = [...site.vessels].filter(([, { kind }]) => kind === "generator").map(([id]) => id);
    return complain(
      `say with --vessel which generator is meant; the config has ${known.length === 0 ? "none" : known.join(", ")}`,
    );
  }
  let history: KeptHistory | undefined;
  try {
    history = openKeptHistory(database);
    const journal = new JournalMemory();
    for (const row of history.journal()) {
      const entry = entryFromRow(row);
      if (entry !== undefined) journal.add(entry);
    }
    const charge = chargeInUse(site, vesselId, journal);
    if (charge === undefined) {
      return complain(`no charge of ${vesselId} is known, neither in the config nor in the journal`);
    }
    const told = createToldEstimates(site.timeZone, isNdjson, write);
    return replay(site, vesselId, charge, { history, journal }, told) === "nothing was kept"
      ? complain(
          `${database} holds nothing of the charge that was closed into ${vesselId}: no reading, no gauge`,
        )
      : 0;
  } catch (error) {
    if (error instanceof HistoryUnreadableError) return complain(`${database}: ${error.message}`);
    if (error instanceof OutOfValidRangeError || error instanceof NoConvergenceError) {
      return complain(`the charge of ${vesselId}: ${error.message}`);
    }
    throw error;
  } finally {
    history?.close();
  }
}

function onlyGenerator({ vessels }: SiteModel): string | undefined {
  const generators = [...vessels].filter(([, { kind }]) => kind === "generator").map(([id]) => id);
  return generators.length === 1 ? generators[0] : undefined;
}

function replay(
  site: SiteModel,
  vesselId: string,
  { supplied, closedAt_epochMs }: ChargeInUse,
  { history, journal }: { readonly history: KeptHistory; readonly journal: JournalMemory },
  told: ReturnType<typeof createToldEstimates>,
): "told" | "nothing was kept" {
  const vessel = site.vessels.get(vesselId);
  const valves = [...site.valves].filter(([, valve]) => valve.vesselId === vesselId);
  const spans = openSpansOfCalendars(
    valves.map(([, { calendar }]) => calendar),
    closedAt_epochMs,
  );
  const model = createSupplyModel(supplied, { spans });
  const to_epochMs = (history.latest_epochMs ?? closedAt_epochMs) + 1;
  const of = (sensorId: string | undefined) => (from_epochMs: number, until_epochMs: number) =>
    sensorId === undefined ? [] : history.readings(sensorId, from_epochMs, until_epochMs);
  const events = history.valveEvents(0, to_epochMs);
  const firstKept_epochMs = firstKept(history, vessel?.pressureSensor, events, closedAt_epochMs, to_epochMs);
  const rows = [
    ...historyRows({
      from_epochMs: firstKept_epochMs,
      to_epochMs,
      valveIds: valves.map(([id]) => id),
      events,
      pressures: of(vessel?.pressureSensor),
      temperatures: of(vessel?.temperatureSensor),
    }),
  ];
  const merged = mergedReadings(
    rows,
    enteredReadings(journal, vesselId, closedAt_epochMs),
    { valveOpen: undefined, sensor_epochMs: undefined },
    (at_epochMs) => spans.hasOpenAt(at_epochMs),
  );
  const first = merged[0]?.reading;
  if (first === undefined) return "nothing was kept";
  const replaying = createWatchedReplay(model, watchedVessel(vesselId, site), begunSupply(model, first));
  for (const { reading } of merged) told.take(replaying.take(believable(reading)));
  told.take(replaying.end());
  told.end();
  return "told";

  function believable(reading: SupplyReading): SupplyReading {
    const { pressureGauge_bar, ...rest } = reading;
    const { state } = replaying;
    return pressureGauge_bar === undefined ||
      state === undefined ||
      doubtOf(model, state, pressureGauge_bar) === undefined
      ? reading
      : rest;
  }
}

const day_ms = 86_400_000;

/** The first day of this charge of which anything was kept: before that, only entries tell. */
function firstKept(
  history: KeptHistory,
  sensorId: string | undefined,
  events: readonly { readonly at_epochMs: number }[],
  from_epochMs: number,
  to_epochMs: number,
): number {
  const event = events.find(({ at_epochMs }) => at_epochMs >= from_epochMs)?.at_epochMs ?? to_epochMs;
  if (sensorId === undefined) return event;
  for (let day_epochMs = from_epochMs; day_epochMs < event; day_epochMs += day_ms) {
    const [reading] = history.readings(sensorId, day_epochMs, Math.min(event, day_epochMs + day_ms));
    if (reading !== undefined) return Math.max(from_epochMs, reading.from_epochMs);
  }
  return event;
}
