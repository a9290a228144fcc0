import { describe, expect, it } from "vitest";
import { usualUse_gPerDay } from "../../../../lib/charge-plan/usual-use.js";
import { OutOfValidRangeError } from "../../../../lib/errors.js";

describe("what tanks usually take", () => {
  // Common practice, no source: a bubble a second for 50 to 100 L, which is 0.1 to 0.33 g an hour, for 8 hours.
  it.each([
    { tankVolume_L: 100, low: 0.8, high: 5.28 },
    { tankVolume_L: 250, low: 2, high: 13.2 },
  ])("is $low to $high g a day for $tankVolume_L L", ({ tankVolume_L, low, high }) => {
    const use = usualUse_gPerDay(tankVolume_L);
    expect(use.low).toBeCloseTo(low, 9);
    expect(use.high).toBeCloseTo(high, 9);
    expect(use.value / use.low).toBeCloseTo(use.high / use.value, 9);
  });

  it("is not told of no tank", () => {
    expect(() => usualUse_gPerDay(0)).toThrow(OutOfValidRangeError);
  });
});
