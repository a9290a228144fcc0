import { describe, expect, it } from "vitest";
import { holdConditions, silencedByRefill } from "../../../daemon/vessel-alarms.js";
import { stepAlarms } from "../../../lib/alarm/alarm-step.js";
import type { AlarmCondition } from "../../../lib/alarm/alarm-condition.js";
import type { Hold } from "../../../lib/control/hold.js";
import { benchYaml, modelOf } from "../../support/control-bench.js";

const refill: Hold = {
  kind: "refill in progress",
  subject: { kind: "vessel", id: "cellar" },
  since_epochMs: 0,
  note: "",
};
const condition = (alarmId: string, priority: AlarmCondition["priority"] = "high"): AlarmCondition => ({
  alarmId,
  priority,
  subjects: [],
  cause: "c",
  consequence: "c",
  whatToDo: "w",
  allowableResponse_min: 60,
  onDelay_s: 0,
  offDelay_s: 0,
  suppressedBy: ["broker"],
  latch: "none",
});

describe("an alarm while a vessel is refilled", () => {
  it.each([
    { alarmId: "charge-spent/cellar", silent: true, because: "the vessel is open" },
    { alarmId: "leak-while-closed/cellar", silent: true, because: "its gas is let off" },
    { alarmId: "pressure-not-believed/cellar", silent: true, because: "it shows open air" },
    { alarmId: "charge-spent/spare", silent: false, because: "it is another vessel's" },
    {
      alarmId: "pressurising-too-strong/cellar",
      silent: false,
      because: "too much pressure is never silenced",
    },
    { alarmId: "above-rating/cellar", silent: false, because: "too much pressure is never silenced" },
    { alarmId: "valve-passes/cellar", silent: false, because: "gas may flow to the fish" },
  ])("$alarmId is silenced by design: $silent, as $because", ({ alarmId, silent }) => {
    const now = { now_epochMs: 1_000_000, now_monotonicMs: 1000 };
    const holding = [
      ...holdConditions([refill], modelOf(benchYaml)),
      silencedByRefill(condition(alarmId), [refill]),
    ];
    const { alarms } = stepAlarms([], holding, now);
    const state = alarms.find((alarm) => alarm.condition.alarmId === alarmId)?.state;
    expect(state).toBe(silent ? "suppressed by design" : "unacknowledged");
    // The refill itself does not call for hours.
    expect(alarms.find((alarm) => alarm.condition.alarmId === "refill-in-progress/cellar")?.raised).toBe(
      false,
    );
  });

  it("is as before where nobody refills", () => {
    const alarm = condition("charge-spent/cellar");
    expect(silencedByRefill(alarm, [])).toBe(alarm);
    expect(silencedByRefill(alarm, [{ ...refill, kind: "maintenance lock" }])).toBe(alarm);
  });
});
