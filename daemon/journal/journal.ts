import {
  subjectOf,
  type JournalEntry,
  type JournalFact,
  type JournalView,
} from "../../lib/journal/journal-entry.js";
import { judgeEntry, type EntryRefusal, type EntryRemark } from "../../lib/journal/judge-entry.js";
import type { LinearCalibration } from "../../lib/readings/calibration.js";
import { probeRecord, shownCorrection } from "../../lib/tank/probe-record.js";
import type { ClockVerdict } from "../../lib/schedule/clock-plausibility.js";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { JournalKeeping, NewJournalRow, SiteStore } from "../ports/site-store.js";
import type { SiteModel } from "../site-model.js";
import { knownNames } from "../unknown-name.js";
import { factOf, readEnteredEntry } from "./entered-entry.js";
import { refusalInWords } from "./journal-words.js";
import { JournalMemory, keptInMemory, type JournalQuery } from "./journal-memory.js";
import { journalSiteOf } from "./journal-site.js";
import { asStored, columnsOfFact, entryFromRow } from "./stored-fact.js";
import { readWrittenTime } from "./written-time.js";

export type EntryOutcome =
  | {
      /** On disk. `known`: it had been entered before, and stands there once. */
      readonly kind: "kept";
      readonly entry: JournalEntry;
      readonly known: boolean;
      readonly remarks: readonly EntryRemark[];
    }
  | NotKept;

export interface NotKept {
  /** "refused": for what it says. "not kept": for the store. "not answered": the disk has not said yet. */
  readonly kind: "refused" | "not kept" | "not answered";
  readonly reason: string;
  readonly refusal?: EntryRefusal;
}

export interface Journal extends JournalView {
  /** Reads what is on disk. @throws StoreUnavailableError when the store does not answer. */
  load(): Promise<void>;
  /** Judges an entry and brings it to disk. Never rejects. */
  enter(content: unknown, source: JournalEntry["source"]): Promise<EntryOutcome>;
  /** From now on the entry counts no more; both stay on disk. Never rejects. */
  withdraw(entryId: number, source: JournalEntry["source"]): Promise<EntryOutcome>;
  /** The newest entries, withdrawn ones too, oldest first. */
  list(query: JournalQuery): readonly JournalEntry[];
}

export interface JournalPorts {
  readonly store: Pick<SiteStore, "keepJournalRow" | "recentJournal">;
  /** Time of the site. */
  readonly clock: Pick<Clock, "now_epochMs">;
  /** Time of this machine: the disk lives in it. */
  readonly machineClock: Pick<Clock, "sleep">;
  readonly logger: Logger;
  /** Undefined before the first control pass. */
  readonly clockVerdict: () => ClockVerdict | undefined;
  /** What a tank's probe shows now; undefined while that is not known. */
  readonly presentPh?: (tankId: string) => number | undefined;
}

/** A delivery that is repeated, or a key that was pressed twice. */
const sameWithin_ms = 60_000;
/** Whoever waits for an answer does not wait longer. */
const answerWithin_ms = 15_000;

/** An entry on its way to the disk. */
interface Pending {
  readonly fact: JournalFact;
  readonly at_epochMs: number;
  readonly note: string;
  readonly outcome: Promise<EntryOutcome>;
}

