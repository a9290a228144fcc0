import type { Said } from "../told/said.js";

export const alarmPriorities = ["critical", "high", "medium", "low"] as const;
export type AlarmPriority = (typeof alarmPriorities)[number];

/** Whether the first is more urgent than the second. */
export function isMoreUrgent(a: AlarmPriority, b: AlarmPriority): boolean {
  return alarmPriorities.indexOf(a) < alarmPriorities.indexOf(b);
}

/** What an alarm is about, so that it can be sent to whom that concerns. */
export interface AlarmSubject {
  readonly kind: "vessel" | "tank" | "valve" | "sensor";
  readonly id: string;
}

/**
 * Something that needs a person: what it is, what follows if nobody acts, what to do, and how long there is. These are what
 * an alarm is documented by. [Isa2016]
 */
export interface AlarmCondition {
  /** Stable over the life of the condition: "guard-silent/loach-ph". */
  readonly alarmId: string;
  readonly priority: AlarmPriority;
  /** Everything it touches; empty for the whole site. */
  readonly subjects: readonly AlarmSubject[];
  readonly cause: string;
  /** The same with its quantities and dates as such; left out where it has none. */
  readonly causeSaid?: Said;
  readonly consequence: string;
  readonly whatToDo: string;
  /** The allowable response time: from the alarm to when the consequence can no longer be averted. */
  readonly allowableResponse_min: number;
  /** When the consequence comes, where that is an instant that is known: less and less time is left until then. */
  readonly actBy_epochMs?: number;
  /** The condition must hold this long before the alarm is raised, and be gone this long before it returns to normal. */
  readonly onDelay_s: number;
  readonly offDelay_s: number;
  /** Alarms whose conditions bring this one about, and silence it. A critical alarm is never silenced. */
  readonly suppressedBy: readonly string[];
  /** A latching alarm stays when its cause is gone, until a person resets what has latched. */
  readonly latch: "none" | "cause stands" | "cause is gone";
}
