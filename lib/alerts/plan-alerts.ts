import { isMoreUrgent, type AlarmPriority, type AlarmSubject } from "../alarm/alarm-condition.js";
import type { TrackedAlarm } from "../alarm/alarm-step.js";
import { noticeOf, type AlertMessage, type AlertNotice, type NoticeKind } from "./alert-message.js";
import { routeFor, type AlertRoute } from "./alert-route.js";
import { isQuiet } from "./quiet-hours.js";
import { staysQuiet, stepSeen, type SeenAlarm } from "./seen-alarm.js";

/** What was told of one occurrence of an alarm. */
export interface ToldAlarm {
  readonly alarmId: string;
  /** Names the occurrence. */
  readonly raised_epochMs: number;
  readonly waitsSince_epochMs: number;
  /** The last time it was told as raised or repeated; undefined while it waits. */
  readonly told_epochMs: number | undefined;
  readonly toldPriority: AlarmPriority;
  readonly escalated: boolean;
  /** The route by which it was told: a changed config does not tell it anew. */
  readonly channels: readonly string[];
  readonly last: AlertNotice;
  /** A person has seen it; one that comes again is then told anew, soon or at once. */
  readonly acknowledged: boolean;
  /** The alarm that brought it about and silenced it, where it has not called again since. */
  readonly overtakenBy?: string | undefined;
  /** Since when it is known to have returned. */
  readonly returned_epochMs: number | undefined;
  readonly returnTold: boolean;
}

/** What must survive a restart so that nothing is told twice and nothing is forgotten. */
export interface AlertMemory {
  readonly told: readonly ToldAlarm[];
  /** When each channel was last sent anything. */
  readonly sent_epochMs: Readonly<Record<string, number>>;
  readonly seen: readonly SeenAlarm[];
}

export const emptyAlertMemory: AlertMemory = { told: [], sent_epochMs: {}, seen: [] };

export interface AlertPlan {
  readonly messages: readonly AlertMessage[];
  readonly memory: AlertMemory;
}

export interface AlertSurroundings {
  readonly routes: readonly AlertRoute[];
  readonly timeZone: string;
  readonly now_epochMs: number;
  /** Channels on which messages wait to be delivered: nothing is repeated there meanwhile. */
  readonly undelivered: ReadonlySet<string>;
}

interface Candidate {
  readonly told: ToldAlarm;
  readonly route: AlertRoute;
  readonly notice: NoticeKind;
  readonly channels: readonly string[];
  /** What may still wait for others. */
  readonly waitsSince_epochMs: number | undefined;
}

/**
 * Which messages go out at this instant. Compares the alarms with what was told: asked often, it says each thing once.
 * Quiet hours hold what is not critical until they end; what was acknowledged or is gone by then is told no more. One that
 * comes back soon after a person has seen it waits a while, unless it is urgent.
 * A clock that is put back makes nothing wait longer than its interval.
 */
export function planAlerts(
  alarms: readonly TrackedAlarm[],
  memory: AlertMemory,
  surroundings: AlertSurroundings,
): AlertPlan {
  const { now_epochMs } = surroundings;
  const told = followed(alarms, memory.told, surroundings).map((entry) => notInFuture(entry, now_epochMs));
  const seen = stepSeen(memory.seen, alarms, now_epochMs);
  const candidates = told
    .filter((entry) => entry.told_epochMs !== undefined || !isStillQuiet(entry, seen, now_epochMs))
    .flatMap((entry) => candidatesOf(entry, alarms, surroundings));
  const due = candidates.filter((candidate) => !isHeldBack(candidate, candidates, memory, surroundings));
  const messages = messagesOf(due, now_epochMs);
  return {
    messages,
    memory: {
      told: told.map((entry) => afterTelling(entry, candidates, due, now_epochMs)),
      sent_epochMs:
        messages.length === 0
          ? memory.sent_epochMs
          : {
              ...memory.sent_epochMs,
              ...Object.fromEntries(messages.map(({ channel }) => [channel, now_epochMs])),
            },
      seen,
    },
  };
}

