/** Something that needs a person, with what it is, what follows and what to do. */
export interface AlarmCondition {
  /** Stable over the life of the condition: "guard-silent/loach-ph". */
  readonly alarmId: string;
  readonly priority: "critical" | "high" | "medium" | "low";
  readonly cause: string;
  readonly whatToDo: string;
  /** The condition must hold this long before the alarm is raised. */
  readonly onDelay_s: number;
}

export interface TrackedAlarm {
  readonly condition: AlarmCondition;
  readonly since_monotonicMs: number;
  readonly since_epochMs: number;
  readonly raised: boolean;
}

export type AlarmChange =
  | { readonly kind: "raised"; readonly condition: AlarmCondition }
  | { readonly kind: "returned to normal"; readonly condition: AlarmCondition };

export interface AlarmStep {
  readonly alarms: readonly TrackedAlarm[];
  readonly changes: readonly AlarmChange[];
}

/** Compares what holds now with what held before. The on-delay is monotonic; a raised alarm keeps its instant. */
export function stepAlarms(
  before: readonly TrackedAlarm[],
  holding: readonly AlarmCondition[],
  now: { readonly now_epochMs: number; readonly now_monotonicMs: number },
): AlarmStep {
  const changes: AlarmChange[] = [];
  const alarms = holding.map((condition): TrackedAlarm => {
    const known = before.find((alarm) => alarm.condition.alarmId === condition.alarmId);
    const since_monotonicMs = known?.since_monotonicMs ?? now.now_monotonicMs;
    const due = now.now_monotonicMs - since_monotonicMs >= condition.onDelay_s * 1000;
    const raised = known?.raised === true || due;
    if (raised && known?.raised !== true) {
      changes.push({ kind: "raised", condition });
    }
    return { condition, since_monotonicMs, since_epochMs: known?.since_epochMs ?? now.now_epochMs, raised };
  });
  for (const alarm of before) {
    if (alarm.raised && !holding.some((condition) => condition.alarmId === alarm.condition.alarmId)) {
      changes.push({ kind: "returned to normal", condition: alarm.condition });
    }
  }
  return { alarms, changes };
}
