import { isMoreUrgent, type AlarmCondition, type AlarmPriority } from "./alarm-condition.js";
import { isRaised, nextState, type AlarmEvent, type AlarmState } from "./alarm-state.js";

export interface AlarmInstant {
  readonly now_epochMs: number;
  readonly now_monotonicMs: number;
}

/** An alarm that is not simply normal, or whose delay runs. */
export interface TrackedAlarm {
  /** As it was last seen, with the words of that time. */
  readonly condition: AlarmCondition;
  readonly state: AlarmState;
  /** Its condition or its latch holds, and it is neither shelved nor suppressed nor out of service. */
  readonly raised: boolean;
  /** Since when the condition holds, or held when it last did. */
  readonly since_epochMs: number;
  /** When it was last raised: with its id the name of this one occurrence. */
  readonly raised_epochMs: number | undefined;
  /** Whether the condition holds at this instant, and since when that is so. */
  readonly isHolding: boolean;
  readonly changed_monotonicMs: number;
  /** Whether the condition counts as true, with both delays. */
  readonly isActive: boolean;
  /** The most urgent priority that was told since it was raised. */
  readonly toldPriority: AlarmPriority;
  readonly shelf: Shelf | undefined;
  readonly suppression: Suppression | undefined;
}

export interface Shelf {
  readonly until_epochMs: number;
  readonly until_monotonicMs: number;
}

export interface Suppression {
  readonly before: AlarmState;
  /** When a cause last held. */
  readonly held_monotonicMs: number;
  readonly by: string;
}

/** A transition of one alarm, with what brought it about. */
export interface AlarmChange {
  readonly condition: AlarmCondition;
  readonly from: AlarmState;
  readonly to: AlarmState;
  readonly event: AlarmEvent["kind"];
  /** Why, where it is not the condition itself: which alarm silences it, or that its time is over. */
  readonly reason: string;
}

export interface AlarmStep {
  readonly alarms: readonly TrackedAlarm[];
  readonly changes: readonly AlarmChange[];
}

/** What an alarm silences stays silent this long after it: sensors have to speak again first. A judgement. */
export const suppressionHold_s = 60;

/**
 * Compares what holds now with what held before. Delays are monotonic. An alarm that is normal and whose condition is gone
 * is tracked no more.
 * @param holding  at most one condition for each alarm id.
 */
export function stepAlarms(
  before: readonly TrackedAlarm[],
  holding: readonly AlarmCondition[],
  now: AlarmInstant,
): AlarmStep {
  const conditions = new Map(holding.map((condition) => [condition.alarmId, condition]));
  const known = new Map(before.map((alarm) => [alarm.condition.alarmId, alarm]));
  const changes: AlarmChange[] = [];
  const observed = [...new Set([...known.keys(), ...conditions.keys()])].flatMap((alarmId) => {
    const condition = conditions.get(alarmId);
    const earlier = known.get(alarmId) ?? (condition === undefined ? undefined : freshAlarm(condition, now));
    return earlier === undefined ? [] : [observe(earlier, condition, now)];
  });
  const explaining = new Set(observed.filter(explains).map(({ condition }) => condition.alarmId));
  const causeOf = ({ condition: { suppressedBy } }: TrackedAlarm): Cause | undefined => {
    const isPresent = (id: string): boolean => conditions.has(id);
    const alarmId =
      suppressedBy.find((id) => isPresent(id) && explaining.has(id)) ?? suppressedBy.find(isPresent);
    return alarmId === undefined ? undefined : { alarmId, explains: explaining.has(alarmId) };
  };
  const alarms = observed.flatMap((alarm) => {
    const isPresent = conditions.has(alarm.condition.alarmId);
    const stepped = follow(alarm, { isPresent, cause: causeOf(alarm) }, now, changes);
    return stepped.state === "normal" && !stepped.isHolding ? [] : [stepped];
  });
  return { alarms, changes };
}

/** What holds at this instant and would silence an alarm. */
interface Cause {
  readonly alarmId: string;
  readonly explains: boolean;
}

/**
 * One that comes and goes within a short delay, as a connection that is lost again and again, is never raised: it would silence
 * others for good, and nobody would be told anything. Until it is raised it holds back only what has not called yet, and no
 * longer than what it had silenced stays silent after it. A long delay is meant to silence meanwhile.
 */
function explains({ isActive, condition: { onDelay_s } }: TrackedAlarm): boolean {
  return isActive || onDelay_s > suppressionHold_s;
}

function freshAlarm(condition: AlarmCondition, now: AlarmInstant): TrackedAlarm {
  return {
    condition,
    state: "normal",
    raised: false,
    since_epochMs: now.now_epochMs,
    raised_epochMs: undefined,
    isHolding: false,
    changed_monotonicMs: now.now_monotonicMs,
    isActive: false,
    toldPriority: condition.priority,
    shelf: undefined,
    suppression: undefined,
  };
}

