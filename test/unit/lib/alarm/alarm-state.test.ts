import { describe, expect, it } from "vitest";
import {
  alarmStates,
  nextState,
  type AlarmEvent,
  type AlarmState,
} from "../../../../lib/alarm/alarm-state.js";

/**
 * The alarm state transitions of ANSI/ISA-18.2-2016 (clause 5, alarm state transition diagram and its table; IEC 62682 has
 * the same): states A to I, from memory. OPC 10000-9 (alarms and conditions, 4.8 and 5.8) describes the same states openly.
 * "ours" marks the two transitions that the diagram does not show.
 */
const letters: Readonly<Record<string, AlarmState>> = {
  A: "normal",
  B: "unacknowledged",
  C: "acknowledged",
  D: "returned to normal unacknowledged",
  E: "latched unacknowledged",
  F: "latched acknowledged",
  G: "shelved",
  H: "suppressed by design",
  I: "out of service",
};

const events: Readonly<Record<string, AlarmEvent>> = {
  "alarm occurs": { kind: "condition true" },
  "process returns to normal": { kind: "condition false", isLatched: false },
  "process returns to normal, alarm latches": { kind: "condition false", isLatched: true },
  reset: { kind: "reset" },
  acknowledge: { kind: "acknowledge" },
  "re-alarm": { kind: "re-alarm" },
  shelve: { kind: "shelve" },
  "suppress by design": { kind: "suppress" },
  "remove from service": { kind: "remove from service" },
  "unshelve, alarm": { kind: "unshelve", isActive: true },
  "unshelve, normal": { kind: "unshelve", isActive: false },
  "return to service, alarm": { kind: "return to service", isActive: true },
  "return to service, normal": { kind: "return to service", isActive: false },
  "unsuppress, alarm": { kind: "unsuppress", isActive: true, before: "normal" },
  "unsuppress, normal": { kind: "unsuppress", isActive: false, before: "normal" },
  "unsuppress, alarm that was acknowledged": { kind: "unsuppress", isActive: true, before: "acknowledged" },
  "unsuppress, normal, was unacknowledged": { kind: "unsuppress", isActive: false, before: "unacknowledged" },
};

const legal: readonly (readonly [from: string, event: string, to: string, source?: "ours"])[] = [
  ["A", "alarm occurs", "B"],
  ["D", "alarm occurs", "B"],
  ["E", "alarm occurs", "B"],
  ["F", "alarm occurs", "B"],
  ["B", "acknowledge", "C"],
  ["D", "acknowledge", "A"],
  ["E", "acknowledge", "F"],
  ["B", "process returns to normal", "D"],
  ["C", "process returns to normal", "A"],
  ["B", "process returns to normal, alarm latches", "E"],
  ["C", "process returns to normal, alarm latches", "F"],
  ["F", "reset", "A"],
  ["E", "reset", "D", "ours"],
  ["C", "re-alarm", "B"],
  ["F", "re-alarm", "B"],
  ...Array.from("ABCDEFH").map((from) => [from, "shelve", "G"] as const),
  ...Array.from("ABCDEFG").map((from) => [from, "suppress by design", "H"] as const),
  ...Array.from("ABCDEFGH").map((from) => [from, "remove from service", "I"] as const),
  ["G", "unshelve, alarm", "B"],
  ["G", "unshelve, normal", "A"],
  ["I", "return to service, alarm", "B"],
  ["I", "return to service, normal", "A"],
  ["H", "unsuppress, alarm", "B"],
  ["H", "unsuppress, normal", "A"],
  ["H", "unsuppress, alarm that was acknowledged", "C", "ours"],
  ["H", "unsuppress, normal, was unacknowledged", "D", "ours"],
];

describe("nextState", () => {
  const everyPair = Object.keys(letters).flatMap((from) =>
    Object.keys(events).map((event) => ({
      from,
      event,
      to: legal.find(([state, name]) => state === from && name === event)?.[2],
    })),
  );

  it("knows the nine states of the standard", () => {
    expect([...alarmStates]).toEqual(Object.values(letters));
  });

  it.each(everyPair)("leads from $from by $event to $to", ({ from, event, to }) => {
    expect(nextState(letters[from]!, events[event]!)).toBe(to === undefined ? undefined : letters[to]);
  });
});
