import { z } from "zod";
import { alarmPriorities } from "../../lib/alarm/alarm-condition.js";
import { longestShelving_min } from "../../lib/alarm/alarm-actions.js";
import { alarmStates, isRaised } from "../../lib/alarm/alarm-state.js";
import type { AlarmInstant, TrackedAlarm } from "../../lib/alarm/alarm-step.js";

const priority = z.enum(alarmPriorities);
const state = z.enum(alarmStates);
const storedAlarmSchema = z.object({
  condition: z.object({
    alarmId: z.string(),
    priority,
    subjects: z.array(z.object({ kind: z.enum(["vessel", "tank", "valve", "sensor"]), id: z.string() })),
    cause: z.string(),
    consequence: z.string(),
    whatToDo: z.string(),
    allowableResponse_min: z.number(),
    actBy_epochMs: z.number().exactOptional(),
    onDelay_s: z.number(),
    offDelay_s: z.number(),
    suppressedBy: z.array(z.string()),
    latch: z.enum(["none", "cause stands", "cause is gone"]),
  }),
  state,
  since_epochMs: z.number(),
  raised_epochMs: z.number().optional(),
  isActive: z.boolean(),
  toldPriority: priority,
  shelvedUntil_epochMs: z.number().optional(),
  suppression: z.object({ before: state, by: z.string() }).optional(),
});
type StoredAlarm = z.output<typeof storedAlarmSchema>;

const snapshotSchema = z.object({ alarms: z.array(z.unknown()) });

/** What a restart goes on from: every alarm that is more than a running delay. Instants of the monotonic clock end with it. */
export function alarmSnapshot(alarms: readonly TrackedAlarm[]): { readonly alarms: readonly StoredAlarm[] } {
  return {
    alarms: alarms
      .filter((alarm) => alarm.state !== "normal")
      .map(({ condition, shelf, suppression, ...alarm }): StoredAlarm => ({
        condition: {
          ...condition,
          subjects: condition.subjects.map((subject) => ({ ...subject })),
          suppressedBy: [...condition.suppressedBy],
        },
        state: alarm.state,
        since_epochMs: alarm.since_epochMs,
        isActive: alarm.isActive,
        toldPriority: alarm.toldPriority,
        ...(alarm.raised_epochMs === undefined ? {} : { raised_epochMs: alarm.raised_epochMs }),
        ...(shelf === undefined ? {} : { shelvedUntil_epochMs: shelf.until_epochMs }),
        ...(suppression === undefined
          ? {}
          : { suppression: { before: suppression.before, by: suppression.by } }),
      })),
  };
}

/** The alarms that an earlier run left. One that cannot be read is left out: its condition raises it anew. */
export function readAlarms(stored: unknown, now: AlarmInstant): readonly TrackedAlarm[] {
  const parsed = snapshotSchema.safeParse(stored);
  if (!parsed.success) return [];
  return parsed.data.alarms.flatMap((entry) => {
    const alarm = storedAlarmSchema.safeParse(entry);
    return alarm.success ? [restored(alarm.data, now)] : [];
  });
}

function restored(alarm: StoredAlarm, now: AlarmInstant): TrackedAlarm {
  const { suppression, shelvedUntil_epochMs } = alarm;
  return {
    condition: alarm.condition,
    state: alarm.state,
    raised: isRaised(alarm.state),
    since_epochMs: alarm.since_epochMs,
    raised_epochMs: alarm.raised_epochMs,
    isHolding: alarm.isActive,
    changed_monotonicMs: now.now_monotonicMs,
    isActive: alarm.isActive,
    toldPriority: alarm.toldPriority,
    shelf:
      shelvedUntil_epochMs === undefined
        ? undefined
        : {
            until_epochMs: shelvedUntil_epochMs,
            until_monotonicMs: now.now_monotonicMs + remaining_ms(alarm, shelvedUntil_epochMs, now),
          },
    suppression:
      suppression === undefined ? undefined : { ...suppression, held_monotonicMs: now.now_monotonicMs },
  };
}

/** A clock that was put back must not lengthen a shelving without end. */
function remaining_ms(alarm: StoredAlarm, until_epochMs: number, now: AlarmInstant): number {
  const { priority: of } = alarm.condition;
  const most_ms = of === "critical" ? 0 : longestShelving_min[of] * 60_000;
  return Math.min(Math.max(0, until_epochMs - now.now_epochMs), most_ms);
}
