import { isMoreUrgent, type AlarmPriority } from "../alarm/alarm-condition.js";
import { minutesInWords } from "../alarm/minutes-in-words.js";
import type { TrackedAlarm } from "../alarm/alarm-step.js";
import type { Digest } from "../digest/digest.js";
import { wallClockAt } from "../schedule/civil-time.js";
import type { Json } from "./template.js";

/** Why an alarm stands in a message. */
export type NoticeKind = "raised" | "repeated" | "escalated" | "returned" | "overtaken";

/** An alarm as a message tells it: as it was when the message was made. */
export interface AlertNotice {
  readonly notice: NoticeKind;
  readonly alarmId: string;
  readonly priority: AlarmPriority;
  readonly state: string;
  readonly subjects: readonly string[];
  readonly cause: string;
  readonly consequence: string;
  readonly whatToDo: string;
  readonly allowableResponse_min: number;
  readonly raised_epochMs: number;
}

/** One message to one channel. */
export interface AlertMessage {
  readonly channel: string;
  readonly at_epochMs: number;
  /** At least one, most urgent first; none in a trial message or a digest. */
  readonly notices: readonly AlertNotice[];
  /** What a digest tells. */
  readonly digest?: Digest;
}

export function noticeOf(alarm: TrackedAlarm, notice: NoticeKind): AlertNotice {
  const { condition, state, since_epochMs, raised_epochMs } = alarm;
  return {
    notice,
    alarmId: condition.alarmId,
    priority: condition.priority,
    state,
    subjects: condition.subjects.map(({ kind, id }) => `${kind}/${id}`),
    cause: condition.cause,
    consequence: condition.consequence,
    whatToDo: condition.whatToDo,
    allowableResponse_min: condition.allowableResponse_min,
    raised_epochMs: raised_epochMs ?? since_epochMs,
  };
}

/** What a template may name, with what it means. */
export const placeholders = {
  site: "the site's id",
  heading: "one line: how many alarms, the most urgent one's priority and cause",
  text: "everything in plain lines: cause, consequence, what to do, how long there is",
  priority: "of the most urgent alarm: critical, high, medium or low; of a trial message or a digest low",
  count: "how many alarms the message tells of, a number",
  alarms: "the alarms themselves, a list of objects",
  pictures: "of a digest the pictures, a list of objects with vesselId, alt and svg; else an empty list",
  at: "when the message was made, RFC 3339",
  key: "the message's own id; the same one means the same message",
} as const;
export type PlaceholderName = keyof typeof placeholders;

/** Beyond this many a text only counts. */
const mostInText = 20;

/** The values of all placeholders for one message. */
export function placeholderValues(
  message: AlertMessage,
  site: { readonly id: string; readonly timeZone: string; readonly key: string },
): Readonly<Record<PlaceholderName, Json>> {
  const local = (at_epochMs: number): string => {
    const { date, timeOfDay } = wallClockAt(at_epochMs, site.timeZone);
    return `${date} ${timeOfDay.slice(0, 5)}`;
  };
  return {
    site: site.id,
    heading: heading(message, site.id),
    text: textOf(message, local),
    priority: mostUrgent(message) ?? "low",
    count: message.notices.length,
    alarms: message.notices.map(({ raised_epochMs, alarmId, ...notice }) => ({
      id: alarmId,
      ...notice,
      raised: inUtc(raised_epochMs),
    })),
    pictures: (message.digest?.pictures ?? []).map((picture) => ({ ...picture })),
    at: inUtc(message.at_epochMs),
    key: site.key,
  };
}

export function mostUrgent({ notices }: Pick<AlertMessage, "notices">): AlarmPriority | undefined {
  return notices
    .map(({ priority }) => priority)
    .reduce<AlarmPriority | undefined>(
      (most, priority) => (most === undefined || isMoreUrgent(priority, most) ? priority : most),
      undefined,
    );
}

function heading({ notices, digest }: AlertMessage, siteId: string): string {
  if (digest !== undefined) return `${siteId}: ${digest.heading}`;
  const [first] = notices;
  if (first === undefined) return `${siteId}: trial message`;
  const others = notices.length > 1 ? ` (and ${notices.length - 1} more)` : "";
  return `${siteId}: ${noticeInWords(first)}: ${first.cause}${others}`;
}

function textOf({ notices, digest }: AlertMessage, local: (at_epochMs: number) => string): string {
  if (digest !== undefined) return digest.text;
  if (notices.length === 0) return "This is a trial: nothing is wrong, and nothing is to be done.";
  const told = notices.slice(0, mostInText).map((notice) => {
    const begin = `${noticeInWords(notice)}, since ${local(notice.raised_epochMs)}: ${notice.cause}`;
    if (notice.notice === "returned" || notice.notice === "overtaken") return begin;
    return [
      begin,
      `Consequence: ${notice.consequence}`,
      `What to do: ${notice.whatToDo}`,
      `Time to respond: ${minutesInWords(notice.allowableResponse_min)}`,
      `Acknowledge: ${notice.alarmId}`,
    ].join("\n");
  });
  const more = notices.length - told.length;
  return [...told, ...(more > 0 ? [`and ${more} more`] : [])].join("\n\n");
}

function noticeInWords({ notice, priority, state }: AlertNotice): string {
  switch (notice) {
    case "raised":
      return `alarm, ${priority}`;
    case "repeated":
      return `alarm, ${priority}, still unacknowledged`;
    case "escalated":
      return `alarm, ${priority}, acknowledged by nobody so far`;
    case "returned":
      return "returned to normal";
    case "overtaken":
      return state;
  }
}

/** RFC 3339, in UTC. */
function inUtc(at_epochMs: number): string {
  const { date, timeOfDay } = wallClockAt(at_epochMs, "UTC");
  return `${date}T${timeOfDay}Z`;
}
