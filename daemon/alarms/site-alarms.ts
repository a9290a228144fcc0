import type { AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import { actOnAlarm, type AlarmAction } from "../../lib/alarm/alarm-actions.js";
import { awaitsAcknowledgement, isRaised } from "../../lib/alarm/alarm-state.js";
import { stepAlarms, type AlarmChange, type TrackedAlarm } from "../../lib/alarm/alarm-step.js";
import type { Clock } from "../ports/clock.js";
import type { SiteEvent, SiteStore } from "../ports/site-store.js";
import { alarmSnapshot, readAlarms } from "./alarm-snapshot.js";

export const alarmSnapshotName = "alarms";

/** Who did something with an alarm: a person at this machine, or a message. */
export type AlarmActor = "local" | "remote";

/** The site's alarms: followed by each control pass, acted on by people, kept over a restart. */
export interface SiteAlarms {
  /** Takes the conditions that hold at this instant. */
  follow(holding: readonly AlarmCondition[]): readonly TrackedAlarm[];
  /** The conditions of the last look. */
  holding(): readonly AlarmCondition[];
  list(): readonly TrackedAlarm[];
  /** Returns why it cannot be, or undefined. */
  act(alarmId: string, action: AlarmAction, by: AlarmActor): string | undefined;
  /** Acknowledges every alarm that waits for it; returns their ids. */
  acknowledgeAll(by: AlarmActor): readonly string[];
}

/** @param stored  what the snapshot of an earlier run holds. */
export function createSiteAlarms(
  ports: {
    readonly clock: Clock;
    readonly store: Pick<SiteStore, "saveSnapshot">;
    readonly record: (event: SiteEvent) => void;
  },
  stored: unknown,
): SiteAlarms {
  const { clock, store, record } = ports;
  let alarms = readAlarms(stored, instant());
  let holding: readonly AlarmCondition[] = [];

  return { follow, holding: () => holding, list: () => alarms, act, acknowledgeAll };

  function follow(conditions: readonly AlarmCondition[]): readonly TrackedAlarm[] {
    const step = stepAlarms(alarms, conditions, instant());
    holding = conditions;
    take(step.alarms, step.changes);
    return alarms;
  }

  function act(alarmId: string, action: AlarmAction, by: AlarmActor): string | undefined {
    const outcome = actOnAlarm(alarms, alarmId, action, instant());
    if (outcome.kind === "refused") return outcome.reason;
    const { change } = outcome;
    take(outcome.alarms, [{ ...change, reason: [byWhom[by], change.reason].filter(Boolean).join(", ") }]);
    return undefined;
  }

  function acknowledgeAll(by: AlarmActor): readonly string[] {
    const waiting = alarms.filter(({ state }) => awaitsAcknowledgement(state));
    const ids = waiting.map(({ condition }) => condition.alarmId);
    return ids.filter((alarmId) => act(alarmId, { kind: "acknowledge" }, by) === undefined);
  }

  function take(next: readonly TrackedAlarm[], changes: readonly AlarmChange[]): void {
    alarms = next;
    if (changes.length === 0) return;
    void store.saveSnapshot(alarmSnapshotName, alarmSnapshot(alarms));
    for (const change of changes) record(eventOf(change, clock.now_epochMs()));
  }

  function instant(): { readonly now_epochMs: number; readonly now_monotonicMs: number } {
    return { now_epochMs: clock.now_epochMs(), now_monotonicMs: clock.monotonic_ms() };
  }
}

const byWhom: Readonly<Record<AlarmActor, string>> = {
  local: "by a person at the daemon's socket",
  remote: "from afar",
};

function eventOf({ condition, from, to, event, reason }: AlarmChange, at_epochMs: number): SiteEvent {
  const { alarmId, priority, cause, consequence, whatToDo } = condition;
  return {
    at_epochMs,
    area: "alarm",
    subject: alarmId,
    what: wordsFor(event, to),
    reason: reason === "" ? cause : `${reason}; ${cause}`,
    details: { priority, from, to, consequence, whatToDo },
  };
}

function wordsFor(event: AlarmChange["event"], to: AlarmChange["to"]): string {
  switch (event) {
    case "condition true":
      return "raised";
    case "re-alarm":
      return "raised again";
    case "condition false":
      return to === "latched unacknowledged" || to === "latched acknowledged"
        ? "latched"
        : "returned to normal";
    case "reset":
      return "reset";
    case "acknowledge":
      return "acknowledged";
    case "shelve":
      return "shelved";
    case "suppress":
      return "suppressed by design";
    case "remove from service":
      return "removed from service";
    case "unshelve":
      return "unshelved";
    case "unsuppress":
      return isRaised(to) ? "no longer suppressed" : "overtaken";
    case "return to service":
      return "returned to service";
  }
}
