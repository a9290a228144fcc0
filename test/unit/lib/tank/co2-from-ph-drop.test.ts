import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { degassingMethods } from "../../../../lib/journal/journal-entry.js";
import { waterPh } from "../../../../lib/simulation/water-ph.js";
import { airEquilibriumCo2_mgPerL } from "../../../../lib/tank/air-equilibrium.js";
import { co2FromPhDrop, degassedCo2, phDropEvidence } from "../../../../lib/tank/co2-from-ph-drop.js";

const aerated = { pH: 8.2, how: "aerated a day", roomCo2_ppm: 500, temperature_degC: 25 } as const;
const tank = { pH: 6.6, temperature_degC: 25, baseline: aerated };

/** pH of a water by constants of another origin (Harned & Davis 1943, Harned & Scholes 1941), so that nothing is turned round on itself. */
function shown(co2_mgPerL: number, kh_dKH: number, temperature_degC: number): number {
  return waterPh({ co2_mgPerL, kh_dKH, temperature_degC, ionicStrength_molPerL: 0.005 });
}

describe("CO2 from the pH drop", () => {
  it.each([
    { kh_dKH: 1, because: "soft water" },
    { kh_dKH: 4, because: "an ordinary tank" },
    { kh_dKH: 12, because: "hard water, where carbonate counts in the degassed sample" },
  ])("finds 30 mg/L without being told the hardness: $because", ({ kh_dKH }) => {
    const degassed_mgPerL = airEquilibriumCo2_mgPerL({ temperature_degC: 25, roomCo2_ppm: 500 });
    const estimate = co2FromPhDrop({
      pH: shown(30, kh_dKH, 25),
      temperature_degC: 25,
      baseline: { ...aerated, pH: shown(degassed_mgPerL, kh_dKH, 25) },
    });
    expect(Math.abs(estimate.co2_mgPerL / 30 - 1)).toBeLessThan(0.01);
    expect(Math.abs(estimate.impliedKh_dKH / kh_dKH - 1)).toBeLessThan(0.03);
  });

  it("allows for a sample read cooler than the tank", () => {
    const degassed_mgPerL = airEquilibriumCo2_mgPerL({ temperature_degC: 20, roomCo2_ppm: 500 });
    const pH = shown(degassed_mgPerL, 4, 20);
    const baseline = { ...aerated, pH, temperature_degC: 20 };
    const { co2_mgPerL } = co2FromPhDrop({ pH: shown(30, 4, 26), temperature_degC: 26, baseline });
    expect(Math.abs(co2_mgPerL / 30 - 1)).toBeLessThan(0.01);
  });

  it("knows that a drop of 1.0 from air is 6 mg/L and not 30, which silently begins at 3", () => {
    const baseline = { ...aerated, pH: 7.6, roomCo2_ppm: 420 };
    const { co2_mgPerL } = co2FromPhDrop({ pH: 6.6, temperature_degC: 25, baseline });
    // Ten times the 0.61 mg/L of Weiss (1974); carbonate at pH 7.6 is under 1 %.
    expect(co2_mgPerL).toBeCloseTo(6.1, 1);
  });

  it("does not move with the probe's offset, and does with its slope", () => {
    const { co2_mgPerL } = co2FromPhDrop(tank);
    const offset = co2FromPhDrop({ ...tank, pH: 6.7, baseline: { ...aerated, pH: 8.3 } });
    expect(Math.abs(offset.co2_mgPerL / co2_mgPerL - 1)).toBeLessThan(0.005);
    const wide = co2FromPhDrop({ ...tank, slopeUncertainty_ratio: 0.1 });
    expect(wide.co2High80_mgPerL).toBeGreaterThan(co2FromPhDrop(tank).co2High80_mgPerL * 1.2);
  });

  it("trusts a baseline the less the worse it was degassed, and the more where the room's air is known", () => {
    const spreads = degassingMethods.map((how) => degassedCo2({ how, temperature_degC: 25 }).sigma_ln);
    expect(spreads).toEqual([...spreads].sort((a, b) => a - b));
    for (const how of degassingMethods) {
      const known = degassedCo2({ how, temperature_degC: 25, roomCo2_ppm: 500 });
      expect(known.sigma_ln).toBeLessThan(degassedCo2({ how, temperature_degC: 25 }).sigma_ln);
    }
  });

  it.each([
    {
      how: "aerated a day",
      roomCo2_ppm: 420,
      low: 0.5,
      high: 0.75,
      because: "at rest with fresh air: 0.6 mg/L",
    },
    { how: "aerated a day", low: 0.6, high: 1.75, because: "a lived-in room holds 450 to 1100 ppm" },
    {
      how: "stood in a glass",
      low: 0.9,
      high: 5,
      because: "a glass that has not finished keeps 2 to 3 mg/L",
    },
  ] as const)("spans what practice finds in a degassed sample: $because", ({ how, low, high, ...room }) => {
    const roomCo2_ppm = "roomCo2_ppm" in room ? room.roomCo2_ppm : undefined;
    const { co2_mgPerL, sigma_ln } = degassedCo2({ how, temperature_degC: 25, roomCo2_ppm });
    expect(co2_mgPerL * Math.exp(-1.2816 * sigma_ln)).toBeGreaterThan(low);
    expect(co2_mgPerL * Math.exp(1.2816 * sigma_ln)).toBeLessThan(high);
  });

  it("gives evidence in which the offset cancels, until a calibration comes between", () => {
    expect(phDropEvidence(tank)).toMatchObject({
      method: "pH drop",
      probeOffset_lnPerPh: 0,
      probeReading_lnPerPh: -Math.LN10,
      reach: "about",
    });
    const after = phDropEvidence({ ...tank, isRecalibratedSince: true });
    expect(after.probeOffset_lnPerPh).toBe(-Math.LN10);
    expect(after.ownSigma_ln).toBeGreaterThan(phDropEvidence(tank).ownSigma_ln);
  });

  it("takes a pH above the baseline for less CO2 than the sample held", () => {
    const estimate = co2FromPhDrop({ ...tank, pH: 8.4 });
    expect(estimate.phDrop).toBeCloseTo(-0.2, 9);
    expect(estimate.co2_mgPerL).toBeLessThan(estimate.degassedCo2_mgPerL);
  });

  it.each([
    { reading: { ...tank, pH: 3.9 }, quantity: "pH" },
    { reading: { ...tank, baseline: { ...aerated, pH: 10.5 } }, quantity: "degassed pH" },
    { reading: { ...tank, temperature_degC: 41 }, quantity: "temperature" },
    { reading: { ...tank, baseline: { ...aerated, pH: 9.6 } }, quantity: "alkalinity by the degassed pH" },
    { reading: { ...tank, baseline: { ...aerated, roomCo2_ppm: 10 } }, quantity: "CO2 in the room" },
    { reading: { ...tank, slopeUncertainty_ratio: 0.5 }, quantity: "slope uncertainty" },
  ])("refuses a $quantity outside its range", ({ reading, quantity }) => {
    expect(() => co2FromPhDrop(reading)).toThrow(OutOfValidRangeError);
    expect(() => co2FromPhDrop(reading)).toThrow(quantity);
  });
});
