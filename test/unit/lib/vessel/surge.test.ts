import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Charge } from "../../../../lib/vessel/charge.js";
import { depletionCurve } from "../../../../lib/vessel/depletion.js";
import { usualSupplyPressureEffect_ratio } from "../../../../lib/vessel/regulator.js";
import {
  supplyOfCharge,
  supplyOfCylinder,
  surgeCourse,
  surgeForecast,
  surgeLimits,
  type GasSupply,
  type GasTrain,
} from "../../../../lib/vessel/surge.js";

const charge: Charge = {
  vesselVolume_L: 2,
  water_kg: 0.5,
  acid: { kind: "citric-acid-anhydrous", mass_g: 105 },
  sodiumBicarbonate_g: 130,
  sealedAt_degC: 20,
};
const curve = depletionCurve(charge, { temperature_degC: 20, withdrawal: "headspace" });
const cylinder = { volume_L: 0.75, co2_kg: 0.5 };
const train = (supplyPressureEffect_ratio: number, more: Partial<GasTrain> = {}): GasTrain => ({
  regulator: { kind: "single-stage", stage: { setGauge_bar: 2, supplyPressureEffect_ratio } },
  behindNeedleGauge_bar: 0.3,
  leastInletGauge_bar: 2,
  use_molPerDay: 0.05,
  ...more,
});

/** A rigid bottle of an ideal gas: pressure falls in proportion to what is taken. */
const bottle = (fullGauge_bar: number): GasSupply => ({
  fullGauge_bar,
  deliveredAt_mol: (inlet_bar) => (fullGauge_bar - inlet_bar) / 10,
});

