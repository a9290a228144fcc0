import { describe, expect, it } from "vitest";
import { supplyLeft } from "../../../../daemon/page/supply-left.js";

const amount = (value_g: number) => ({
  value_g,
  low80_g: value_g - 2,
  high80_g: value_g + 2,
  low95_g: value_g - 3,
  high95_g: value_g + 3,
});
const estimate = { charge_g: 50, remaining: amount(40), deliverable: amount(25) };

describe("what is left, as shares of the charge", () => {
  it("tells what is there, and what of it can be dosed", () => {
    expect(supplyLeft(estimate)).toEqual({
      remaining_ratio: 0.8,
      remainingLow80_ratio: 0.76,
      remainingHigh80_ratio: 0.84,
      dosable_ratio: 0.5,
    });
  });

  it("never draws more as dosable than there is", () => {
    expect(supplyLeft({ ...estimate, remaining: amount(20) })?.dosable_ratio).toBe(0.4);
  });

  it("says nothing before there is an estimate", () => {
    expect(supplyLeft(undefined)).toBeUndefined();
  });
});
