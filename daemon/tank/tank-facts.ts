import type { JournalView } from "../../lib/journal/journal-entry.js";
import type { DegassedBaseline } from "../../lib/tank/co2-from-ph-drop.js";
import { probeDriftSince, type ProbeNow } from "../../lib/tank/probe-record.js";
import { colourCounts_h, type SeenColour } from "../../lib/tank/aged-colour.js";
import type { KnownBaseline, KnownHardness } from "../../lib/tank/tank-co2.js";
import { replacedShare, unknownAge_days, type WaterAge } from "../../lib/tank/water-drift.js";
import type { TankModel } from "../site-model.js";
import type { PastInstant } from "./tank-memory.js";

/** The carbonate hardness that the estimate is made with, and where it comes from. */
export interface HardnessInUse {
  readonly kh_dKH: number;
  /** "config": no test stands in the journal yet. */
  readonly from: "KH test" | "config";
  readonly khUncertainty_dKH: number | undefined;
  readonly testedAt_epochMs: number | undefined;
}

export interface BaselineInUse {
  readonly baseline: DegassedBaseline;
  readonly from: "journal" | "config";
  readonly at_epochMs: number | undefined;
  readonly entryId: number | undefined;
}

export type TankJournal = Pick<JournalView, "latest" | "entriesOf">;

const day_ms = 86_400_000;
/** Told colours stay in sight for a while after they count no more, so that the person learns why. */
const colourTold_h = 4 * colourCounts_h;
/** The tank a few minutes beside the time that a person remembers. */
const besideColour_ms = 600_000;

/** The newest KH test wins; the config's value is only what a tank begins with. */
export function hardnessOf(tank: TankModel, journal: Pick<JournalView, "latest">): HardnessInUse {
  const test = journal.latest("kh test", tank.tankId);
  return {
    kh_dKH: test?.fact.kh_dKH ?? tank.kh_dKH,
    from: test === undefined ? "config" : "KH test",
    khUncertainty_dKH: test?.fact.khUncertainty_dKH,
    testedAt_epochMs: test?.at_epochMs,
  };
}

export function baselineOf(tank: TankModel, journal: TankJournal): BaselineInUse | undefined {
  const entry = journal.latest("degassed pH", tank.tankId);
  if (entry !== undefined) {
    const { pH, how, roomCo2_ppm, temperature_degC } = entry.fact;
    return {
      baseline: {
        pH,
        how,
        ...(roomCo2_ppm === undefined ? {} : { roomCo2_ppm }),
        ...(temperature_degC === undefined ? {} : { temperature_degC }),
      },
      from: "journal",
      at_epochMs: entry.at_epochMs,
      entryId: entry.entryId,
    };
  }
  return tank.degassedPh === undefined
    ? undefined
    : { baseline: tank.degassedPh, from: "config", at_epochMs: undefined, entryId: undefined };
}

/** How old a measurement of the water is, and how much of the water was changed since. */
export function waterAgeOf(
  tank: TankModel,
  journal: TankJournal,
  at_epochMs: number | undefined,
  now_epochMs: number,
): WaterAge {
  // Since when a config's value holds nobody knows; it is taken for as old as any value without a date.
  const since_epochMs = at_epochMs ?? now_epochMs - unknownAge_days * day_ms;
  const changes = journal
    .entriesOf("water change", tank.tankId, since_epochMs)
    .filter((change) => change.at_epochMs > since_epochMs && change.at_epochMs <= now_epochMs);
  return {
    // An entry may lie a few minutes ahead.
    age_days: at_epochMs === undefined ? undefined : Math.max(0, now_epochMs - at_epochMs) / day_ms,
    replaced_ratio: replacedShare(
      changes.map(({ fact }) => fact.changed_L),
      tank.volume_L,
    ),
  };
}

export function knownHardness(
  tank: TankModel,
  journal: TankJournal,
  hardness: HardnessInUse,
  now_epochMs: number,
): KnownHardness {
  const { kh_dKH, khUncertainty_dKH, testedAt_epochMs } = hardness;
  return { kh_dKH, khUncertainty_dKH, ...waterAgeOf(tank, journal, testedAt_epochMs, now_epochMs) };
}

export function knownBaseline(
  tank: TankModel,
  journal: TankJournal,
  inUse: BaselineInUse,
  probe: ProbeNow,
  now_epochMs: number,
): KnownBaseline {
  const calibratedAt_epochMs = probe.health.latest?.at_epochMs;
  return {
    baseline: inUse.baseline,
    ...waterAgeOf(tank, journal, inUse.at_epochMs, now_epochMs),
    isRecalibratedSince:
      calibratedAt_epochMs !== undefined &&
      calibratedAt_epochMs > (inUse.at_epochMs ?? Number.NEGATIVE_INFINITY),
    driftPhSigma: probeDriftSince(probe, inUse.at_epochMs, now_epochMs),
  };
}

/** A colour in the journal, with where it was entered. */
export interface ToldColour extends SeenColour {
  readonly entryId: number;
  readonly at_epochMs: number;
  readonly source: "local" | "remote";
}

/** The last colour that a person told, with the tank as it was at that time. */
export function seenColour(
  tank: TankModel,
  journal: TankJournal,
  past: readonly PastInstant[],
  now_epochMs: number,
): ToldColour | undefined {
  const entry = journal.latest("drop checker", tank.tankId);
  const age_h = entry === undefined ? 0 : Math.max(0, now_epochMs - entry.at_epochMs) / 3_600_000;
  if (entry === undefined || age_h > colourTold_h) return undefined;
  const [nearest] = [...past].sort(
    (a, b) => Math.abs(a.at_epochMs - entry.at_epochMs) - Math.abs(b.at_epochMs - entry.at_epochMs),
  );
  const isNear = nearest !== undefined && Math.abs(nearest.at_epochMs - entry.at_epochMs) <= besideColour_ms;
  return {
    colour: entry.fact.colour,
    entryId: entry.entryId,
    source: entry.source,
    at_epochMs: entry.at_epochMs,
    age_h,
    checker: tank.dropChecker ?? {},
    then: isNear ? { pH: nearest.pH, lag_ratio: nearest.lag_ratio } : undefined,
  };
}
