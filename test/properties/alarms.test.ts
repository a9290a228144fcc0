import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { alarmPriorities, type AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import { actOnAlarm, longestShelving_min, type AlarmAction } from "../../lib/alarm/alarm-actions.js";
import { awaitsAcknowledgement, type AlarmState } from "../../lib/alarm/alarm-state.js";
import { stepAlarms, type AlarmChange, type TrackedAlarm } from "../../lib/alarm/alarm-step.js";
import { alarmSnapshot, readAlarms } from "../../daemon/alarms/alarm-snapshot.js";

/** The arrows of the state diagram of ANSI/ISA-18.2-2016 (from memory) and our two, whatever the event. */
const arrows: Readonly<Record<AlarmState, readonly AlarmState[]>> = {
  normal: ["unacknowledged", "suppressed by design", "shelved", "out of service"],
  unacknowledged: [
    "acknowledged",
    "returned to normal unacknowledged",
    "latched unacknowledged",
    "suppressed by design",
    "shelved",
    "out of service",
  ],
  acknowledged: [
    "normal",
    "unacknowledged",
    "latched acknowledged",
    "suppressed by design",
    "shelved",
    "out of service",
  ],
  "returned to normal unacknowledged": [
    "normal",
    "unacknowledged",
    "suppressed by design",
    "shelved",
    "out of service",
  ],
  "latched unacknowledged": [
    "latched acknowledged",
    "unacknowledged",
    "returned to normal unacknowledged",
    "shelved",
    "out of service",
  ],
  "latched acknowledged": ["normal", "unacknowledged", "shelved", "out of service"],
  shelved: ["normal", "unacknowledged", "suppressed by design", "out of service"],
  "suppressed by design": [
    "normal",
    "unacknowledged",
    "acknowledged",
    "returned to normal unacknowledged",
    "shelved",
    "out of service",
  ],
  "out of service": ["normal", "unacknowledged"],
};

const ids = ["broker", "silent", "trip", "heater"] as const;

interface Moment {
  readonly wait_s: number;
  readonly holding: readonly AlarmCondition[];
  readonly acts: readonly (readonly [alarmId: string, action: AlarmAction])[];
  readonly restarts: boolean;
}

const action: fc.Arbitrary<AlarmAction> = fc.oneof(
  fc.constant({ kind: "acknowledge" } as const),
  fc.record({ kind: fc.constant("shelve" as const), for_min: fc.integer({ min: 1, max: 600 }) }),
  fc.constantFrom(
    { kind: "unshelve" } as const,
    { kind: "remove from service" } as const,
    { kind: "return to service" } as const,
  ),
);

const conditionOf = (alarmId: string): fc.Arbitrary<AlarmCondition> =>
  fc.record({
    alarmId: fc.constant(alarmId),
    priority: alarmId === "trip" ? fc.constant("critical" as const) : fc.constantFrom(...alarmPriorities),
    subjects: fc.constant([]),
    cause: fc.constantFrom("one", "another"),
    consequence: fc.constant(""),
    whatToDo: fc.constant(""),
    allowableResponse_min: fc.constant(1),
    onDelay_s: fc.constantFrom(0, 10, 60),
    offDelay_s: fc.constantFrom(0, 10, 60),
    suppressedBy: fc.constant(alarmId === "silent" ? ["broker"] : []),
    latch:
      alarmId === "trip"
        ? fc.constantFrom("cause stands" as const, "cause is gone" as const)
        : fc.constant("none" as const),
  });

const moment: fc.Arbitrary<Moment> = fc.record({
  wait_s: fc.constantFrom(0, 1, 5, 60, 3600, 30_000),
  holding: fc
    .tuple(...ids.map((id) => fc.option(conditionOf(id), { nil: undefined })))
    .map((conditions) => conditions.filter((condition) => condition !== undefined)),
  acts: fc.array(fc.tuple(fc.constantFrom(...ids), action), { maxLength: 3 }),
  restarts: fc.boolean(),
});

const parameters = { seed: 20261125, numRuns: 2000 };
const start_epochMs = Date.UTC(2026, 4, 4);

/** Plays moments; `look` sees each state of affairs with the changes that led to it. */
function play(
  moments: readonly Moment[],
  look: (alarms: readonly TrackedAlarm[], changes: readonly AlarmChange[], elapsed_ms: number) => void,
): void {
  let alarms: readonly TrackedAlarm[] = [];
  let elapsed_ms = 0;
  for (const { wait_s, holding, acts, restarts } of moments) {
    elapsed_ms += wait_s * 1000;
    const now = { now_epochMs: start_epochMs + elapsed_ms, now_monotonicMs: elapsed_ms };
    if (restarts) alarms = readAlarms(JSON.parse(JSON.stringify(alarmSnapshot(alarms))), now);
    const step = stepAlarms(alarms, holding, now);
    alarms = step.alarms;
    look(alarms, step.changes, elapsed_ms);
    for (const [alarmId, act] of acts) {
      const outcome = actOnAlarm(alarms, alarmId, act, now);
      if (outcome.kind === "refused") continue;
      alarms = outcome.alarms;
      look(alarms, [outcome.change], elapsed_ms);
    }
  }
}

describe("alarms, whatever happens, whoever acts, over restarts", () => {
  it("make no transition that the state diagram does not have, and each from the state they were in", () => {
    fc.assert(
      fc.property(fc.array(moment, { maxLength: 20 }), (moments) => {
        const states = new Map<string, AlarmState>();
        play(moments, (_, changes) => {
          for (const { condition, from, to } of changes) {
            expect(from).toBe(states.get(condition.alarmId) ?? "normal");
            expect(arrows[from]).toContain(to);
            states.set(condition.alarmId, to);
          }
        });
      }),
      parameters,
    );
  });

  it("of a trip are seen by everyone while it stands, and never vanish before a person has acknowledged them", () => {
    fc.assert(
      fc.property(fc.array(moment, { maxLength: 20 }), (moments) => {
        let owed = false;
        play(moments, (alarms, changes) => {
          for (const change of changes.filter(({ condition }) => condition.alarmId === "trip")) {
            if (change.event === "condition true") owed = true;
            if (change.event === "acknowledge") owed = false;
          }
          const trip = alarms.find(({ condition }) => condition.alarmId === "trip");
          expect(["shelved", "suppressed by design", "out of service"]).not.toContain(trip?.state);
          if (owed) expect(trip !== undefined && awaitsAcknowledgement(trip.state)).toBe(true);
        });
      }),
      parameters,
    );
  });

  it("leave the shelf by themselves after no more than the longest time of their priority", () => {
    fc.assert(
      fc.property(fc.array(moment, { maxLength: 20 }), (moments) => {
        const quiet: Moment = {
          wait_s: longestShelving_min.low * 60,
          holding: [],
          acts: [],
          restarts: false,
        };
        let last: readonly TrackedAlarm[] = [];
        play([...moments, quiet], (alarms) => {
          last = alarms;
        });
        expect(last.filter(({ state }) => state === "shelved")).toEqual([]);
      }),
      parameters,
    );
  });

  it("hold no silence over an alarm that is critical and active", () => {
    fc.assert(
      fc.property(fc.array(moment, { maxLength: 20 }), (moments) => {
        play(moments, (alarms) => {
          for (const { condition, isActive, raised } of alarms) {
            if (condition.priority === "critical" && isActive) expect(raised).toBe(true);
          }
        });
      }),
      parameters,
    );
  });
});
