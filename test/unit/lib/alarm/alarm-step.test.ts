import { describe, expect, it } from "vitest";
import type { AlarmCondition } from "../../../../lib/alarm/alarm-condition.js";
import { stepAlarms, suppressionHold_s, type TrackedAlarm } from "../../../../lib/alarm/alarm-step.js";
import { actOnAlarm, longestShelving_min, type AlarmAction } from "../../../../lib/alarm/alarm-actions.js";

const condition = (alarmId: string, changed: Partial<AlarmCondition> = {}): AlarmCondition => ({
  alarmId,
  priority: "high",
  subjects: [],
  cause: "why",
  consequence: "what follows",
  whatToDo: "what to do",
  allowableResponse_min: 60,
  onDelay_s: 0,
  offDelay_s: 0,
  suppressedBy: [],
  latch: "none",
  ...changed,
});
const at = (seconds: number): { now_epochMs: number; now_monotonicMs: number } => ({
  now_epochMs: 1_700_000_000_000 + seconds * 1000,
  now_monotonicMs: seconds * 1000,
});
type Moment = readonly [seconds: number, holding: readonly AlarmCondition[], acts?: readonly Act[]];
type Act = readonly [alarmId: string, action: AlarmAction];
const ack = (alarmId: string): Act => [alarmId, { kind: "acknowledge" }];
const shelve = (alarmId: string, for_min: number): Act => [alarmId, { kind: "shelve", for_min }];

/** Plays a timeline; after the conditions of a moment, persons act. */
function played(timeline: readonly Moment[]): { said: string[]; alarms: readonly TrackedAlarm[] } {
  let alarms: readonly TrackedAlarm[] = [];
  const said: string[] = [];
  for (const [seconds, holding, acts = []] of timeline) {
    const step = stepAlarms(alarms, holding, at(seconds));
    alarms = step.alarms;
    said.push(...step.changes.map(({ condition: { alarmId }, to }) => `${seconds} ${alarmId} ${to}`));
    for (const [alarmId, action] of acts) {
      const outcome = actOnAlarm(alarms, alarmId, action, at(seconds));
      if (outcome.kind === "refused") {
        said.push(`${seconds} ${alarmId} refused: ${outcome.reason}`);
        continue;
      }
      alarms = outcome.alarms;
      said.push(`${seconds} ${alarmId} ${outcome.change.to}`);
    }
  }
  return { said, alarms };
}

const a = condition("a");
const delayed = condition("a", { onDelay_s: 10 });
const late = condition("a", { offDelay_s: 10 });
const critical = condition("a", { priority: "critical" });
const trip = condition("t", { priority: "critical", latch: "cause stands" });
const latched = condition("t", { priority: "critical", latch: "cause is gone" });
const broker = condition("broker", { onDelay_s: 10 });
const silent = condition("silent", { suppressedBy: ["broker"] });
const lasting = condition("silent", { suppressedBy: ["broker"], offDelay_s: 86_400 });

