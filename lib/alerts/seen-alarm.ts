import type { AlarmPriority } from "../alarm/alarm-condition.js";
import type { AlarmState } from "../alarm/alarm-state.js";
import type { TrackedAlarm } from "../alarm/alarm-step.js";

/** Whether a person has seen an alarm, and what became of it since. */
export interface SeenAlarm {
  readonly alarmId: string;
  readonly stage?: (typeof seenStages)[number] | undefined;
  /** Since when an occurrence that a person has seen is over. */
  readonly over_epochMs?: number | undefined;
  /** Another alarm has silenced it since it was acknowledged. */
  readonly silenced: boolean;
}

export const seenStages = ["unacknowledged", "acknowledged"] as const;

/**
 * So long the next occurrence of an alarm waits where a person has seen the one before, and no longer than a quarter of the
 * time that there is to act. An alarm that goes between normal and alarm again and again in a short time is a chattering one
 * [Isa2016], and each acknowledgement of it would bring the next message. The times are a judgement.
 */
const quietAfterSeen_min = 10;

/** Follows the alarms from look to look. An alarm that is not in the list is normal. */
export function stepSeen(
  before: readonly SeenAlarm[],
  alarms: readonly TrackedAlarm[],
  now_epochMs: number,
): readonly SeenAlarm[] {
  const priors = new Map(before.map((seen) => [seen.alarmId, seen]));
  const present = new Map(alarms.map((alarm) => [alarm.condition.alarmId, alarm]));
  return [...new Set([...priors.keys(), ...present.keys()])].flatMap((alarmId): readonly SeenAlarm[] => {
    const prior = priors.get(alarmId);
    const alarm = present.get(alarmId);
    const state = alarm?.state ?? "normal";
    const stage = stageIn(state, prior?.stage, alarm?.suppression?.before);
    const over_epochMs = isOver(prior?.stage, state, stage)
      ? now_epochMs
      : prior?.over_epochMs === undefined
        ? undefined
        : // A clock that is put back makes nothing wait longer.
          Math.min(prior.over_epochMs, now_epochMs);
    const isNewlySeen = state === "acknowledged" && prior?.stage !== "acknowledged";
    const silenced = state === "suppressed by design" || (!isNewlySeen && prior?.silenced === true);
    const isYoung = over_epochMs !== undefined && now_epochMs - over_epochMs < quietAfterSeen_min * 60_000;
    if (stage === undefined && !isYoung) return [];
    return [{ alarmId, stage, over_epochMs: isYoung ? over_epochMs : undefined, silenced }];
  });
}

/**
 * Whether a new occurrence is not told yet, because a person has just seen the one before. Something critical calls each
 * time. Something high does, unless a worse alarm silenced it meanwhile: then what is new is that one's coming and going.
 */
export function staysQuiet(
  seen: SeenAlarm | undefined,
  alarm: { readonly priority: AlarmPriority; readonly allowableResponse_min: number },
  now_epochMs: number,
): boolean {
  if (seen?.over_epochMs === undefined || alarm.priority === "critical") return false;
  if (alarm.priority === "high" && !seen.silenced) return false;
  const quiet_min = Math.min(quietAfterSeen_min, alarm.allowableResponse_min / 4);
  return now_epochMs - seen.over_epochMs < quiet_min * 60_000;
}

function stageIn(
  state: AlarmState,
  before: SeenAlarm["stage"],
  beforeSuppression: AlarmState | undefined,
): SeenAlarm["stage"] {
  switch (state) {
    case "acknowledged":
    case "latched acknowledged":
      return "acknowledged";
    case "unacknowledged":
    case "latched unacknowledged":
    case "returned to normal unacknowledged":
      return "unacknowledged";
    case "shelved":
    case "out of service":
      return before;
    case "suppressed by design":
      // What nobody has acknowledged may go from here to normal unseen.
      return beforeSuppression === "acknowledged" ? "acknowledged" : undefined;
    case "normal":
      return undefined;
  }
}

/** From what calls, only a person leads to normal; they may have done it since the last look. */
function isOver(before: SeenAlarm["stage"], state: AlarmState, stage: SeenAlarm["stage"]): boolean {
  if (before === "acknowledged") return stage !== "acknowledged";
  return before === "unacknowledged" && state === "normal";
}
