import type { AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import { taskDescriptions } from "../../lib/upkeep/upkeep-catalogue.js";
import { isDue, type UpkeepItem } from "../../lib/upkeep/upkeep-items.js";
import { wallClockAt } from "../../lib/schedule/civil-time.js";
import { subjectsOfSensor, subjectsOfTank, subjectsOfValve, subjectsOfVessel } from "../alarm-subjects.js";
import type { SiteModel } from "../site-model.js";

/** One line of the list of upkeep. */
export function upkeepLine(item: UpkeepItem, timeZone: string): string {
  const { task, subject, done_epochMs } = item;
  const day = (at_epochMs: number): string => wallClockAt(at_epochMs, timeZone).date;
  const done = done_epochMs === undefined ? "" : `, last done ${day(done_epochMs)}`;
  return `${subject.kind} ${subject.id}  ${task}: ${stateInWords(item, day)}${done}`;
}

function stateInWords({ state }: UpkeepItem, day: (at_epochMs: number) => string): string {
  switch (state.kind) {
    case "due":
      return "due now";
    case "later":
      return `due ${day(state.due_epochMs)}`;
    case "due by date":
      return state.isPast ? `overdue since ${state.date}` : `due by ${state.date}`;
    case "later by date":
      return `due by ${state.date}`;
    case "at the next refill":
      return "due at the next refill";
    case "never recorded":
      return "never recorded, so nothing says when it is due";
    case "no date in the config":
      return "its date is not in the config: read it off the plate";
  }
}

/** Every item for programs. */
export function upkeepDocument(items: readonly UpkeepItem[], timeZone: string): readonly unknown[] {
  const day = (at_epochMs: number | undefined): string | null =>
    at_epochMs === undefined ? null : wallClockAt(at_epochMs, timeZone).date;
  return items.map((item) => ({
    task: item.task,
    subject: `${item.subject.kind}/${item.subject.id}`,
    done: day(item.done_epochMs),
    due:
      item.state.kind === "later"
        ? day(item.state.due_epochMs)
        : "date" in item.state
          ? item.state.date
          : null,
    isDue: isDue(item),
    state: item.state.kind,
  }));
}

/** Alarms of low priority; a date on a plate that is over calls more urgently. A probe's calibration has its own alarm. */
export function upkeepConditions(items: readonly UpkeepItem[], model: SiteModel): readonly AlarmCondition[] {
  return items
    .filter((item) => isDue(item) && item.task !== "probe calibration")
    .map((item) => {
      const { task, subject, state } = item;
      const { consequence, whatToDo } = taskDescriptions[task];
      const isPast = state.kind === "due by date" && state.isPast;
      const record =
        state.kind === "due" && task !== "KH test"
          ? ` Then: upkeep done ${task.replaceAll(" ", "-")} ${subject.id}`
          : "";
      return {
        alarmId: `upkeep/${task.replaceAll(" ", "-")}/${subject.id}`,
        priority: isPast ? "medium" : "low",
        subjects: subjectsOf(item, model),
        cause: `upkeep due: ${upkeepLine(item, model.timeZone)}`,
        consequence,
        whatToDo: `${whatToDo}${record}`,
        allowableResponse_min: 7 * 1440,
        onDelay_s: 0,
        offDelay_s: 0,
        suppressedBy: [],
        latch: "none",
      };
    });
}

function subjectsOf({ subject: { kind, id } }: UpkeepItem, model: SiteModel): AlarmCondition["subjects"] {
  switch (kind) {
    case "vessel":
      return subjectsOfVessel(model, id);
    case "valve":
      return subjectsOfValve(model, id);
    case "tank":
      return subjectsOfTank(model, id);
    case "sensor":
      return subjectsOfSensor(model, id);
  }
}
