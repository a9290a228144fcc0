import { describe, expect, it } from "vitest";
import {
  distanceFromMedian,
  withValueSeen,
  type MedianWindow,
} from "../../../../lib/readings/median-gate.js";

const longestSilence_ms = 60_000;

function afterSeeing(values: readonly number[]): MedianWindow {
  let window: MedianWindow | undefined;
  values.forEach((value, index) => {
    window = withValueSeen(window, value, index * 1000, longestSilence_ms);
  });
  return window!;
}

describe("the median of the last five values", () => {
  // Table of odd and even windows; the median of an odd number of values is the middle one (ISO 3534-1:2006, 2.13, from memory).
  it.each([
    [[7], 0, "one value is its own median"],
    [[7, 9], 2, "the second of two is not vouched for by itself"],
    [[7, 9, 9], 0, "two of three agree"],
    [[7, 7, 9], 2, "the third stands alone"],
    [[7, 7, 7, 9], 2, "the fourth stands alone"],
    [[7, 7, 9, 9], 2, "two against two: not yet"],
    [[7, 7, 9, 9, 9], 0, "three against two: a step"],
    [[7, 7, 7, 7, 9], 2, "one against four: a spike"],
    [[1, 1, 1, 7, 7, 7], 0, "the sixth value pushes the first out"],
    [[5, 4, 3, 2, 1], 2, "a ramp is two steps from its median"],
  ])("after %j the newest is %d away (%s)", (values, expected) => {
    expect(distanceFromMedian(afterSeeing(values))).toBe(expected);
  });

  it("starts anew after a silence longer than allowed, and not before", () => {
    const window = afterSeeing([7, 7, 7]);
    const late = withValueSeen(window, 9, window.lastSeen_monotonicMs + longestSilence_ms, longestSilence_ms);
    expect(late.values).toEqual([7, 7, 7, 9]);
    const tooLate = withValueSeen(window, 9, window.lastSeen_monotonicMs + 60_001, longestSilence_ms);
    expect(tooLate.values).toEqual([9]);
  });

  it("leaves the window that it was given as it was", () => {
    const window = afterSeeing([7, 7, 7]);
    withValueSeen(window, 9, 5000, longestSilence_ms);
    distanceFromMedian(window);
    expect(window.values).toEqual([7, 7, 7]);
  });
});
