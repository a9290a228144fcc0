import type { AlarmPriority } from "./alarm-condition.js";
import { entered, type AlarmChange, type AlarmInstant, type TrackedAlarm } from "./alarm-step.js";
import { nextState, type AlarmEvent } from "./alarm-state.js";

/**
 * How long an alarm may be shelved at most, by its priority; a critical one not at all. That shelving is limited in time is
 * the standard's [Isa2016]; the times are a judgement.
 */
export const longestShelving_min: Readonly<Record<Exclude<AlarmPriority, "critical">, number>> = {
  high: 8 * 60,
  medium: 24 * 60,
  low: 7 * 24 * 60,
};

export type AlarmAction =
  | { readonly kind: "acknowledge" }
  | { readonly kind: "shelve"; readonly for_min: number }
  | { readonly kind: "unshelve" }
  | { readonly kind: "remove from service" }
  | { readonly kind: "return to service" };

export type ActionOutcome =
  | { readonly kind: "done"; readonly alarms: readonly TrackedAlarm[]; readonly change: AlarmChange }
  | { readonly kind: "refused"; readonly reason: string };

/** What a person does with one alarm, or why that cannot be. */
export function actOnAlarm(
  alarms: readonly TrackedAlarm[],
  alarmId: string,
  action: AlarmAction,
  now: AlarmInstant,
): ActionOutcome {
  const alarm = alarms.find((candidate) => candidate.condition.alarmId === alarmId);
  if (alarm === undefined) return { kind: "refused", reason: "there is no such alarm at this time" };
  const refusal = refusalOf(alarm, action);
  if (refusal !== undefined) return { kind: "refused", reason: refusal };
  const to = nextState(alarm.state, eventOf(action, alarm));
  if (to === undefined) return { kind: "refused", reason: `it is ${alarm.state}` };
  const { condition, state: from } = alarm;
  const change: AlarmChange = {
    condition,
    from,
    to,
    event: action.kind,
    reason: action.kind === "shelve" ? `for ${action.for_min} min` : "",
  };
  const acted = { ...entered(alarm, to, now), ...(action.kind === "shelve" ? shelfFor(action, now) : {}) };
  return {
    kind: "done",
    alarms: alarms.map((candidate) => (candidate === alarm ? acted : candidate)),
    change,
  };
}

function shelfFor({ for_min }: { readonly for_min: number }, now: AlarmInstant): Pick<TrackedAlarm, "shelf"> {
  const for_ms = for_min * 60_000;
  return {
    shelf: {
      until_epochMs: now.now_epochMs + for_ms,
      until_monotonicMs: now.now_monotonicMs + for_ms,
    },
  };
}

function refusalOf({ condition: { priority } }: TrackedAlarm, action: AlarmAction): string | undefined {
  if (action.kind !== "shelve" && action.kind !== "remove from service") return undefined;
  if (priority === "critical") {
    return "a critical alarm can be neither shelved nor removed from service; acknowledge it";
  }
  if (action.kind !== "shelve") return undefined;
  const most_min = longestShelving_min[priority];
  return action.for_min > 0 && action.for_min <= most_min
    ? undefined
    : `an alarm of ${priority} priority can be shelved for at most ${most_min} min`;
}

function eventOf(action: AlarmAction, { isActive }: TrackedAlarm): AlarmEvent {
  switch (action.kind) {
    case "unshelve":
      return { kind: "unshelve", isActive };
    case "return to service":
      return { kind: "return to service", isActive };
    case "acknowledge":
    case "shelve":
    case "remove from service":
      return { kind: action.kind };
  }
}