/** What people saw, measured and did: the latest of it in memory, all of it on disk. */
export function createJournal(ports: JournalPorts, model: () => SiteModel): Journal {
  const { store, clock, machineClock, logger } = ports;
  const memory = new JournalMemory();
  const pending = new Set<Pending>();

  return {
    load,
    enter,
    withdraw,
    list: (query) => memory.list(query),
    latest: (kind, subjectId) => memory.latest(kind, subjectId),
    entriesOf: (kind, subjectId, since_epochMs) => memory.entriesOf(kind, subjectId, since_epochMs),
    withdrawnOf: (kind, subjectId, since_epochMs) => memory.withdrawnOf(kind, subjectId, since_epochMs),
  };

  async function load(): Promise<void> {
    const rows = await store.recentJournal({ perSubject: keptInMemory });
    const entries = rows.map(entryFromRow);
    const unknown = rows.filter((_row, index) => entries[index] === undefined);
    if (unknown.length > 0) {
      logger.warn(
        { count: unknown.length, entryId: unknown[0]?.entryId },
        "entries of the journal are of a kind that this program does not know; they stay on disk and count for nothing",
      );
    }
    for (const entry of entries) if (entry !== undefined) memory.add(entry);
  }

  async function enter(content: unknown, source: JournalEntry["source"]): Promise<EntryOutcome> {
    const read = readEnteredEntry(content);
    if (read.kind === "not understood") return refused(`not understood: ${read.reason}`);
    const entered = read.request;
    const clockFault = faultOfClock();
    if (clockFault !== undefined) return refused(clockFault);
    const site = journalSiteOf(model());
    const about = factOf(entered, site);
    if (about.kind === "subject needed") {
      return refused(`say which ${about.subjectKind}: ${knownNames(about.subjectKind, about.known)}`);
    }
    const now_epochMs = Math.round(clock.now_epochMs());
    const written = entered.at === undefined ? undefined : readWrittenTime(entered.at, model().timeZone);
    if (written?.kind === "refused") return refused(written.reason);
    const said_epochMs = written?.at_epochMs ?? now_epochMs;
    const { kind } = about.fact;
    const last = memory.latest(kind, subjectOf(about.fact).id);
    const corrections = about.fact.kind === "calibration" ? correctionsOf(about.fact.sensorId) : [];
    const presentPh = about.fact.kind === "degassed pH" ? ports.presentPh?.(about.fact.tankId) : undefined;
    const isSure = entered.sure === true;
    const context = { now_epochMs, site, last, source, corrections, presentPh, isSure };
    const verdict = judgeEntry(about.fact, said_epochMs, context);
    if (verdict.kind === "refused") {
      return { ...refused(refusalInWords(verdict.refusal)), refusal: verdict.refusal };
    }
    // The slack for two clocks of a home: an entry that lies ahead would outrank those of the next minutes.
    const at_epochMs = Math.min(said_epochMs, now_epochMs);
    const fact = asStored(about.fact);
    const note = entered.note ?? "";
    const same = sameAs(fact, at_epochMs, note, source);
    if (same !== undefined) return known(await same);
    const row = { at_epochMs, enteredAt_epochMs: now_epochMs, source, note, ...columnsOfFact(fact) };
    const outcome = keep(
      row,
      (entryId) => {
        const entry = {
          entryId,
          at_epochMs,
          enteredAt_epochMs: now_epochMs,
          source,
          note,
          fact,
          withdrawn: false,
        };
        memory.add(entry);
        return { kind: "kept", entry, known: false, remarks: verdict.remarks };
      },
      () => pending.delete(waiting),
    );
    // The store answers in a later turn, so this stands before the first use.
    const waiting: Pending = { fact, at_epochMs, note, outcome };
    pending.add(waiting);
    return outcome;
  }

  async function withdraw(entryId: number, source: JournalEntry["source"]): Promise<EntryOutcome> {
    const entry = memory.find(entryId);
    if (entry === undefined) return refused(`there is no entry ${entryId} in the journal`);
    if (entry.withdrawn) return refused(`entry ${entryId} is withdrawn already`);
    const now_epochMs = Math.round(clock.now_epochMs());
    const row = {
      at_epochMs: now_epochMs,
      enteredAt_epochMs: now_epochMs,
      source,
      note: "",
      kind: "withdrawal",
      subject: subjectOf(entry.fact).id,
      factJson: "{}",
      withdraws: entryId,
    };
    return keep(row, () => ({
      kind: "kept",
      entry: memory.withdraw(entry, now_epochMs),
      known: false,
      remarks: [],
    }));
  }

  /** Of a probe, now and by what was entered at this machine: many small steps from afar must not add up. */
  function correctionsOf(sensorId: string): readonly LinearCalibration[] {
    const config = model().sensors.get(sensorId)?.rules.calibration ?? { gain: 1, offset: 0 };
    const entries = memory.entriesOf("calibration", sensorId, Number.NEGATIVE_INFINITY);
    return [entries, entries.filter(({ source }) => source === "local")].map((counted) =>
      shownCorrection(probeRecord(counted), config),
    );
  }

  /** What comes after the answer was given up still counts: it is on disk. */
  function keep(
    row: NewJournalRow,
    onKept: (entryId: number) => EntryOutcome,
    onSettled: () => void = () => undefined,
  ): Promise<EntryOutcome> {
    const over = new AbortController();
    let givenUp = false;
    const kept = store.keepJournalRow(row).then((keeping): EntryOutcome => {
      over.abort();
      onSettled();
      log(row, keeping, givenUp);
      return keeping.kind === "kept"
        ? onKept(keeping.entryId)
        : { kind: "not kept", reason: `not kept: ${keeping.reason}; then enter it again` };
    });
    const patience = machineClock.sleep(answerWithin_ms, over.signal).then((): EntryOutcome => {
      givenUp = true;
      return {
        kind: "not answered",
        reason:
          `the disk has not answered within ${answerWithin_ms / 1000} s; whether the entry is kept will be seen in ` +
          "the journal: look there before you enter it again",
      };
    });
    return Promise.race([kept, patience]);
  }

  function log(row: NewJournalRow, keeping: JournalKeeping, givenUp: boolean): void {
    const { kind, subject, source, withdraws } = row;
    if (keeping.kind === "kept") {
      const at = new Date(row.at_epochMs).toISOString();
      const fields = { entryId: keeping.entryId, kind, subject, source, at };
      logger.info(withdraws === undefined ? fields : { ...fields, withdraws }, "journal entry kept");
    } else {
      logger.error({ kind, subject, source, reason: keeping.reason }, "journal entry not kept");
    }
    if (givenUp) logger.warn({ kind, subject }, "the answer to that journal entry had been given up");
  }

  function faultOfClock(): string | undefined {
    const verdict = ports.clockVerdict();
    if (verdict === undefined) return "no control pass has run yet; try again in a moment";
    if (verdict.kind === "plausible") return undefined;
    return (
      `this machine's clock is not believed (${verdict.reason}), and an entry needs its time: set the clock, or say that ` +
      "it is right with accept-clock"
    );
  }

  /** Answered already, or on its way. */
  /** What is typed here after something else is a correction, even back to what was typed before; a delivery may be repeated late. */
  function sameAs(
    fact: JournalFact,
    at_epochMs: number,
    note: string,
    source: JournalEntry["source"],
  ): Promise<EntryOutcome> | undefined {
    const content = JSON.stringify([fact, note]);
    const subject = subjectOf(fact).id;
    const isSame = (other: Pick<Pending, "fact" | "at_epochMs" | "note">): boolean =>
      Math.abs(other.at_epochMs - at_epochMs) < sameWithin_ms &&
      JSON.stringify([other.fact, other.note]) === content;
    const isLike = (other: Pending): boolean =>
      other.fact.kind === fact.kind && subjectOf(other.fact).id === subject;
    const kept = [...memory.entriesOf(fact.kind, subject, at_epochMs - sameWithin_ms)].sort(
      (one, other) => one.entryId - other.entryId,
    );
    const inOrder = [
      ...kept.map((entry) => ({
        like: entry,
        outcome: Promise.resolve<EntryOutcome>({ kind: "kept", entry, known: true, remarks: [] }),
      })),
      ...[...pending].filter(isLike).map((like) => ({ like, outcome: like.outcome })),
    ];
    return (source === "local" ? inOrder.slice(-1) : inOrder).find(({ like }) => isSame(like))?.outcome;
  }
}

function known(outcome: EntryOutcome): EntryOutcome {
  return outcome.kind === "kept" ? { ...outcome, known: true } : outcome;
}

function refused(reason: string): NotKept {
  return { kind: "refused", reason };
}
