import { describe, expect, it } from "vitest";
import { alarmDocuments } from "../../../../daemon/alarms/alarm-document.js";
import type { AlarmCondition } from "../../../../lib/alarm/alarm-condition.js";
import type { TrackedAlarm } from "../../../../lib/alarm/alarm-step.js";

const hour_ms = 3_600_000;
const raised_epochMs = Date.parse("2026-03-03T10:00:00Z");

function raisedAlarm(change: Partial<AlarmCondition>): TrackedAlarm {
  const condition: AlarmCondition = {
    alarmId: "charge-runs-out/cellar",
    priority: "low",
    subjects: [],
    cause: "the charge runs out",
    consequence: "no gas",
    whatToDo: "refill",
    allowableResponse_min: 120,
    onDelay_s: 0,
    offDelay_s: 0,
    suppressedBy: [],
    latch: "none",
    ...change,
  };
  return {
    condition,
    state: "unacknowledged",
    raised: true,
    since_epochMs: raised_epochMs - hour_ms,
    raised_epochMs,
    isHolding: true,
    changed_monotonicMs: 0,
    isActive: true,
    toldPriority: condition.priority,
    shelf: undefined,
    suppression: undefined,
  };
}

describe("until when an alarm is to be answered", () => {
  it.each<{ change: Partial<AlarmCondition>; actBy: string; because: string }>([
    {
      change: {},
      actBy: "2026-03-03T12:00:00.000Z",
      because: "two hours are allowed from when it was raised",
    },
    {
      change: { actBy_epochMs: raised_epochMs + 48 * hour_ms },
      actBy: "2026-03-05T10:00:00.000Z",
      because: "what is allowed from now on shrinks, the day on which the charge ends stays",
    },
  ])("is $actBy: $because", ({ change, actBy }) => {
    expect(alarmDocuments([raisedAlarm(change)])).toMatchObject([{ actBy }]);
  });
});
