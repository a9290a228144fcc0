import { describe, expect, it } from "vitest";
import type { JournalEntry, JournalFact, JournalView } from "../../../../lib/journal/journal-entry.js";
import { subjectOf } from "../../../../lib/journal/journal-entry.js";
import { recordedTasks, type RecordedTask } from "../../../../lib/upkeep/recorded-task.js";
import { taskDescriptions, upkeepTasks, usualIntervals } from "../../../../lib/upkeep/upkeep-catalogue.js";
import { isDue, upkeepItems, type UpkeepSite } from "../../../../lib/upkeep/upkeep-items.js";

const now_epochMs = Date.parse("2026-05-04T10:00:00Z");
const day_ms = 86_400_000;
const site: UpkeepSite = {
  vessels: [
    {
      vesselId: "cellar",
      kind: "generator",
      retestBy: "2026-07-03",
      reliefDeviceBy: undefined,
      refillSince_epochMs: undefined,
    },
  ],
  valveIds: ["outlet"],
  tanks: [{ tankId: "loach", hasDropChecker: true }],
  phSensorIds: ["loach-ph"],
  intervals: usualIntervals,
  timeZone: "Europe/Berlin",
};

/** Entries with their ages in days. */
function journalOf(...facts: readonly (readonly [age_days: number, fact: JournalFact])[]): JournalView {
  const entries = facts
    .map(([age_days, fact], index) => ({
      entryId: index + 1,
      at_epochMs: now_epochMs - age_days * day_ms,
      enteredAt_epochMs: now_epochMs,
      source: "local" as const,
      note: "",
      fact,
      withdrawn: false,
    }))
    .sort((a, b) => a.at_epochMs - b.at_epochMs);
  const entriesOf = (kind: string, id: string) =>
    entries.filter(({ fact }) => fact.kind === kind && subjectOf(fact).id === id);
  return {
    latest: (kind, id) => entriesOf(kind, id).at(-1) as JournalEntry<never> | undefined,
    entriesOf: (kind, id) => entriesOf(kind, id) as JournalEntry<never>[],
  };
}
const done = (task: RecordedTask, subjectId: string): JournalFact => ({
  kind: "upkeep done",
  task,
  subjectKind: taskDescriptions[task].subjectKind as "tank" | "valve" | "vessel",
  subjectId,
});
const stateOf = (task: string, journal: JournalView, changes: Partial<UpkeepSite> = {}) =>
  upkeepItems({ ...site, ...changes }, journal, now_epochMs).find((item) => item.task === task)?.state;

