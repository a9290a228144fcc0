import type { JournalEntry, JournalKind, FactOf } from "../../lib/journal/journal-entry.js";
import { probeNow, probeRecord } from "../../lib/tank/probe-record.js";
import type { SiteModel, TankModel } from "../site-model.js";
import {
  baselineOf,
  hardnessOf,
  knownBaseline,
  knownHardness,
  type TankJournal,
} from "../tank/tank-facts.js";
import type { KnownFrom } from "./page-job.js";
import type { SpanOfTime } from "./page-contract.js";

const day_ms = 86_400_000;
/** What ages, ages slowly. */
const every_ms = 7 * day_ms;
const mostSteps = 120;

/** What was known of a tank's water and probe in the course of a span: anew with each entry, and as it aged. */
export function knowledgeOver(
  tank: TankModel,
  model: Pick<SiteModel, "sensors">,
  journal: TankJournal,
  { from_epochMs, until_epochMs }: SpanOfTime,
): readonly KnownFrom[] {
  const { tankId, phSensorId } = tank;
  const entered = [
    ...journal.entriesOf("kh test", tankId, from_epochMs),
    ...journal.entriesOf("degassed pH", tankId, from_epochMs),
    ...journal.entriesOf("water change", tankId, from_epochMs),
    ...(phSensorId === undefined ? [] : journal.entriesOf("calibration", phSensorId, from_epochMs)),
  ].map(({ at_epochMs }) => at_epochMs);
  const step_ms = Math.max(every_ms, (until_epochMs - from_epochMs) / mostSteps);
  const regular = Array.from(
    { length: Math.ceil((until_epochMs - from_epochMs) / step_ms) },
    (_, k) => from_epochMs + k * step_ms,
  );
  return [...new Set([...regular, ...entered.slice(-mostSteps)])]
    .filter((at_epochMs) => at_epochMs < until_epochMs)
    .sort((one, other) => one - other)
    .map((at_epochMs) => ({ from_epochMs: at_epochMs, known: knownAt(tank, model, journal, at_epochMs) }));
}

function knownAt(
  tank: TankModel,
  model: Pick<SiteModel, "sensors">,
  journal: TankJournal,
  at_epochMs: number,
): KnownFrom["known"] {
  const then = journalAsOf(journal, at_epochMs);
  const rules = tank.phSensorId === undefined ? undefined : model.sensors.get(tank.phSensorId)?.rules;
  const { gain, offset } = rules?.calibration ?? { gain: 1, offset: 0 };
  const probe = probeNow(
    probeRecord(
      tank.phSensorId === undefined ? [] : then.entriesOf("calibration", tank.phSensorId, -Infinity),
    ),
    { accuracyPh: rules?.accuracy, isCorrected: gain !== 1 || offset !== 0 },
    at_epochMs,
  );
  const baseline = baselineOf(tank, then);
  return {
    salts: tank.salts,
    phosphate_mgPerL: tank.phosphate_mgPerL,
    hardness: knownHardness(tank, then, hardnessOf(tank, then), at_epochMs),
    baseline: baseline === undefined ? undefined : knownBaseline(tank, then, baseline, probe, at_epochMs),
    // A colour counts for hours, and for the instant at which it was seen.
    colour: undefined,
    probe: { offsetPhSigma: probe.offsetPhSigma, slopeSigma_ratio: probe.slopeSigma_ratio },
  };
}

/** The journal as it was at an instant: of what was seen or done later nothing. */
function journalAsOf(journal: TankJournal, until_epochMs: number): TankJournal {
  const entriesOf = <Kind extends JournalKind>(
    kind: Kind,
    subjectId: string,
    since_epochMs: number,
  ): readonly JournalEntry<FactOf<Kind>>[] =>
    journal.entriesOf(kind, subjectId, since_epochMs).filter(({ at_epochMs }) => at_epochMs <= until_epochMs);
  return { entriesOf, latest: (kind, subjectId) => entriesOf(kind, subjectId, -Infinity).at(-1) };
}