describe("the course of a supply", () => {
  it("starts at what was set and ends at the least inlet, falling in pressure all the way", () => {
    const { points } = surgeCourse(supplyOfCharge(curve), train(0.04));
    const [first, last] = [points[0]!, points.at(-1)!];
    expect(first.flow).toEqual({ nozzle_ratio: 1, viscous_ratio: 1 });
    expect(first.outletGauge_bar).toBeCloseTo(2, 12);
    expect(first.delivered_ratio).toBe(0);
    expect(last.inletGauge_bar).toBe(2);
    expect(last.delivered_ratio).toBe(1);
    for (const [k, point] of points.slice(1).entries()) {
      expect(point.inletGauge_bar).toBeLessThanOrEqual(points[k]!.inletGauge_bar);
      expect(point.delivered_mol).toBeGreaterThanOrEqual(points[k]!.delivered_mol - 1e-9);
      expect(point.elapsed_days).toBeGreaterThanOrEqual(points[k]!.elapsed_days - 1e-9);
    }
  });

  it("is largest where the seat comes to stand wide open, and falls from there", () => {
    const course = surgeCourse(bottle(20), train(0.04));
    const wideOpen_bar = (2 + 0.04 * 20) / 1.04;
    expect(course.largest.inletGauge_bar).toBeCloseTo(wideOpen_bar, 9);
    expect(course.largest.flow.nozzle_ratio).toBeCloseTo((wideOpen_bar + 1.01325) / 3.01325, 9);
    expect(course.points.at(-1)!.flow.nozzle_ratio).toBeLessThan(course.largest.flow.nozzle_ratio);
  });

  it("is largest at the end when the user stops before the seat opens wide", () => {
    const course = surgeCourse(bottle(20), train(0.04, { leastInletGauge_bar: 5 }));
    expect(course.largest).toBe(course.points.at(-1));
    expect(course.largest.outletGauge_bar).toBeCloseTo(2.6, 9);
  });

  it("lasts as long as the growing flow allows", () => {
    // dn = use m dt with m linear in the pressure, and the pressure in n: t = ln(m) (n / (m - 1)) / use.
    const course = surgeCourse(bottle(20), train(0.04, { leastInletGauge_bar: 5 }));
    const m = (2.6 + 1.01325) / 3.01325;
    expect(course.lasts_days / ((1.5 / 0.05) * (Math.log(m) / (m - 1)))).toBeCloseTo(1, 3);
    expect(surgeCourse(bottle(20), train(0, { leastInletGauge_bar: 5 })).lasts_days).toBeCloseTo(30, 9);
  });

  it("starts below what was set when the screw was turned at a lower inlet", () => {
    const { points, largest } = surgeCourse(bottle(20), train(0.04, { setAtInletGauge_bar: 10 }));
    // The definition of the supply-pressure effect: 4 % of 10 bar.
    expect(points[0]!.outletGauge_bar).toBeCloseTo(1.6, 9);
    expect(largest.inletGauge_bar).toBeCloseTo((2 + 0.04 * 10) / 1.04, 9);
    expect(largest.flow.nozzle_ratio).toBeCloseTo((largest.outletGauge_bar + 1.01325) / 2.61325, 9);
  });

  it("is noticed where the flow through a narrow gap is up by a tenth", () => {
    const { noticed } = surgeCourse(bottle(20), train(0.04));
    const outlet_bar = Math.sqrt(1.1 * (3.01325 ** 2 - 1.31325 ** 2) + 1.31325 ** 2) - 1.01325;
    expect(noticed!.outletGauge_bar).toBeCloseTo(outlet_bar, 9);
    expect(surgeCourse(bottle(20), train(0)).noticed).toBeUndefined();
    expect(surgeCourse(bottle(20), train(0)).halfOfRiseAt_ratio).toBeUndefined();
  });

  it("never has less flow than was set while a single stage regulates, through either opening", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 0.1, noNaN: true }),
        fc.double({ min: 6, max: 70, noNaN: true }),
        fc.double({ min: 0.1, max: 0.5, noNaN: true }),
        (effect, full_bar, behindNeedleGauge_bar) => {
          const { points, largest } = surgeCourse(
            bottle(full_bar),
            train(effect, { behindNeedleGauge_bar, leastInletGauge_bar: 1 }),
          );
          let before = 1;
          for (const point of points) {
            if (point.inletGauge_bar < largest.inletGauge_bar) break;
            expect(point.flow.nozzle_ratio).toBeGreaterThanOrEqual(before - 1e-9);
            expect(point.flow.viscous_ratio).toBeGreaterThanOrEqual(point.flow.nozzle_ratio - 1e-9);
            before = point.flow.nozzle_ratio;
          }
        },
      ),
      { seed: 20_250_301, numRuns: 200 },
    );
  });

  it("rises more with a larger effect and with a fuller supply", () => {
    const largest = (effect: number, full_bar: number): number =>
      surgeCourse(bottle(full_bar), train(effect)).largest.flow.nozzle_ratio;
    expect(largest(0.04, 20)).toBeGreaterThan(largest(0.02, 20));
    expect(largest(0.04, 20)).toBeGreaterThan(largest(0.04, 12));
  });

  it.each([
    { effect: 0.003, verdict: "steady", because: "4 % at the most" },
    { effect: 0.02, verdict: "creeps", because: "a quarter at the most" },
    { effect: 0.07, verdict: "surges", because: "twice, through a narrow gap" },
  ])("of a charge of 19 bar $verdict with an effect of $effect: $because", ({ effect, verdict }) => {
    const course = surgeCourse(supplyOfCharge(curve), train(effect));
    expect(course.verdict).toBe(verdict);
    expect(course.noticed !== undefined).toBe(course.largest.flow.viscous_ratio >= surgeLimits.noticed_ratio);
  });

  it("stays steady with two stages until the first stands wide open", () => {
    const regulator = {
      kind: "two-stage",
      first: { setGauge_bar: 8, supplyPressureEffect_ratio: 0.03 },
      second: { setGauge_bar: 2, supplyPressureEffect_ratio: 0.03 },
    } as const;
    const course = surgeCourse(supplyOfCharge(curve), { ...train(0), regulator });
    const before = course.points.filter((point) => point.inletGauge_bar > 8.4);
    expect(before.length).toBeGreaterThan(4);
    for (const point of before) expect(Math.abs(point.flow.viscous_ratio - 1)).toBeLessThan(0.015);
    expect(course.largest.flow.nozzle_ratio).toBeLessThan(
      surgeCourse(supplyOfCharge(curve), train(0.03)).largest.flow.nozzle_ratio,
    );
  });

  it.each<readonly [string, Partial<GasTrain>, string]>([
    ["a least inlet above the full pressure", { leastInletGauge_bar: 25 }, "least inlet pressure"],
    ["a least inlet below what stands behind", { leastInletGauge_bar: 0.2 }, "least inlet pressure"],
    ["no use", { use_molPerDay: 0 }, "daily use of CO2"],
    ["a diffuser at a negative pressure", { behindNeedleGauge_bar: -0.1 }, "pressure behind the needle"],
    [
      "a diffuser at the working pressure",
      { behindNeedleGauge_bar: 2, leastInletGauge_bar: 2.5 },
      "pressure behind the needle",
    ],
  ])("refuses %s", (_name, more, quantity) => {
    expect(() => surgeCourse(bottle(20), train(0.04, more))).toThrow(expect.objectContaining({ quantity }));
  });
});

