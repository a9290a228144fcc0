import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import {
  regulatorBreaksGauge_bar,
  regulatorOutlet,
  supplyPressureEffectFrom,
  type Regulator,
} from "../../../../lib/vessel/regulator.js";

const single: Regulator = {
  kind: "single-stage",
  setAtInletGauge_bar: 20,
  stage: { setGauge_bar: 2, supplyPressureEffect_ratio: 0.04 },
};
const double: Regulator = {
  kind: "two-stage",
  setAtInletGauge_bar: 60,
  first: { setGauge_bar: 10, supplyPressureEffect_ratio: 0.01 },
  second: { setGauge_bar: 2, supplyPressureEffect_ratio: 0.01 },
};

describe("a single-stage regulator", () => {
  it.each([
    { inlet_bar: 20, outlet_bar: 2, kind: "regulating", because: "it was set there" },
    { inlet_bar: 10, outlet_bar: 2.4, kind: "regulating", because: "4 bar for each 100 bar of fall" },
    { inlet_bar: 25, outlet_bar: 1.8, kind: "regulating", because: "a warmer vessel presses it down" },
    { inlet_bar: 2, outlet_bar: 2, kind: "wide-open", because: "the inlet no longer carries more" },
    { inlet_bar: 0.5, outlet_bar: 0.5, kind: "wide-open", because: "what comes in goes out" },
    { inlet_bar: 0, outlet_bar: 0, kind: "wide-open", because: "nothing is left" },
    { inlet_bar: 90, outlet_bar: 0, kind: "regulating", because: "an outlet is not sucked below the room" },
  ])("gives $outlet_bar bar from $inlet_bar bar: $because", ({ inlet_bar, outlet_bar, kind }) => {
    const outlet = regulatorOutlet(single, inlet_bar);
    expect(outlet.kind).toBe(kind);
    expect(outlet.outletGauge_bar).toBeCloseTo(outlet_bar, 12);
  });

  // Trade definition, 1 % or 1:100: the outlet rises 1 psi when the inlet falls 100 psi.
  it("of 1 % rises 1 psi for 100 psi of fall", () => {
    const psi_bar = 0.0689476;
    const regulator: Regulator = {
      kind: "single-stage",
      setAtInletGauge_bar: 825 * psi_bar,
      stage: { setGauge_bar: 2, supplyPressureEffect_ratio: 0.01 },
    };
    const fallen = regulatorOutlet(regulator, 725 * psi_bar).outletGauge_bar;
    expect((fallen - 2) / psi_bar).toBeCloseTo(1, 6);
  });

  it("stands wide open where the rising outlet meets the falling inlet, and is highest there", () => {
    const [meets_bar] = regulatorBreaksGauge_bar(single);
    expect(meets_bar).toBeCloseTo(2.8 / 1.04, 12);
    const outlet_bar = (inlet: number): number => regulatorOutlet(single, inlet).outletGauge_bar;
    expect(outlet_bar(meets_bar!)).toBeCloseTo(meets_bar!, 12);
    expect(outlet_bar(meets_bar! + 0.1)).toBeLessThan(meets_bar!);
    expect(outlet_bar(meets_bar! - 0.1)).toBeLessThan(meets_bar!);
  });

  it("never falls while it regulates and the inlet falls, and never gives more than comes in", () => {
    const share = fc.double({ min: 0, max: 1, noNaN: true });
    fc.assert(
      fc.property(
        fc.double({ min: 0.1, max: 10, noNaN: true }),
        fc.double({ min: 0, max: 0.2, noNaN: true }),
        fc.double({ min: 11, max: 100, noNaN: true }),
        share,
        share,
        (setGauge_bar, supplyPressureEffect_ratio, setAtInletGauge_bar, one, other) => {
          const regulator: Regulator = {
            kind: "single-stage",
            setAtInletGauge_bar,
            stage: { setGauge_bar, supplyPressureEffect_ratio },
          };
          const early = setAtInletGauge_bar * Math.max(one, other);
          const late = setAtInletGauge_bar * Math.min(one, other);
          const before = regulatorOutlet(regulator, early);
          const after = regulatorOutlet(regulator, late);
          expect(after.outletGauge_bar).toBeLessThanOrEqual(late + 1e-12);
          if (after.kind === "regulating") {
            expect(after.outletGauge_bar).toBeGreaterThanOrEqual(before.outletGauge_bar - 1e-12);
          }
        },
      ),
      { seed: 20_250_301, numRuns: 300 },
    );
  });
});