/** The condition as it is at this instant, through its delays. */
function observe(
  alarm: TrackedAlarm,
  condition: AlarmCondition | undefined,
  now: AlarmInstant,
): TrackedAlarm {
  // What latched before anyone could be told calls once all the same.
  const isHolding =
    condition !== undefined && (condition.latch !== "cause is gone" || alarm.state === "normal");
  const hasTurned = isHolding !== alarm.isHolding;
  const changed_monotonicMs = hasTurned ? now.now_monotonicMs : alarm.changed_monotonicMs;
  const begins = hasTurned && isHolding && !alarm.isActive;
  const current = condition ?? alarm.condition;
  // Nobody hears one that is silenced: it needs no delay against coming and going, and what ended meanwhile must not call later.
  const isSilenced = alarm.state === "suppressed by design";
  const delay_s = isHolding ? current.onDelay_s : isSilenced ? 0 : current.offDelay_s;
  const isDue = now.now_monotonicMs - changed_monotonicMs >= delay_s * 1000;
  return {
    ...alarm,
    condition: current,
    isHolding,
    changed_monotonicMs,
    isActive: isHolding === alarm.isActive || !isDue ? alarm.isActive : isHolding,
    since_epochMs: begins ? now.now_epochMs : alarm.since_epochMs,
  };
}

/** Every transition that is due at this instant, one after the other. */
function follow(
  observed: TrackedAlarm,
  { isPresent, cause }: { readonly isPresent: boolean; readonly cause: Cause | undefined },
  now: AlarmInstant,
  changes: AlarmChange[],
): TrackedAlarm {
  const { condition, isActive } = observed;
  const isCritical = condition.priority === "critical";
  let alarm = observed;
  const apply = (event: AlarmEvent, reason = ""): void => {
    const to = nextState(alarm.state, event);
    if (to === undefined) return;
    changes.push({ condition, from: alarm.state, to, event: event.kind, reason });
    alarm = entered(alarm, to, now);
  };

  if (alarm.state === "out of service" && isCritical && isActive) {
    apply({ kind: "return to service", isActive }, "it has become critical");
  }
  if (alarm.state === "shelved") {
    const isOver = alarm.shelf === undefined || now.now_monotonicMs >= alarm.shelf.until_monotonicMs;
    if (isCritical && isActive) apply({ kind: "unshelve", isActive }, "it has become critical");
    else if (isOver && cause !== undefined) suppress(cause.alarmId);
    else if (isOver) apply({ kind: "unshelve", isActive }, "its time is over");
  }
  if (alarm.state === "suppressed by design") {
    const suppression = alarm.suppression;
    if (cause?.explains === true && !isCritical && suppression !== undefined) {
      alarm = { ...alarm, suppression: { ...suppression, held_monotonicMs: now.now_monotonicMs } };
    } else if (
      suppression === undefined ||
      isCritical ||
      now.now_monotonicMs - suppression.held_monotonicMs >= suppressionHold_s * 1000
    ) {
      apply(
        { kind: "unsuppress", isActive, before: suppression?.before ?? "normal" },
        isCritical
          ? "it has become critical"
          : isActive || suppression === undefined
            ? "what silenced it is over"
            : `${suppression.by} came in its place`,
      );
    }
  } else if (
    cause !== undefined &&
    (cause.explains || !alarm.raised) &&
    !isCritical &&
    isSuppressible(alarm)
  ) {
    suppress(cause.alarmId);
  }
  if (isActive) {
    if (alarm.state !== "unacknowledged" && alarm.state !== "acknowledged") apply({ kind: "condition true" });
    if (isMoreUrgent(condition.priority, alarm.toldPriority) && isRaised(alarm.state)) {
      apply({ kind: "re-alarm" }, `its priority is now ${condition.priority}`);
      alarm = { ...alarm, toldPriority: condition.priority };
    }
  } else {
    apply({ kind: "condition false", isLatched: isPresent && condition.latch !== "none" });
    if (!isPresent) apply({ kind: "reset" });
  }
  return alarm;

  function suppress(by: string): void {
    const suppressed = { before: alarm.state === "shelved" ? "normal" : alarm.state, by } as const;
    apply({ kind: "suppress" }, `${by} brings it about`);
    if (alarm.state !== "suppressed by design") return;
    alarm = { ...alarm, suppression: { ...suppressed, held_monotonicMs: now.now_monotonicMs } };
  }
}

/** Latched alarms and those that only wait for their acknowledgement tell of the past, which no cause of today explains. */
function isSuppressible({ state, isHolding }: TrackedAlarm): boolean {
  const isQuiet = state === "normal" || state === "returned to normal unacknowledged";
  return state === "unacknowledged" || state === "acknowledged" || (isQuiet && isHolding);
}

/** The alarm in its new state. */
export function entered(alarm: TrackedAlarm, state: AlarmState, now: AlarmInstant): TrackedAlarm {
  const calls = state === "unacknowledged";
  return {
    ...alarm,
    state,
    raised: isRaised(state),
    raised_epochMs: calls ? now.now_epochMs : alarm.raised_epochMs,
    toldPriority: calls ? alarm.condition.priority : alarm.toldPriority,
    shelf: state === "shelved" ? alarm.shelf : undefined,
    suppression: state === "suppressed by design" ? alarm.suppression : undefined,
  };
}
