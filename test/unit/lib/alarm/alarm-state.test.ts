import { describe, expect, it } from "vitest";
import { stepAlarms, type AlarmCondition, type TrackedAlarm } from "../../../../lib/alarm/alarm-state.js";

const condition = (alarmId: string, onDelay_s = 0, cause = "why"): AlarmCondition => ({
  alarmId,
  priority: "high",
  cause,
  whatToDo: "what",
  onDelay_s,
});
const at = (seconds: number): { now_epochMs: number; now_monotonicMs: number } => ({
  now_epochMs: 1_700_000_000_000 + seconds * 1000,
  now_monotonicMs: seconds * 1000,
});
/** Which alarms are raised or return, tick by tick, for the conditions that hold at each second. */
function changesOf(
  timeline: readonly (readonly [seconds: number, holding: readonly AlarmCondition[]])[],
): string[] {
  let alarms: readonly TrackedAlarm[] = [];
  return timeline.flatMap(([seconds, holding]) => {
    const step = stepAlarms(alarms, holding, at(seconds));
    alarms = step.alarms;
    return step.changes.map((change) => `${seconds} ${change.kind} ${change.condition.alarmId}`);
  });
}

describe("stepAlarms", () => {
  it.each([
    {
      because: "without a delay it is raised at once, and once only",
      timeline: [
        [0, [condition("a")]],
        [1, [condition("a")]],
      ],
      changes: ["0 raised a"],
    },
    {
      because: "it is raised when it has held for its delay",
      timeline: [
        [0, [condition("a", 10)]],
        [9.999, [condition("a", 10)]],
        [10, [condition("a", 10)]],
      ],
      changes: ["10 raised a"],
    },
    {
      because: "what goes before its delay is never told",
      timeline: [
        [0, [condition("a", 10)]],
        [5, []],
        [6, [condition("a", 10)]],
        [15, [condition("a", 10)]],
      ],
      changes: [],
    },
    {
      because: "it returns when the condition is gone",
      timeline: [
        [0, [condition("a")]],
        [5, []],
        [6, []],
      ],
      changes: ["0 raised a", "5 returned to normal a"],
    },
    {
      because: "it can come again",
      timeline: [
        [0, [condition("a")]],
        [5, []],
        [6, [condition("a")]],
      ],
      changes: ["0 raised a", "5 returned to normal a", "6 raised a"],
    },
    {
      because: "alarms do not mix",
      timeline: [
        [0, [condition("a")]],
        [1, [condition("a"), condition("b")]],
        [2, [condition("b")]],
      ],
      changes: ["0 raised a", "1 raised b", "2 returned to normal a"],
    },
    {
      because: "a raised one stays raised when its delay grows",
      timeline: [
        [0, [condition("a")]],
        [1, [condition("a", 60)]],
        [61, [condition("a", 60)]],
      ],
      changes: ["0 raised a"],
    },
  ] as const)("$because", ({ timeline, changes }) => {
    expect(changesOf(timeline)).toEqual(changes);
  });

  it("keeps the instant at which the condition began, and tells its newest cause", () => {
    const first = stepAlarms([], [condition("a", 0, "stale for 121 s")], at(100)).alarms;
    const [alarm] = stepAlarms(first, [condition("a", 0, "stale for 150 s")], at(130)).alarms;
    expect(alarm).toMatchObject({
      since_epochMs: at(100).now_epochMs,
      since_monotonicMs: 100_000,
      raised: true,
    });
    expect(alarm!.condition.cause).toBe("stale for 150 s");
  });

  it("counts the delay by the monotonic clock", () => {
    const first = stepAlarms([], [condition("a", 10)], at(0)).alarms;
    const dayLater = { now_epochMs: at(0).now_epochMs + 86_400_000, now_monotonicMs: 1000 };
    expect(stepAlarms(first, [condition("a", 10)], dayLater).changes).toEqual([]);
  });
});