describe("upkeep", () => {
  it("lists every task of the catalogue once for its subject, and raises nothing where nothing was recorded", () => {
    const items = upkeepItems(
      { ...site, vessels: [{ ...site.vessels[0]!, retestBy: undefined }] },
      journalOf(),
      now_epochMs,
    );
    expect(items.map(({ task }) => task).sort()).toEqual([...upkeepTasks].sort());
    expect(items.filter(isDue)).toEqual([]);
    expect(items.every(({ task, subject }) => subject.kind === taskDescriptions[task].subjectKind)).toBe(
      true,
    );
  });

  it.each(
    recordedTasks
      .filter((task) => task !== "sediment soak")
      .map((task) => ({
        task,
        id: { vessel: "cellar", valve: "outlet", tank: "loach", sensor: "loach-ph" }[
          taskDescriptions[task].subjectKind
        ],
      })),
  )("is due again after the interval: $task", ({ task, id }) => {
    const every_days = {
      "O-ring": 365,
      "vessel inspection": 365,
      "check valve": 180,
      "diffuser cleaning": 30,
      "drop-checker fluid": 30,
      "sediment soak": 0,
    }[task];
    expect(stateOf(task, journalOf([every_days - 0.01, done(task, id)]))).toMatchObject({ kind: "later" });
    expect(stateOf(task, journalOf([every_days, done(task, id)]))).toEqual({ kind: "due" });
    expect(stateOf(task, journalOf([900, done(task, id)], [1, done(task, id)]))).toMatchObject({
      kind: "later",
    });
    expect(stateOf(task, journalOf([1, done(task, "another")]))).toEqual({ kind: "never recorded" });
  });

  it("tells tasks of one subject apart, and a vessel from a tank of the same name", () => {
    const journal = journalOf(
      [1, done("O-ring", "cellar")],
      [1, { ...done("diffuser cleaning", "cellar"), subjectKind: "tank" } as JournalFact],
    );
    expect(stateOf("O-ring", journal)).toMatchObject({ kind: "later" });
    expect(stateOf("vessel inspection", journal)).toEqual({ kind: "never recorded" });
  });

  it("counts a KH test and a calibration that the journal has anyway", () => {
    const journal = journalOf(
      [31, { kind: "kh test", tankId: "loach", kh_dKH: 4 }],
      [29, { kind: "calibration", sensorId: "loach-ph", buffers: [] }],
    );
    expect(stateOf("KH test", journal)).toEqual({ kind: "due" });
    expect(stateOf("probe calibration", journal)).toMatchObject({ kind: "later" });
  });

  it.each([
    {
      retestBy: "2026-07-04",
      state: { kind: "later by date", date: "2026-07-04" },
      because: "61 days are left",
    },
    {
      retestBy: "2026-07-03",
      state: { kind: "due by date", date: "2026-07-03", isPast: false },
      because: "60 days are left",
    },
    {
      retestBy: "2026-05-04",
      state: { kind: "due by date", date: "2026-05-04", isPast: false },
      because: "it is the last day",
    },
    {
      retestBy: "2026-05-03",
      state: { kind: "due by date", date: "2026-05-03", isPast: true },
      because: "it was yesterday",
    },
    { retestBy: undefined, state: { kind: "no date in the config" }, because: "nobody has read the plate" },
  ])("goes by the date on the plate: $retestBy, as $because", ({ retestBy, state }) => {
    expect(stateOf("retest", journalOf(), { vessels: [{ ...site.vessels[0]!, retestBy }] })).toEqual(state);
  });

  it.each([
    { since_days: undefined, soaked_days: undefined, kind: "at the next refill", because: "nobody refills" },
    { since_days: 0.1, soaked_days: undefined, kind: "due", because: "the vessel is open now" },
    { since_days: 0.1, soaked_days: 20, kind: "due", because: "that soak was of the refill before" },
    { since_days: 0.1, soaked_days: 0.05, kind: "at the next refill", because: "it has just been soaked" },
  ])("asks for the soak at each refill: $kind, as $because", ({ since_days, soaked_days, kind }) => {
    const journal =
      soaked_days === undefined ? journalOf() : journalOf([soaked_days, done("sediment soak", "cellar")]);
    const refillSince_epochMs = since_days === undefined ? undefined : now_epochMs - since_days * day_ms;
    expect(
      stateOf("sediment soak", journal, { vessels: [{ ...site.vessels[0]!, refillSince_epochMs }] }),
    ).toEqual({ kind });
  });

  it("asks no soak and no O-ring of a bought cylinder", () => {
    const tasks = upkeepItems(
      { ...site, vessels: [{ ...site.vessels[0]!, kind: "liquid" }] },
      journalOf(),
      now_epochMs,
    ).map(({ task }) => task);
    expect(tasks).not.toContain("sediment soak");
    expect(tasks).toContain("retest");
  });

  it("warns of hot water, of pressure, and never has a relief device set higher", () => {
    expect(taskDescriptions["sediment soak"].whatToDo).toMatch(
      /loosen nothing under pressure.*Never close a vessel with hot water/s,
    );
    expect(taskDescriptions["relief device"].whatToDo).toMatch(/licensed.*Never plug it or set it higher/s);
    expect(taskDescriptions.retest.whatToDo).toMatch(/licensed.*local code/s);
  });
});
