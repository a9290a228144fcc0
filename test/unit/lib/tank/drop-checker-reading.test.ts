import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { readDropChecker } from "../../../../lib/tank/drop-checker-reading.js";

const settled = { tankCo2_mgPerL: 25, liquidCo2_mgPerL: 25 };
const seen = { temperature_degC: 25, model: settled };

describe("a drop-checker colour that a person reports", () => {
  it("takes green at 4 dKH for about 15 to 35 mg/L (common practice, no source)", () => {
    const { liquidCo2Low_mgPerL, liquidCo2High_mgPerL, evidence } = readDropChecker({
      ...seen,
      colour: "green",
    });
    expect(Math.abs(liquidCo2Low_mgPerL! / 15 - 1)).toBeLessThan(0.1);
    expect(Math.abs(liquidCo2High_mgPerL! / 35 - 1)).toBeLessThan(0.1);
    expect(evidence.reach).toBe("about");
    expect(evidence.co2_mgPerL).toBeGreaterThan(20);
    expect(evidence.co2_mgPerL).toBeLessThan(26);
  });

  it("knows a settled colour to a factor of about 1.6 either way, four times in five: 0.2 pH and the pKa's range", () => {
    const { ownSigma_ln } = readDropChecker({ ...seen, colour: "green" }).evidence;
    expect(Math.exp(1.2816 * ownSigma_ln)).toBeGreaterThan(1.58);
    expect(Math.exp(1.2816 * ownSigma_ln)).toBeLessThan(1.7);
  });

  it.each([
    { colour: "blue", reach: "at most", because: "the scale ends there" },
    { colour: "blue-green", reach: "about", because: "it lies between two others" },
    { colour: "yellow-green", reach: "about", because: "it lies between two others" },
    { colour: "yellow", reach: "at least", because: "it is yellow at any CO2 above" },
  ] as const)("lets $colour say $reach: $because", ({ colour, reach }) => {
    const reading = readDropChecker({ ...seen, colour });
    expect(reading.evidence.reach).toBe(reach);
    expect(reading.liquidCo2Low_mgPerL === undefined).toBe(reach === "at most");
    expect(reading.liquidCo2High_mgPerL === undefined).toBe(reach === "at least");
  });

  it("has nothing to do with the tank's probe", () => {
    expect(readDropChecker({ ...seen, colour: "green" }).evidence).toMatchObject({
      method: "drop checker",
      probeOffset_lnPerPh: 0,
      probeReading_lnPerPh: 0,
    });
  });

  it("is widened, not shifted, while the liquid lags behind the tank", () => {
    const still = readDropChecker({ ...seen, colour: "green" }).evidence;
    const rising = readDropChecker({
      ...seen,
      colour: "green",
      model: { tankCo2_mgPerL: 30, liquidCo2_mgPerL: 15 },
    }).evidence;
    expect(rising.co2_mgPerL).toBe(still.co2_mgPerL);
    expect(rising.ownSigma_ln).toBeCloseTo(Math.hypot(still.ownSigma_ln, Math.LN2), 9);
    const unknown = readDropChecker({ temperature_degC: 25, colour: "green" }).evidence;
    expect(unknown.ownSigma_ln).toBeGreaterThan(still.ownSigma_ln);
  });

  it("scales with the hardness of the liquid and widens with doubt of it", () => {
    const four = readDropChecker({ ...seen, colour: "green" }).evidence;
    const eight = readDropChecker({ ...seen, colour: "green", referenceKh_dKH: 8 }).evidence;
    expect(Math.abs(eight.co2_mgPerL / four.co2_mgPerL / 2 - 1)).toBeLessThan(0.05);
    const tapWater = readDropChecker({ ...seen, colour: "green", referenceKhError_ratio: 0.5 }).evidence;
    expect(tapWater.ownSigma_ln).toBeGreaterThan(0.6);
  });

  it("refuses a model or an error outside its range", () => {
    expect(() =>
      readDropChecker({ ...seen, colour: "green", model: { tankCo2_mgPerL: -1, liquidCo2_mgPerL: 1 } }),
    ).toThrow(OutOfValidRangeError);
    expect(() => readDropChecker({ ...seen, colour: "green", referenceKhError_ratio: 2 })).toThrow(
      OutOfValidRangeError,
    );
  });
});
