import { describe, expect, it } from "vitest";
import { isPlausible } from "../../../../lib/readings/plausible-span.js";

describe("a plausible span", () => {
  it.each([
    [4, true, "its lower end"],
    [9.5, true, "its upper end"],
    [3.999, false, "below"],
    [9.501, false, "above"],
    [Number.NaN, false, "no number"],
    [Number.POSITIVE_INFINITY, false, "no finite number"],
  ])("holds %d: %s (%s)", (value, expected) => {
    expect(isPlausible(value, { minimum: 4, maximum: 9.5 })).toBe(expected);
  });
});
