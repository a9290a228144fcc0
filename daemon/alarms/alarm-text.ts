import { minutesInWords } from "../../lib/alarm/minutes-in-words.js";
import { alarmPriorities } from "../../lib/alarm/alarm-condition.js";
import type { TrackedAlarm } from "../../lib/alarm/alarm-step.js";

/** One alarm in a line, as `status` shows it. */
export function alarmLine(alarm: TrackedAlarm, local: (at_epochMs: number) => string): string {
  const { priority, cause, whatToDo } = alarm.condition;
  const since = local(alarm.since_epochMs);
  switch (alarm.state) {
    case "unacknowledged":
      return `alarm, ${priority}, since ${since}: ${sentence(cause)} ${whatToDo}`;
    case "acknowledged":
    case "latched unacknowledged":
    case "latched acknowledged":
      return `alarm, ${priority}, ${alarm.state}, since ${since}: ${sentence(cause)} ${whatToDo}`;
    case "normal":
    case "returned to normal unacknowledged":
    case "shelved":
    case "suppressed by design":
    case "out of service":
      return `${stateInWords(alarm, local)}, ${priority}, since ${since}: ${cause}`;
  }
}

/** A cause may be a clause or whole sentences; either way it ends with one stop. */
function sentence(cause: string): string {
  return cause.endsWith(".") ? cause : `${cause}.`;
}

/** An alarm with everything a person needs to decide, its id first: that is what the commands take. */
export function alarmParagraph(
  alarm: TrackedAlarm,
  local: (at_epochMs: number) => string,
): readonly string[] {
  const { alarmId, priority, cause, consequence, whatToDo, allowableResponse_min } = alarm.condition;
  return [
    `${alarmId}  ${priority}, ${stateInWords(alarm, local)}, since ${local(alarm.since_epochMs)}`,
    `  cause: ${cause}`,
    `  consequence: ${consequence}`,
    `  what to do: ${whatToDo}`,
    `  time to respond: ${minutesInWords(allowableResponse_min)}`,
  ];
}

/**
 * Whether an alarm says something of now. One on the shelf whose cause is gone does not: it stays there, in case the cause comes
 * back, and only the list of alarms shows it.
 */
export function isOfNow({ state, isActive }: TrackedAlarm): boolean {
  return state !== "normal" && (state !== "shelved" || isActive);
}

/** Most urgent first, and of those the newest. */
export function byUrgency(alarms: readonly TrackedAlarm[]): readonly TrackedAlarm[] {
  const rank = ({ condition }: TrackedAlarm): number => alarmPriorities.indexOf(condition.priority);
  return [...alarms].sort((a, b) => rank(a) - rank(b) || b.since_epochMs - a.since_epochMs);
}

function stateInWords(alarm: TrackedAlarm, local: (at_epochMs: number) => string): string {
  if (alarm.shelf !== undefined) {
    return `shelved until ${local(alarm.shelf.until_epochMs)}${alarm.isActive ? "" : ", its cause is gone"}`;
  }
  if (alarm.suppression !== undefined) return `suppressed by design (${alarm.suppression.by})`;
  return alarm.state;
}