/** One entry for each occurrence that was told, or waits to be. */
function followed(
  alarms: readonly TrackedAlarm[],
  before: readonly ToldAlarm[],
  { routes, now_epochMs }: AlertSurroundings,
): readonly ToldAlarm[] {
  const present = new Map(alarms.map((alarm) => [alarm.condition.alarmId, alarm]));
  const kept = before.flatMap((entry) => {
    const next = withAlarm(entry, present.get(entry.alarmId), now_epochMs);
    return next === undefined ? [] : [next];
  });
  const fresh = alarms.flatMap((alarm): readonly ToldAlarm[] => {
    const { condition, raised_epochMs } = alarm;
    const isKnown = kept.some((entry) => entry.alarmId === condition.alarmId);
    const index = routeFor(routes, condition);
    if (raised_epochMs === undefined || isKnown || !calls(alarm) || index === undefined) return [];
    return [
      {
        alarmId: condition.alarmId,
        raised_epochMs,
        waitsSince_epochMs: now_epochMs,
        told_epochMs: undefined,
        toldPriority: condition.priority,
        escalated: false,
        channels: routes[index]?.channels ?? [],
        last: noticeOf(alarm, "raised"),
        acknowledged: false,
        returned_epochMs: undefined,
        returnTold: false,
      },
    ];
  });
  return [...kept, ...fresh];
}

/** What was told of an occurrence, with what its alarm is now; undefined where it is of no more use. */
function withAlarm(
  entry: ToldAlarm,
  alarm: TrackedAlarm | undefined,
  now_epochMs: number,
): ToldAlarm | undefined {
  const isTold = entry.told_epochMs !== undefined;
  if (alarm === undefined || alarm.state === "normal") {
    if (!isTold || entry.returnTold) return undefined;
    return { ...entry, returned_epochMs: entry.returned_epochMs ?? now_epochMs };
  }
  const last = noticeOf(alarm, "raised");
  const isCritical = last.priority === "critical";
  if (alarm.raised_epochMs !== undefined && alarm.raised_epochMs !== entry.raised_epochMs) {
    // One that comes and goes unseen is repeated in its time; only something critical calls each time.
    if (!isTold || isCritical || entry.acknowledged) return undefined;
    return { ...entry, raised_epochMs: alarm.raised_epochMs, last, returned_epochMs: undefined };
  }
  if (hasReturned(alarm)) {
    if (isTold) return { ...entry, last, returned_epochMs: entry.returned_epochMs ?? now_epochMs };
    return isCritical ? { ...entry, last } : undefined;
  }
  if (!isTold && !calls(alarm)) return undefined;
  const isAcknowledged = alarm.state === "acknowledged" || alarm.state === "latched acknowledged";
  return {
    ...entry,
    last,
    acknowledged: entry.acknowledged || isAcknowledged,
    overtakenBy: alarm.suppression?.by,
  };
}

function isStillQuiet(
  { alarmId, last }: ToldAlarm,
  seen: readonly SeenAlarm[],
  now_epochMs: number,
): boolean {
  return staysQuiet(
    seen.find((candidate) => candidate.alarmId === alarmId),
    last,
    now_epochMs,
  );
}

function notInFuture(entry: ToldAlarm, now_epochMs: number): ToldAlarm {
  const { told_epochMs, waitsSince_epochMs, returned_epochMs } = entry;
  return {
    ...entry,
    waitsSince_epochMs: Math.min(waitsSince_epochMs, now_epochMs),
    told_epochMs: told_epochMs === undefined ? undefined : Math.min(told_epochMs, now_epochMs),
    returned_epochMs: returned_epochMs === undefined ? undefined : Math.min(returned_epochMs, now_epochMs),
  };
}

/** Whether it wants a person now: raised and not acknowledged. */
function calls({ state }: TrackedAlarm): boolean {
  return state === "unacknowledged" || state === "latched unacknowledged";
}

function hasReturned({ state }: TrackedAlarm): boolean {
  return state === "returned to normal unacknowledged";
}

/** What could be said of an occurrence at this instant. */
function candidatesOf(
  told: ToldAlarm,
  alarms: readonly TrackedAlarm[],
  { routes, now_epochMs, undelivered }: AlertSurroundings,
): readonly Candidate[] {
  const alarm = alarms.find(({ condition }) => condition.alarmId === told.alarmId);
  const index = routeFor(routes, { priority: told.last.priority, subjects: subjectsOf(told.last) });
  const route = index === undefined ? undefined : routes[index];
  if (route === undefined) return [];
  const candidate = (
    notice: NoticeKind,
    channels: readonly string[],
    waitsSince_epochMs?: number,
  ): Candidate => ({ told, route, notice, channels, waitsSince_epochMs });
  const { told_epochMs, returned_epochMs } = told;
  if (returned_epochMs !== undefined) {
    return route.tellsReturn && !told.returnTold
      ? [
          candidate(
            told.overtakenBy === undefined ? "returned" : "overtaken",
            told.channels,
            returned_epochMs,
          ),
        ]
      : [];
  }
  if (told_epochMs === undefined) return [candidate("raised", route.channels, told.waitsSince_epochMs)];
  if (alarm === undefined || !calls(alarm)) return [];
  if (isMoreUrgent(told.last.priority, told.toldPriority)) {
    return [candidate("raised", route.channels)];
  }
  const escalates =
    route.escalation !== undefined &&
    !told.escalated &&
    now_epochMs - Math.min(told.raised_epochMs, told_epochMs) >= route.escalation.after_min * 60_000;
  const repeats =
    route.repeatAfter_min !== undefined && now_epochMs - told_epochMs >= route.repeatAfter_min * 60_000;
  const hearers = told.channels.filter((channel) => !undelivered.has(channel));
  return [
    ...(escalates ? [candidate("escalated", route.escalation.channels)] : []),
    ...(repeats && hearers.length > 0 ? [candidate("repeated", hearers)] : []),
  ];
}

