import { expect, it } from "vitest";
import { essenceOf, readAlertMemory } from "../../../../daemon/alerts/alert-form.js";

const told = {
  alarmId: "broker",
  raised_epochMs: 1000,
  waitsSince_epochMs: 1000,
  told_epochMs: 2000,
  toldPriority: "high",
  escalated: false,
  channels: ["phone"],
  last: {
    notice: "raised",
    alarmId: "broker",
    priority: "high",
    state: "unacknowledged",
    subjects: [],
    cause: "c",
    consequence: "f",
    whatToDo: "w",
    allowableResponse_min: 60,
    raised_epochMs: 1000,
  },
  acknowledged: false,
  returnTold: false,
};

it("reads what an earlier version kept, which knew nothing of alarms that a person has seen", () => {
  const memory = readAlertMemory({ told: [told], sent_epochMs: { phone: 2000 } });
  expect(memory.told).toMatchObject([{ alarmId: "broker", told_epochMs: 2000 }]);
  expect(memory.seen).toEqual([]);
});

it("keeps over a restart what a person has seen, and finds it worth a write", () => {
  const seen = [{ alarmId: "broker", over_epochMs: 3000, silenced: false }];
  const before = readAlertMemory({ told: [], sent_epochMs: {}, seen: [] });
  const after = readAlertMemory(JSON.parse(JSON.stringify({ ...before, seen })));
  expect(after.seen).toEqual(seen);
  expect(essenceOf(after)).not.toBe(essenceOf(before));
});
