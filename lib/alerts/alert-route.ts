import type { AlarmCondition, AlarmPriority, AlarmSubject } from "../alarm/alarm-condition.js";
import type { QuietHours } from "./quiet-hours.js";

/** Where alarms of some priorities and subjects go, and how often. */
export interface AlertRoute {
  readonly channels: readonly string[];
  readonly priorities: readonly AlarmPriority[];
  /** Empty: whatever it is about. */
  readonly subjects: readonly AlarmSubject[];
  /** What comes within this time goes out together. */
  readonly groupWithin_s: number;
  /** Unacknowledged alarms are told again after this time; undefined: once only. */
  readonly repeatAfter_min: number | undefined;
  /** Whether it is told that an alarm has returned to normal. */
  readonly tellsReturn: boolean;
  readonly quietHours: QuietHours | undefined;
  readonly escalation: Escalation | undefined;
}

/** Others are told when nobody has acknowledged after so long. */
export interface Escalation {
  readonly after_min: number;
  readonly channels: readonly string[];
}

/** The place of the first route that takes an alarm, or undefined: each alarm goes by one route, so that nobody is told twice. */
export function routeFor(
  routes: readonly AlertRoute[],
  { priority, subjects }: Pick<AlarmCondition, "priority" | "subjects">,
): number | undefined {
  const index = routes.findIndex(
    (route) =>
      route.priorities.includes(priority) &&
      (route.subjects.length === 0 ||
        route.subjects.some((wanted) =>
          subjects.some(({ kind, id }) => kind === wanted.kind && id === wanted.id),
        )),
  );
  return index < 0 ? undefined : index;
}