describe("a regulator whose maker states no effect", () => {
  it.each([
    { regulator: "goodSingleStage", low: "steady", high: "creeps" },
    { regulator: "smallSingleStage", low: "creeps", high: "surges" },
    { regulator: "twoStage", low: "steady", high: "steady" },
  ] as const)("$regulator: $low at best, $high at worst, on a charge of 19 bar", (row) => {
    const usual = usualSupplyPressureEffect_ratio[row.regulator];
    expect(surgeCourse(supplyOfCharge(curve), train(usual.low)).verdict).toBe(row.low);
    expect(surgeCourse(supplyOfCharge(curve), train(usual.high)).verdict).toBe(row.high);
  });
});

describe("a charge beside a bought cylinder", () => {
  it("rises by a third as much, and from the first day instead of at the end", () => {
    const forecast = surgeForecast(curve, cylinder, train(0.04));
    const compared = forecast.cylinder;
    if (compared.kind !== "compared") throw new Error("no cylinder at 20 degC");
    expect(compared.chargeOverCylinder_ratio).toBeGreaterThan(0.25);
    expect(compared.chargeOverCylinder_ratio).toBeLessThan(0.4);
    expect(forecast.charge.halfOfRiseAt_ratio).toBeGreaterThan(0.4);
    expect(forecast.charge.halfOfRiseAt_ratio).toBeLessThan(0.6);
    expect(compared.course.halfOfRiseAt_ratio).toBeGreaterThan(0.85);
  });

  it("leaves the cylinder's flow as it was until the liquid has gone", () => {
    const supply = supplyOfCylinder({ ...cylinder, temperature_degC: 20 });
    const { points } = surgeCourse(supply, train(0.04));
    const dry = points.filter((point) => point.inletGauge_bar === supply.fullGauge_bar);
    // 145.7 g of vapour of 494 g stay when the liquid has gone.
    expect(dry.at(-1)!.delivered_mol).toBeCloseTo((500 - 145.65) / 44.009, 1);
    for (const point of dry) expect(point.flow.nozzle_ratio).toBe(1);
  });

  it("stands alone where the liquid would fill the cylinder", () => {
    // Saturated liquid has 0.593 kg/L at 30 degC (Span and Wagner, CoolProp 8.0.0), the cylinder is filled to 0.667.
    const warm = depletionCurve(charge, { temperature_degC: 30, withdrawal: "headspace" });
    const forecast = surgeForecast(warm, cylinder, train(0.04));
    expect(forecast.cylinder).toEqual({ kind: "liquid-full", temperature_degC: 30 });
    expect(surgeForecast(warm, { ...cylinder, co2_kg: 0.44 }, train(0.04)).cylinder.kind).toBe("compared");
  });

  it("stands alone above the critical temperature, where a cylinder has no liquid", () => {
    const warm = depletionCurve(charge, { temperature_degC: 35, withdrawal: "headspace" });
    const forecast = surgeForecast(warm, cylinder, train(0.04));
    expect(forecast.cylinder).toEqual({ kind: "no-liquid", temperature_degC: 35 });
    expect(forecast.charge.verdict).toBe("surges");
  });
});
