import { describe, expect, it } from "vitest";
import { UnknownNameError } from "../../../../lib/errors.js";
import {
  differenceToCanonical,
  quantityOf,
  sensorUnitFrom,
  toCanonical,
  type SensorKind,
  type SensorUnit,
} from "../../../../lib/readings/sensor-unit.js";

describe("a sensor's unit", () => {
  // Exact by the definitions in the SI Brochure (9th edition, 2019) and NIST SP 811 (2008), appendix B: 1 psi = 6894.757 Pa,
  // 1 kgf/cm2 = 98066.5 Pa, 1 atm = 101325 Pa, t/degC = (t/degF - 32)/1.8.
  it.each<[SensorUnit, number, number, string]>([
    [{ kind: "pressure", unit: "psi", reference: "gauge" }, 290, 19.9948, "290 x 6894.757 Pa"],
    [
      { kind: "pressure", unit: "kPa", reference: "absolute" },
      101.325,
      0,
      "the atmosphere is no gauge pressure",
    ],
    [{ kind: "pressure", unit: "kgf/cm2", reference: "gauge" }, 20, 19.6133, "technical atmospheres"],
    [{ kind: "pressure", unit: "MPa", reference: "gauge" }, 2, 20, "decimal"],
    [{ kind: "pressure", unit: "bar", reference: "gauge" }, 18.5, 18.5, "the canonical unit"],
    [{ kind: "temperature", unit: "degF" }, 77, 25, "room temperature"],
    [{ kind: "temperature", unit: "degF" }, -40, -40, "where both scales meet"],
    [{ kind: "temperature", unit: "K" }, 298.15, 25, "thermodynamic"],
    [{ kind: "temperature", unit: "degC" }, 25.5, 25.5, "the canonical unit"],
    [{ kind: "mass", unit: "kg" }, 3.251, 3251, "a scale in kilograms"],
    [{ kind: "mass", unit: "g" }, 3251, 3251, "a scale in grams"],
    [{ kind: "pH" }, 6.62, 6.62, "one unit only"],
    [{ kind: "co2InAir" }, 850, 850, "one unit only"],
    [{ kind: "bubbleRate" }, 60, 60, "one unit only"],
  ])("%j: %d becomes %d (%s)", (unit, value, expected) => {
    expect(toCanonical(value, unit)).toBeCloseTo(expected, 4);
  });

  it.each<[SensorUnit, number, number, string]>([
    [{ kind: "temperature", unit: "degF" }, 9, 5, "a difference has no zero point"],
    [{ kind: "temperature", unit: "K" }, 5, 5, "kelvins and degrees Celsius are of one size"],
    [{ kind: "temperature", unit: "degC" }, 5, 5, "the canonical unit"],
    [{ kind: "pressure", unit: "bar", reference: "absolute" }, 3, 3, "the atmosphere drops out"],
    [{ kind: "pressure", unit: "psi", reference: "gauge" }, 14.5038, 1, "14.5038 psi in a bar"],
    [{ kind: "mass", unit: "kg" }, 0.005, 5, "a resolution of 5 g"],
    [{ kind: "pH" }, 0.5, 0.5, "one unit only"],
    [{ kind: "co2InAir" }, 50, 50, "one unit only"],
    [{ kind: "bubbleRate" }, 5, 5, "one unit only"],
  ])("%j: a difference of %d becomes %d (%s)", (unit, difference, expected) => {
    expect(differenceToCanonical(difference, unit)).toBeCloseTo(expected, 5);
  });

  it("names the quantity that each kind gives", () => {
    expect(
      (["pH", "temperature", "pressure", "mass", "co2InAir", "bubbleRate"] as const).map(quantityOf),
    ).toEqual(["pH", "temperature_degC", "pressureGauge_bar", "mass_g", "co2InAir_ppm", "bubbleRate_perMin"]);
  });

  it("is gauge pressure when no reference is stated", () => {
    expect(sensorUnitFrom("pressure", { unit: "psi" })).toEqual({
      kind: "pressure",
      unit: "psi",
      reference: "gauge",
    });
  });

  it.each<[SensorKind, { unit?: string; reference?: string }, string]>([
    ["pressure", {}, "pressure without a unit"],
    ["pressure", { unit: "degC" }, "a unit of another kind"],
    ["pressure", { unit: "PSI" }, "units are spelt one way"],
    ["pressure", { unit: "bar", reference: "sealed" }, "an unknown reference"],
    ["temperature", { unit: "F" }, "an unknown unit"],
    ["temperature", { unit: "degC", reference: "gauge" }, "a reference that only pressure has"],
    ["mass", { unit: "lb" }, "an unknown unit"],
    ["pH", { unit: "mV" }, "pH has one unit"],
    ["co2InAir", { unit: "ppm" }, "no unit needs stating"],
    ["bubbleRate", { unit: "perMin" }, "no unit needs stating"],
  ])("refuses %s with %j (%s)", (kind, given) => {
    expect(() => sensorUnitFrom(kind, given)).toThrow(UnknownNameError);
  });
});