/** By quiet hours, or because others may follow within the group's time. */
function isHeldBack(
  { told, route, waitsSince_epochMs, channels }: Candidate,
  all: readonly Candidate[],
  memory: AlertMemory,
  { now_epochMs, timeZone }: AlertSurroundings,
): boolean {
  const isCritical = told.last.priority === "critical";
  if (!isCritical && route.quietHours !== undefined && isQuiet(route.quietHours, now_epochMs, timeZone)) {
    return true;
  }
  if (waitsSince_epochMs === undefined) return false;
  const window_ms = route.groupWithin_s * 1000;
  const hasPassed = (since_epochMs: number): boolean =>
    since_epochMs > now_epochMs || now_epochMs - since_epochMs >= window_ms;
  const mates = all.filter((other) => other.route === route && other.waitsSince_epochMs !== undefined);
  // Something critical waits for nobody, unless its channel has just been used: then a flood follows.
  const rushes = mates.some((other) => other.told.last.priority === "critical");
  const lastSent_epochMs = Math.max(
    ...channels.map((channel) => memory.sent_epochMs[channel] ?? Number.NEGATIVE_INFINITY),
  );
  if (rushes && hasPassed(lastSent_epochMs)) return false;
  return !mates.some((other) => hasPassed(other.waitsSince_epochMs ?? now_epochMs));
}

/** Everything for one channel in one message, most urgent first. */
function messagesOf(due: readonly Candidate[], now_epochMs: number): readonly AlertMessage[] {
  const channels = [...new Set(due.flatMap((candidate) => candidate.channels))];
  return channels.map((channel) => ({
    channel,
    at_epochMs: now_epochMs,
    notices: due
      .filter((candidate) => candidate.channels.includes(channel))
      .map(({ told, notice }): AlertNotice => ({
        ...told.last,
        notice,
        ...(notice === "returned" ? { state: "normal" } : {}),
        // What a worse alarm brought about has not become good because it is silent.
        ...(notice === "overtaken" ? { state: `overtaken by ${told.overtakenBy ?? "another alarm"}` } : {}),
      }))
      .sort((a, b) => rank(a) - rank(b)),
  }));
}

function rank({ notice, priority }: AlertNotice): number {
  const late = notice === "returned" || notice === "overtaken" ? 10 : 0;
  return late + (["critical", "high", "medium", "low"] as const).indexOf(priority);
}

function afterTelling(
  entry: ToldAlarm,
  candidates: readonly Candidate[],
  due: readonly Candidate[],
  now_epochMs: number,
): ToldAlarm {
  const said = due.filter(({ told }) => told === entry);
  const has = (notice: NoticeKind): boolean => said.some((candidate) => candidate.notice === notice);
  if (entry.returned_epochMs !== undefined) {
    // Where the route tells no return, there is nothing left to wait for.
    const waits = candidates.some(({ told }) => told === entry) && said.length === 0;
    return { ...entry, returnTold: !waits };
  }
  return {
    ...entry,
    told_epochMs: has("raised") || has("repeated") ? now_epochMs : entry.told_epochMs,
    toldPriority: has("raised") ? entry.last.priority : entry.toldPriority,
    escalated: entry.escalated || has("escalated"),
    channels: [...new Set([...entry.channels, ...said.flatMap(({ channels }) => channels)])],
    returnTold: has("raised") || has("repeated") ? false : entry.returnTold,
  };
}

function subjectsOf({ subjects }: AlertNotice): readonly AlarmSubject[] {
  return subjects.flatMap((subject) => {
    const [kind, id] = subject.split("/");
    return id !== undefined && (kind === "vessel" || kind === "tank" || kind === "valve" || kind === "sensor")
      ? [{ kind, id }]
      : [];
  });
}