describe("stepAlarms", () => {
  it.each<{ because: string; timeline: readonly Moment[]; said: readonly string[] }>([
    {
      because: "without a delay it is raised at once, and once only",
      timeline: [
        [0, [a]],
        [1, [a]],
      ],
      said: ["0 a unacknowledged"],
    },
    {
      because: "one that ended while it was silenced does not call afterwards, however long its off-delay",
      timeline: [
        [0, [lasting]],
        [10, [lasting, broker]],
        [20, [lasting, broker]],
        [30, [broker]],
        [40, []],
        [30 + suppressionHold_s, []],
        [40 + suppressionHold_s, []],
      ],
      said: [
        "0 silent unacknowledged",
        "20 silent suppressed by design",
        "20 broker unacknowledged",
        "40 broker returned to normal unacknowledged",
        `${30 + suppressionHold_s} silent returned to normal unacknowledged`,
      ],
    },
    {
      because:
        "one that nobody has acknowledged since it returned is silenced all the same when it comes with its cause",
      timeline: [
        [0, [silent]],
        [10, []],
        [20, [silent, broker]],
        [40, []],
        [40 + suppressionHold_s, []],
      ],
      said: [
        "0 silent unacknowledged",
        "10 silent returned to normal unacknowledged",
        "20 silent suppressed by design",
        `${40 + suppressionHold_s} silent returned to normal unacknowledged`,
      ],
    },
    {
      because: "it is raised when it has held for its on-delay",
      timeline: [
        [0, [delayed]],
        [9.999, [delayed]],
        [10, [delayed]],
      ],
      said: ["10 a unacknowledged"],
    },
    {
      because: "what goes before its on-delay is never told",
      timeline: [
        [0, [delayed]],
        [5, []],
        [6, [delayed]],
        [15, [delayed]],
      ],
      said: [],
    },
    {
      because: "unacknowledged it stays when its condition is gone, until a person has seen it",
      timeline: [
        [0, [a]],
        [5, []],
        [500_000, [], [ack("a")]],
      ],
      said: ["0 a unacknowledged", "5 a returned to normal unacknowledged", "500000 a normal"],
    },
    {
      because: "acknowledged it is normal when its condition is gone",
      timeline: [
        [0, [a], [ack("a")]],
        [5, []],
      ],
      said: ["0 a unacknowledged", "0 a acknowledged", "5 a normal"],
    },
    {
      because: "it can come again before it was acknowledged",
      timeline: [
        [0, [a]],
        [5, []],
        [6, [a]],
      ],
      said: ["0 a unacknowledged", "5 a returned to normal unacknowledged", "6 a unacknowledged"],
    },
    {
      because: "a gap shorter than its off-delay is no return",
      timeline: [
        [0, [late]],
        [5, []],
        [14, [late]],
        [20, []],
        [29.9, []],
        [30, []],
      ],
      said: ["0 a unacknowledged", "30 a returned to normal unacknowledged"],
    },
    {
      because: "alarms do not mix",
      timeline: [
        [0, [a]],
        [1, [a, condition("b")]],
        [2, [condition("b")]],
      ],
      said: ["0 a unacknowledged", "1 b unacknowledged", "2 a returned to normal unacknowledged"],
    },
    {
      because: "a raised one stays raised when its delay grows",
      timeline: [
        [0, [a]],
        [1, [condition("a", { onDelay_s: 60 })]],
        [61, [condition("a", { onDelay_s: 60 })]],
      ],
      said: ["0 a unacknowledged"],
    },
    {
      because:
        "an acknowledged one that becomes more urgent calls again, once, and not when it becomes milder",
      timeline: [
        [0, [a], [ack("a")]],
        [1, [critical], [ack("a")]],
        [2, [a]],
        [3, [critical]],
      ],
      said: ["0 a unacknowledged", "0 a acknowledged", "1 a unacknowledged", "1 a acknowledged"],
    },
    {
      because: "a latched one stays acknowledged until it is reset",
      timeline: [
        [0, [trip], [ack("t")]],
        [5, [latched]],
        [90_000, [latched]],
        [90_001, []],
      ],
      said: ["0 t unacknowledged", "0 t acknowledged", "5 t latched acknowledged", "90001 t normal"],
    },
    {
      because: "a latched one that is reset unacknowledged waits for its acknowledgement all the same",
      timeline: [
        [0, [trip]],
        [5, [latched]],
        [6, []],
        [7, [], [ack("t")]],
      ],
      said: [
        "0 t unacknowledged",
        "5 t latched unacknowledged",
        "6 t returned to normal unacknowledged",
        "7 t normal",
      ],
    },
    {
      because: "a latched one whose cause comes back calls again",
      timeline: [
        [0, [trip], [ack("t")]],
        [5, [latched]],
        [6, [trip]],
      ],
      said: ["0 t unacknowledged", "0 t acknowledged", "5 t latched acknowledged", "6 t unacknowledged"],
    },
    {
      because: "what had latched before anybody looked is called once",
      timeline: [
        [0, [latched]],
        [1, [latched]],
        [2, [latched]],
      ],
      said: ["0 t unacknowledged", "1 t latched unacknowledged"],
    },
    {
      because: "what the broker's loss brings about is silent, even before the broker's own delay is over",
      timeline: [
        [0, [broker, silent]],
        [10, [broker, silent]],
      ],
      said: ["0 silent suppressed by design", "10 broker unacknowledged"],
    },
    {
      because: "what still holds a while after the cause is gone is raised then",
      timeline: [
        [0, [broker, silent]],
        [5, [silent]],
        [suppressionHold_s - 1, [silent]],
        [suppressionHold_s, [silent]],
      ],
      said: ["0 silent suppressed by design", `${suppressionHold_s} silent unacknowledged`],
    },
    {
      because: "what is gone with its cause was never told",
      timeline: [
        [0, [broker, silent]],
        [5, []],
        [100, []],
      ],
      said: ["0 silent suppressed by design", "100 silent normal"],
    },
    {
      because: "an acknowledged one that was silenced meanwhile does not call again",
      timeline: [
        [0, [silent], [ack("silent")]],
        [1, [broker, silent]],
        [11, [broker, silent]],
        [12, [silent]],
        [100, [silent]],
      ],
      said: [
        "0 silent unacknowledged",
        "0 silent acknowledged",
        "11 silent suppressed by design",
        "11 broker unacknowledged",
        "12 broker returned to normal unacknowledged",
        "100 silent acknowledged",
      ],
    },
    {
      because: "an unacknowledged one that was silenced meanwhile is not forgotten",
      timeline: [
        [0, [silent]],
        [1, [broker, silent]],
        [11, [broker, silent]],
        [12, []],
        [100, []],
      ],
      said: [
        "0 silent unacknowledged",
        "11 silent suppressed by design",
        "11 broker unacknowledged",
        "12 broker returned to normal unacknowledged",
        "100 silent returned to normal unacknowledged",
      ],
    },
    {
      because:
        "a cause that comes and goes within its own delay, and is never raised, silences nothing for good",
      timeline: [
        [0, [broker, silent]],
        [2, [silent]],
        [40, [broker, silent]],
        [42, [silent]],
        [80, [broker, silent]],
        [82, [silent]],
        [120, [broker, silent]],
      ],
      said: ["0 silent suppressed by design", "80 silent unacknowledged"],
    },
    {
      because: "one whose delay is long silences what is raised already all the same",
      timeline: [
        [0, [silent]],
        [1, [condition("broker", { onDelay_s: 3600 }), silent]],
        [200, [condition("broker", { onDelay_s: 3600 }), silent]],
      ],
      said: ["0 silent unacknowledged", "1 silent suppressed by design"],
    },
    {
      because: "a critical one is silenced by nothing",
      timeline: [[0, [broker, condition("c", { priority: "critical", suppressedBy: ["broker"] })]]],
      said: ["0 c unacknowledged"],
    },
    {
      because: "shelving ends by itself, and what still holds calls again",
      timeline: [
        [0, [a], [shelve("a", 5)]],
        [299, [a]],
        [300, [a]],
      ],
      said: ["0 a unacknowledged", "0 a shelved", "300 a unacknowledged"],
    },
    {
      because: "what is gone when its shelving ends is normal",
      timeline: [
        [0, [a], [shelve("a", 5)]],
        [10, []],
        [300, []],
      ],
      said: ["0 a unacknowledged", "0 a shelved", "300 a normal"],
    },
    {
      because: "a shelved one that becomes critical leaves the shelf at once",
      timeline: [
        [0, [a], [shelve("a", 5)]],
        [10, [critical]],
      ],
      said: ["0 a unacknowledged", "0 a shelved", "10 a unacknowledged"],
    },
    {
      because: "so does one that is out of service",
      timeline: [
        [0, [a], [["a", { kind: "remove from service" }]]],
        [10, [critical]],
      ],
      said: ["0 a unacknowledged", "0 a out of service", "10 a unacknowledged"],
    },
    {
      because: "a critical one can be neither shelved nor removed from service",
      timeline: [[0, [critical], [shelve("a", 1), ["a", { kind: "remove from service" }]]]],
      said: [
        "0 a unacknowledged",
        "0 a refused: a critical alarm can be neither shelved nor removed from service; acknowledge it",
        "0 a refused: a critical alarm can be neither shelved nor removed from service; acknowledge it",
      ],
    },
    {
      because: "shelving is limited by priority, and needs a time",
      timeline: [
        [
          0,
          [a],
          [
            shelve("a", longestShelving_min.high + 1),
            shelve("a", 0),
            shelve("a", Number.NaN),
            shelve("a", longestShelving_min.high),
          ],
        ],
      ],
      said: [
        "0 a unacknowledged",
        ...Array<string>(3).fill("0 a refused: an alarm of high priority can be shelved for at most 480 min"),
        "0 a shelved",
      ],
    },
    {
      because: "out of service it stays, for days and over new occurrences, until a person returns it",
      timeline: [
        [0, [a], [["a", { kind: "remove from service" }]]],
        [5, []],
        [400_000, [a], [["a", { kind: "return to service" }]]],
      ],
      said: ["0 a unacknowledged", "0 a out of service", "400000 a unacknowledged"],
    },
    {
      because: "what cannot be acknowledged says why",
      timeline: [[0, [a], [ack("a"), ack("a"), ack("b")]]],
      said: [
        "0 a unacknowledged",
        "0 a acknowledged",
        "0 a refused: it is acknowledged",
        "0 b refused: there is no such alarm at this time",
      ],
    },
  ])("$because", ({ timeline, said }) => {
    expect(played(timeline).said).toEqual(said);
  });

  it("keeps the instant at which the condition began, and tells its newest cause", () => {
    const { alarms } = played([
      [100, [condition("a", { cause: "stale for 121 s" })]],
      [130, [condition("a", { cause: "stale for 150 s" })]],
    ]);
    expect(alarms[0]).toMatchObject({ since_epochMs: at(100).now_epochMs, raised: true });
    expect(alarms[0]!.condition.cause).toBe("stale for 150 s");
  });

  it("counts delays and shelving by the monotonic clock", () => {
    const first = stepAlarms([], [delayed], at(0)).alarms;
    const dayLater = { now_epochMs: at(0).now_epochMs + 86_400_000, now_monotonicMs: 1000 };
    expect(stepAlarms(first, [delayed], dayLater).changes).toEqual([]);
    const shelved = played([[0, [a], [shelve("a", 5)]]]).alarms;
    expect(stepAlarms(shelved, [a], dayLater).changes).toEqual([]);
  });

  it("tracks an alarm no more once it is normal", () => {
    const { alarms } = played([
      [0, [a], [ack("a")]],
      [5, []],
    ]);
    expect(alarms).toEqual([]);
  });
});
