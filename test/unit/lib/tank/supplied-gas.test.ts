import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { flowOfBubbles, flowOfLoss, suppliedGas } from "../../../../lib/tank/supplied-gas.js";

describe("the flow of a bubble counter", () => {
  it("is that of CO2 with its water vapour at one atmosphere", () => {
    // A bubble a second of the geometric middle of 30 and 100 mm3 (common practice, no source) at 25 degC. Vapour pressure of water
    // 3.169 kPa and second virial coefficient of CO2 -122.7 cm3/mol (both CRC Handbook, from memory): 98.156 kPa, Z = 0.9951.
    const volume_L = 3600 * Math.sqrt(30 * 100) * 1e-6;
    const amount_mol = (98.156 * volume_L) / (8.314463 * 298.15) / 0.9951;
    const { flow_gPerH } = flowOfBubbles({ bubbles_perMin: 60, temperature_degC: 25 });
    expect(flow_gPerH / (amount_mol * 44.0095)).toBeCloseTo(1, 3);
  });

  it("is known by a factor of nearly two either way, as bubbles differ", () => {
    const { flowSigma_ln } = flowOfBubbles({ bubbles_perMin: 60, temperature_degC: 25 });
    expect(Math.exp(1.2816 * flowSigma_ln)).toBeGreaterThan(Math.sqrt(100 / 30));
    expect(Math.exp(1.2816 * flowSigma_ln)).toBeLessThan(2);
  });

  it("refuses a count that no eye makes", () => {
    expect(() => flowOfBubbles({ bubbles_perMin: 2000, temperature_degC: 25 })).toThrow(OutOfValidRangeError);
    expect(() => flowOfBubbles({ bubbles_perMin: 60, temperature_degC: 45 })).toThrow(OutOfValidRangeError);
  });
});

describe("the gas that goes to a tank", () => {
  const bubbles = { flow_gPerH: 0.5, flowSigma_ln: 0.47 };

  it("is by what the vessel loses where that is known better, else by the bubbles", () => {
    const well = flowOfLoss({ value: 0.4, deviation: 0.04 });
    expect(suppliedGas({ bubbles, loss: well }, 1)).toMatchObject({
      by: "what the vessel loses",
      flow_gPerH: 0.4,
    });
    const badly = flowOfLoss({ value: 0.4, deviation: 0.199 });
    expect(suppliedGas({ bubbles, loss: badly }, 1)).toMatchObject({ by: "bubble count", flow_gPerH: 0.5 });
  });

  it.each([
    { value: 0.4, deviation: 0.3 },
    { value: 0, deviation: 0 },
    { value: 0.4, deviation: NaN },
  ])("is not by a loss of $value +- $deviation g an hour", (loss) => {
    expect(flowOfLoss(loss)).toBeUndefined();
  });

  it("is the tank's share of a split line, and unknown where nothing is counted", () => {
    expect(suppliedGas({ bubbles, loss: undefined }, 0.25)?.flow_gPerH).toBe(0.125);
    expect(suppliedGas({ bubbles: undefined, loss: undefined }, 1)).toBeUndefined();
    expect(suppliedGas({ bubbles: { ...bubbles, flow_gPerH: 0 }, loss: undefined }, 1)).toBeUndefined();
  });
});