describe("a two-stage regulator", () => {
  it("multiplies the effects of its stages: 1 % of 1 % is 0.01 %, and downward", () => {
    const outlet_bar = (inlet: number): number => regulatorOutlet(double, inlet).outletGauge_bar;
    expect(outlet_bar(60)).toBeCloseTo(2, 12);
    expect((outlet_bar(60) - outlet_bar(20)) / 40).toBeCloseTo(0.0001, 10);
  });

  it("rises by the second stage's effect alone once the first stands wide open", () => {
    const [first_bar, second_bar] = regulatorBreaksGauge_bar(double);
    expect(first_bar).toBeCloseTo((10 + 0.6) / 1.01, 12);
    expect(second_bar).toBeCloseTo((2 + 0.1) / 1.01, 12);
    const high = regulatorOutlet(double, 9).outletGauge_bar;
    const low = regulatorOutlet(double, 5).outletGauge_bar;
    expect((low - high) / 4).toBeCloseTo(0.01, 10);
    expect(regulatorOutlet(double, 1.5)).toEqual({ kind: "wide-open", outletGauge_bar: 1.5 });
  });

  it("set below the pressure between its stages acts as its second stage", () => {
    const weak: Regulator = { ...double, setAtInletGauge_bar: 8 };
    expect(regulatorOutlet(weak, 8).outletGauge_bar).toBeCloseTo(2, 12);
    expect(regulatorOutlet(weak, 4).outletGauge_bar).toBeCloseTo(2.04, 12);
  });
});

describe("the supply-pressure effect from two readings", () => {
  it("is what made the readings, within the gauge's error", () => {
    const at = (inletGauge_bar: number) => ({
      inletGauge_bar,
      outletGauge_bar: regulatorOutlet(single, inletGauge_bar).outletGauge_bar,
    });
    const learnt = supplyPressureEffectFrom(at(20), at(10), 0.05);
    expect(learnt.value_ratio).toBeCloseTo(0.04, 12);
    expect(learnt.low_ratio).toBeCloseTo(0.03, 12);
    expect(learnt.high_ratio).toBeCloseTo(0.05, 12);
    expect(supplyPressureEffectFrom(at(10), at(20), 0.05)).toEqual(learnt);
  });

  it("is refused from readings that lie less than 1 bar apart", () => {
    const reading = { inletGauge_bar: 10, outletGauge_bar: 2 };
    expect(() => supplyPressureEffectFrom(reading, { ...reading, inletGauge_bar: 9.5 }, 0.05)).toThrow(
      new OutOfValidRangeError("distance of the inlet readings", 0.5, "bar", 1, 300),
    );
  });
});

describe("what a regulator refuses", () => {
  const stage = { setGauge_bar: 2, supplyPressureEffect_ratio: 0.04 };
  it.each<readonly [string, Regulator, number, string]>([
    ["a negative inlet", single, -0.1, "inlet pressure"],
    ["an inlet that is no number", single, NaN, "inlet pressure"],
    [
      "an effect given in percent",
      { ...single, stage: { ...stage, supplyPressureEffect_ratio: 4 } },
      10,
      "supply-pressure effect",
    ],
    ["a working pressure of 0", { ...single, stage: { ...stage, setGauge_bar: 0 } }, 10, "working pressure"],
    [
      "a setting above the inlet it was set at",
      { ...single, setAtInletGauge_bar: 1 },
      10,
      "inlet pressure at which the working pressure was set",
    ],
    [
      "a first stage below the second",
      { ...double, first: { setGauge_bar: 1, supplyPressureEffect_ratio: 0.01 } },
      10,
      "pressure between the stages",
    ],
  ])("%s", (_name, regulator, inlet_bar, quantity) => {
    expect(() => regulatorOutlet(regulator, inlet_bar)).toThrow(expect.objectContaining({ quantity }));
  });
});
