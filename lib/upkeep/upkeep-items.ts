import type { JournalSubject, JournalView } from "../journal/journal-entry.js";
import { addDays, wallClockAt } from "../schedule/civil-time.js";
import type { RecordedTask } from "./recorded-task.js";
import { taskDescriptions, type UpkeepIntervals, type UpkeepTask } from "./upkeep-catalogue.js";

export type UpkeepState =
  | { readonly kind: "due" }
  | { readonly kind: "later"; readonly due_epochMs: number }
  /** By the date on a plate; `isPast`: the date itself is over. */
  | { readonly kind: "due by date"; readonly date: string; readonly isPast: boolean }
  | { readonly kind: "later by date"; readonly date: string }
  | { readonly kind: "at the next refill" }
  /** Nobody has entered when it was done last, so that nothing says when it is due. */
  | { readonly kind: "never recorded" }
  | { readonly kind: "no date in the config" };

export interface UpkeepItem {
  readonly task: UpkeepTask;
  readonly subject: JournalSubject;
  readonly done_epochMs: number | undefined;
  readonly state: UpkeepState;
}

/** What of the site needs upkeep. */
export interface UpkeepSite {
  readonly vessels: readonly {
    readonly vesselId: string;
    readonly kind: "generator" | "liquid";
    /** Dates from the plates, as 2031-06-30. */
    readonly retestBy: string | undefined;
    readonly reliefDeviceBy: string | undefined;
    /** Since when a person refills it; undefined: nobody does. */
    readonly refillSince_epochMs: number | undefined;
  }[];
  readonly valveIds: readonly string[];
  readonly tanks: readonly { readonly tankId: string; readonly hasDropChecker: boolean }[];
  readonly phSensorIds: readonly string[];
  readonly intervals: UpkeepIntervals;
  readonly timeZone: string;
}

const day_ms = 86_400_000;

/** Every task of the site with when it was done and when it is due, in the order of vessels, valves, tanks, sensors. */
export function upkeepItems(
  site: UpkeepSite,
  journal: JournalView,
  now_epochMs: number,
): readonly UpkeepItem[] {
  const { intervals } = site;
  const today = wallClockAt(now_epochMs, site.timeZone).date;
  const recorded = (task: RecordedTask, id: string): number | undefined => {
    const { subjectKind } = taskDescriptions[task];
    return journal
      .entriesOf("upkeep done", id, Number.NEGATIVE_INFINITY)
      .filter(({ fact }) => fact.task === task && fact.subjectKind === subjectKind)
      .at(-1)?.at_epochMs;
  };
  const item = (
    task: UpkeepTask,
    id: string,
    done_epochMs: number | undefined,
    state: UpkeepState,
  ): UpkeepItem => ({
    task,
    subject: { kind: taskDescriptions[task].subjectKind, id },
    done_epochMs,
    state,
  });
  const each = (
    task: UpkeepTask,
    id: string,
    done_epochMs: number | undefined,
    every_days: number,
  ): UpkeepItem => {
    if (done_epochMs === undefined) return item(task, id, done_epochMs, { kind: "never recorded" });
    const due_epochMs = done_epochMs + every_days * day_ms;
    return item(
      task,
      id,
      done_epochMs,
      now_epochMs >= due_epochMs ? { kind: "due" } : { kind: "later", due_epochMs },
    );
  };
  const byDate = (task: UpkeepTask, id: string, date: string | undefined): UpkeepItem => {
    if (date === undefined) return item(task, id, undefined, { kind: "no date in the config" });
    const isNear = today >= addDays(date, -intervals.datesToldAhead_days);
    return item(
      task,
      id,
      undefined,
      isNear ? { kind: "due by date", date, isPast: today > date } : { kind: "later by date", date },
    );
  };
  return [
    ...site.vessels.flatMap(({ vesselId, kind, retestBy, reliefDeviceBy, refillSince_epochMs }) => {
      const soaked_epochMs = recorded("sediment soak", vesselId);
      // Once the new charge is in, nobody opens the vessel for a soak, whoever ends the refill and when.
      const done_epochMs = Math.max(
        soaked_epochMs ?? -Infinity,
        journal.latest("charge closed", vesselId)?.at_epochMs ?? -Infinity,
      );
      const isSoakDue = refillSince_epochMs !== undefined && done_epochMs < refillSince_epochMs;
      return [
        ...(kind === "liquid"
          ? []
          : [
              item("sediment soak", vesselId, soaked_epochMs, {
                kind: isSoakDue ? "due" : "at the next refill",
              }),
              each("O-ring", vesselId, recorded("O-ring", vesselId), intervals.oRing_days),
            ]),
        each(
          "vessel inspection",
          vesselId,
          recorded("vessel inspection", vesselId),
          intervals.vesselInspection_days,
        ),
        byDate("retest", vesselId, retestBy),
        byDate("relief device", vesselId, reliefDeviceBy),
      ];
    }),
    ...site.valveIds.map((id) =>
      each("check valve", id, recorded("check valve", id), intervals.checkValve_days),
    ),
    ...site.tanks.flatMap(({ tankId, hasDropChecker }) => [
      each(
        "diffuser cleaning",
        tankId,
        recorded("diffuser cleaning", tankId),
        intervals.diffuserCleaning_days,
      ),
      ...(hasDropChecker
        ? [
            each(
              "drop-checker fluid",
              tankId,
              recorded("drop-checker fluid", tankId),
              intervals.dropCheckerFluid_days,
            ),
          ]
        : []),
      each("KH test", tankId, journal.latest("kh test", tankId)?.at_epochMs, intervals.khTest_days),
    ]),
    ...site.phSensorIds.map((id) =>
      each(
        "probe calibration",
        id,
        journal.latest("calibration", id)?.at_epochMs,
        intervals.probeCalibration_days,
      ),
    ),
  ];
}

export function isDue({ state }: Pick<UpkeepItem, "state">): boolean {
  return state.kind === "due" || state.kind === "due by date";
}
