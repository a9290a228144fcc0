import type { AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import type { TrackedAlarm } from "../../lib/alarm/alarm-step.js";
import { byUrgency } from "./alarm-text.js";

/** One alarm as it is published and answered to programs. */
export interface AlarmDocument {
  readonly id: string;
  readonly state: string;
  readonly priority: string;
  readonly subjects: readonly string[];
  readonly cause: string;
  readonly consequence: string;
  readonly whatToDo: string;
  readonly allowableResponse_min: number;
  /** The instant at which the time to respond is over. */
  readonly actBy: string;
  readonly since: string;
  readonly raised: string | null;
  readonly shelvedUntil: string | null;
  readonly suppressedBy: string | null;
}

function actBy_epochMs(condition: AlarmCondition, from_epochMs: number): number {
  return condition.actBy_epochMs ?? from_epochMs + 60_000 * condition.allowableResponse_min;
}

/** Every alarm that is not simply normal, most urgent first. */
export function alarmDocuments(alarms: readonly TrackedAlarm[]): readonly AlarmDocument[] {
  return byUrgency(alarms)
    .filter(({ state }) => state !== "normal")
    .map(({ condition, state, since_epochMs, raised_epochMs, shelf, suppression }) => ({
      id: condition.alarmId,
      state,
      priority: condition.priority,
      subjects: condition.subjects.map(({ kind, id }) => `${kind}/${id}`),
      cause: condition.cause,
      consequence: condition.consequence,
      whatToDo: condition.whatToDo,
      allowableResponse_min: condition.allowableResponse_min,
      actBy: new Date(actBy_epochMs(condition, raised_epochMs ?? since_epochMs)).toISOString(),
      since: new Date(since_epochMs).toISOString(),
      raised: raised_epochMs === undefined ? null : new Date(raised_epochMs).toISOString(),
      shelvedUntil: shelf === undefined ? null : new Date(shelf.until_epochMs).toISOString(),
      suppressedBy: suppression?.by ?? null,
    }));
}
