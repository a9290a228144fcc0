import { describe, expect, it } from "vitest";
import {
  chokedPressure_ratio,
  needleFlow_molPerH,
  regulatorOutletGauge_bar,
} from "../../../../lib/simulation/gas-path.js";

const regulator = {
  setGauge_bar: 2,
  setAtInletGauge_bar: 19.6,
  supplyPressureEffect_ratio: 0.04,
  wideOpenDrop_bar: 0.2,
};

describe("the single-stage regulator", () => {
  it.each([
    { inlet_bar: 19.6, outlet_bar: 2, because: "it was set there" },
    { inlet_bar: 9.6, outlet_bar: 2.4, because: "10 bar less inlet at 4 % effect" },
    { inlet_bar: 2.1, outlet_bar: 1.9, because: "the seat stands wide open" },
    { inlet_bar: 0.1, outlet_bar: 0, because: "there is nothing left to pass" },
  ])("gives $outlet_bar bar from $inlet_bar bar: $because", ({ inlet_bar, outlet_bar }) => {
    expect(regulatorOutletGauge_bar(regulator, inlet_bar)).toBeCloseTo(outlet_bar, 12);
  });
});

describe("the needle valve", () => {
  const flow = (inletGauge_bar: number, outletGauge_bar: number) =>
    needleFlow_molPerH({ conductance_molPerHBar: 0.004, inletGauge_bar, outletGauge_bar });

  // Critical pressure ratio of a gas with 1.30 in handbooks of gas dynamics: 0.5457.
  it("chokes at the handbook's ratio for CO2", () => {
    expect(chokedPressure_ratio).toBeCloseTo(0.5457, 4);
  });

  it("passes in proportion to the absolute inlet pressure while choked, whatever stands behind", () => {
    expect(flow(2, 0.3)).toBe(flow(2, 0.6));
    expect(flow(2 * 2 + 1.01325, 0.3)).toBeCloseTo(2 * flow(2, 0.3), 12);
  });

  it("falls steadily to nothing as the pressure behind comes up", () => {
    const flows = [0.65, 1, 1.4, 1.8, 1.99].map((outlet_bar) => flow(2, outlet_bar));
    expect(flows).toEqual([...flows].sort((a, b) => b - a));
    expect(flow(2, 1.99)).toBeGreaterThan(0);
    expect(flow(2, 2)).toBe(0);
    expect(flow(0, 0.3)).toBe(0);
  });

  it("has no step where choking ends", () => {
    const edge_bar = 3.01325 * chokedPressure_ratio - 1.01325;
    expect(flow(2, edge_bar + 1e-9)).toBeCloseTo(flow(2, edge_bar - 1e-9), 9);
  });
});
