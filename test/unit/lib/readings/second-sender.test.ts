import { describe, expect, it } from "vitest";
import { secondSender, withValueHeard, type HeardValues } from "../../../../lib/readings/second-sender.js";

function heard(values: readonly number[], every_ms = 1000): HeardValues {
  let state: HeardValues | undefined;
  values.forEach((value, index) => {
    state = withValueHeard(state, value, index * every_ms, 60_000);
  });
  return state!;
}
const repeated = (values: readonly number[], times: number): readonly number[] =>
  Array.from({ length: times }, () => values).flat();
const gate = 0.5;

describe("a second sender on a sensor's topic", () => {
  it.each<{ values: readonly number[]; says: number | undefined; because: string }>([
    { values: repeated([6.8, 6.81, 5.5], 5), says: 5.5, because: "one in three says another value" },
    { values: repeated([5.5, 6.81, 6.8], 5), says: 5.5, because: "it begins with the other" },
    { values: repeated([24.5, 24.6, 76.1], 5), says: 76.1, because: "what is implausible counts too" },
    { values: repeated([6.8, 6.8, 6.81, 6.8, 5.5], 5), says: 5.5, because: "one in five is found too" },
    { values: repeated([6.8, 6.81], 12), says: undefined, because: "one sender is never quite still" },
    {
      values: [...repeated([6.8], 8), 5.5, ...repeated([6.8], 8), 5.5, 6.8],
      says: undefined,
      because: "two spikes are no sender",
    },
    {
      values: [...repeated([6.8], 10), ...repeated([6.1], 10)],
      says: undefined,
      because: "a step stays where it is",
    },
    {
      values: Array.from({ length: 24 }, (_, n) => 7.6 - n * 0.08),
      says: undefined,
      because: "pH falls while gas flows",
    },
    {
      values: repeated([6.8, 6.8, 5.2, 6.8, 8.9, 6.8, 7.7, 6.8], 3),
      says: undefined,
      because: "spikes that are nowhere near to each other come from no sender",
    },
  ])("says $says, as $because", ({ values, says }) => {
    const found = secondSender(heard(values), gate);
    if (says === undefined) expect(found).toBeUndefined();
    else expect(found).toBeCloseTo(says, 6);
  });

  it("is forgotten after a silence", () => {
    const before = heard(repeated([6.8, 6.81, 5.5], 5));
    const after = withValueHeard(before, 6.8, before.lastHeard_monotonicMs + 60_001, 60_000);
    expect(secondSender(after, gate)).toBeUndefined();
  });
});
