import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  carbonDioxideAtValve,
  flowMultiplier_ratio,
  needleFlow_molPerH,
  needleRegime,
  usualNeedleXT,
  type NeedleLaw,
  type NeedleValve,
} from "../../../../lib/vessel/needle-valve.js";

const nozzle: NeedleValve = { kind: "nozzle", area_mm2: 1e-4 };
const rated: NeedleValve = { kind: "rated", kv: 5e-6, xT: usualNeedleXT };
const laws: readonly NeedleLaw[] = [
  { kind: "nozzle" },
  { kind: "rated", xT: usualNeedleXT },
  { kind: "viscous" },
];
const at = (inletAbsolute_bar: number, outletAbsolute_bar: number, temperature_degC = 20) => ({
  inletAbsolute_bar,
  outletAbsolute_bar,
  temperature_degC,
});

describe("flow of CO2 through a needle", () => {
  it("of a nozzle is proportional to its area and, choked, to the inlet pressure, whatever stands behind", () => {
    const flow = needleFlow_molPerH(nozzle, at(3, 1.3));
    expect(needleFlow_molPerH({ kind: "nozzle", area_mm2: 2e-4 }, at(3, 1.3))).toBeCloseTo(2 * flow, 12);
    expect(needleFlow_molPerH(nozzle, at(6, 1.3))).toBeCloseTo(2 * flow, 12);
    expect(needleFlow_molPerH(nozzle, at(3, 1.6))).toBe(flow);
    expect(needleFlow_molPerH(nozzle, at(3, 1.7))).toBeLessThan(flow);
  });

  it("falls with the root of the absolute temperature", () => {
    const cold = needleFlow_molPerH(nozzle, at(3, 1.3, 10));
    const warm = needleFlow_molPerH(nozzle, at(3, 1.3, 30));
    expect(cold / warm).toBeCloseTo(Math.sqrt(303.15 / 283.15), 10);
  });

  it("of a rated valve chokes at Fgamma xT, far below the ratio of a nozzle", () => {
    // Fgamma = 1.30 / 1.40; x = 0.743 at an outlet of 0.771 bar.
    const choked = needleFlow_molPerH(rated, at(3, 0.77));
    expect(needleFlow_molPerH(rated, at(3, 0.2))).toBe(choked);
    expect(needleFlow_molPerH(rated, at(3, 1.3))).toBeLessThan(choked);
  });

  it.each([nozzle, rated])("is nothing when the pressure behind is as high: $kind", (valve) => {
    expect(needleFlow_molPerH(valve, at(3, 3))).toBe(0);
    expect(needleFlow_molPerH(valve, at(3, 4))).toBe(0);
  });

  it.each([nozzle, rated])("falls without a step as the pressure behind comes up: $kind", (valve) => {
    let before = needleFlow_molPerH(valve, at(3, 0));
    for (let behind_bar = 0.05; behind_bar <= 3; behind_bar += 0.05) {
      const flow = needleFlow_molPerH(valve, at(3, behind_bar));
      expect(flow).toBeLessThanOrEqual(before);
      if (behind_bar < 2.9) expect(before - flow).toBeLessThan(0.15 * needleFlow_molPerH(valve, at(3, 0)));
      before = flow;
    }
  });

  it.each([
    { inlet_bar: 3, outlet_bar: 1.3, regime: "choked" },
    { inlet_bar: 3, outlet_bar: 1.63, regime: "choked" },
    { inlet_bar: 3, outlet_bar: 1.64, regime: "unchoked" },
    { inlet_bar: 3, outlet_bar: 3, regime: "no-flow" },
  ])("is $regime from $inlet_bar to $outlet_bar bar", ({ inlet_bar, outlet_bar, regime }) => {
    expect(needleRegime(at(inlet_bar, outlet_bar))).toBe(regime);
  });

  it("takes the gas as real: 1.6 % denser than ideal at 3 bar and 20 degC", () => {
    // Span and Wagner (1996) by a general-purpose property library: 9.28 kg/m3 and 0.973 at 5 bar and 20 degC.
    const gas = carbonDioxideAtValve({ inletAbsolute_bar: 5, temperature_degC: 20 });
    expect(gas.compressibility).toBeCloseTo(0.973, 3);
    expect(carbonDioxideAtValve({ inletAbsolute_bar: 3, temperature_degC: 20 }).compressibility).toBeCloseTo(
      0.984,
      3,
    );
  });

  it.each<readonly [string, () => unknown, string]>([
    [
      "a gauge pressure taken for absolute",
      () => needleFlow_molPerH(nozzle, at(0.2, 0)),
      "needle inlet pressure",
    ],
    ["a negative pressure behind", () => needleFlow_molPerH(nozzle, at(3, -1)), "pressure behind the needle"],
    ["a negative area", () => needleFlow_molPerH({ kind: "nozzle", area_mm2: -1 }, at(3, 1)), "nozzle area"],
    ["a negative Kv", () => needleFlow_molPerH({ ...rated, kv: -1 }, at(3, 1)), "flow coefficient Kv"],
    [
      "an xT above 1",
      () => needleFlow_molPerH({ ...rated, xT: 1.2 }, at(3, 1)),
      "pressure differential ratio factor xT",
    ],
    [
      "a multiplier of no flow",
      () => flowMultiplier_ratio({ kind: "viscous" }, at(2, 2), at(3, 2)),
      "pressure behind the needle",
    ],
  ])("refuses %s", (_name, act, quantity) => {
    expect(act).toThrow(expect.objectContaining({ quantity }));
  });
});

describe("the flow multiplier", () => {
  const inlet = fc.double({ min: 1.5, max: 8, noNaN: true });
  const behind = fc.double({ min: 1, max: 1.4, noNaN: true });

  it("is the ratio of the two flows, but for the change of compressibility", () => {
    for (const valve of [nozzle, rated]) {
      const ratio = needleFlow_molPerH(valve, at(4, 1.3)) / needleFlow_molPerH(valve, at(3, 1.3));
      expect(Math.abs(flowMultiplier_ratio(valve, at(3, 1.3), at(4, 1.3)) / ratio - 1)).toBeLessThan(0.003);
    }
  });

  it.each(laws)("is 1 or more while the inlet rises, and rises with it: $kind", (law) => {
    fc.assert(
      fc.property(inlet, inlet, inlet, behind, (a, b, c, outlet_bar) => {
        const [first, second, third] = [a, b, c].sort((one, other) => one - other) as [
          number,
          number,
          number,
        ];
        const early = flowMultiplier_ratio(law, at(first, outlet_bar), at(second, outlet_bar));
        const late = flowMultiplier_ratio(law, at(first, outlet_bar), at(third, outlet_bar));
        expect(early).toBeGreaterThanOrEqual(1 - 1e-12);
        expect(late).toBeGreaterThanOrEqual(early - 1e-12);
      }),
      { seed: 20_250_301, numRuns: 300 },
    );
  });

  it("of a viscous gap is the largest of the three when the nozzle is choked at first", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 2.7, max: 6, noNaN: true }),
        fc.double({ min: 1, max: 2, noNaN: true }),
        behind,
        (first, growth, outlet_bar) => {
          const [plain, standard, viscous] = laws.map((law) =>
            flowMultiplier_ratio(law, at(first, outlet_bar), at(first * growth, outlet_bar)),
          ) as [number, number, number];
          expect(plain).toBeCloseTo(growth, 9);
          expect(standard).toBeGreaterThanOrEqual(plain - 1e-12);
          expect(viscous).toBeGreaterThanOrEqual(standard - 1e-12);
        },
      ),
      { seed: 20_250_301, numRuns: 300 },
    );
  });
});
