import { describe, expect, it } from "vitest";
import {
  carbonDioxideDensity_molPerL,
  carbonDioxideIsotherm,
} from "../../lib/chemistry/carbon-dioxide-gas.js";
import { henryConstantByCarroll_MPa } from "../../lib/chemistry/henry-solubility.js";
import { waterVapourPressure_bar } from "../../lib/chemistry/water-properties.js";
import { pressureFromBar, pressureToBar } from "../../lib/quantities/units.js";
import {
  co2PerSucrose_ratio,
  fermentationForecast,
  fermentationState,
} from "../../lib/vessel/fermentation.js";
import { liquidCylinderState } from "../../lib/vessel/liquid-cylinder.js";
import {
  criticalPressure_ratio,
  flowMultiplier_ratio,
  nozzleFlow_molPerH,
  ratedFlow_molPerH,
} from "../../lib/vessel/needle-valve.js";
import { regulatorOutlet, type RegulatorDesign } from "../../lib/vessel/regulator.js";
import { surgeCourse } from "../../lib/vessel/surge.js";
import { missOf, readReference } from "./read-reference.js";

describe("regulator and needle against published values", () => {
  const rises = readReference<{
    readonly effect_percent: number;
    readonly full_psi: number;
    readonly rise_psi: number;
    readonly risePlus_psi: number;
    readonly flow: number;
    readonly flowPlus: number;
  }>("regulator-rise.json");

  it.each(rises.rows)(
    "an effect of $effect_percent % from $full_psi psi makes $rise_psi psi and $flow times the flow, by its definition",
    (row) => {
      const fullGauge_bar = pressureToBar(row.full_psi, "psi");
      const regulator: RegulatorDesign = {
        kind: "single-stage",
        stage: { setGauge_bar: 2, supplyPressureEffect_ratio: row.effect_percent / 100 },
      };
      // The table runs on to an empty supply, as if the seat did not open wide before: the straight part, doubled.
      const set = { ...regulator, setAtInletGauge_bar: fullGauge_bar };
      const rise_bar = 2 * (regulatorOutlet(set, fullGauge_bar / 2).outletGauge_bar - 2);
      expect(Math.abs(pressureFromBar(rise_bar, "psi") - row.rise_psi)).toBeLessThanOrEqual(row.risePlus_psi);
      const first = { inletAbsolute_bar: 3.01325, outletAbsolute_bar: 1.3 };
      const now = { inletAbsolute_bar: 3.01325 + rise_bar, outletAbsolute_bar: 1.3 };
      const flow = flowMultiplier_ratio({ kind: "nozzle" }, first, now);
      expect(Math.abs(flow - row.flow)).toBeLessThanOrEqual(row.flowPlus);

      // The seat opens wide when inlet and outlet meet, so that the real largest flow is a little less.
      const supply = {
        fullGauge_bar,
        deliveredAt_mol: (inlet_bar: number) => (fullGauge_bar - inlet_bar) / 10,
      };
      const { largest } = surgeCourse(supply, {
        regulator,
        behindNeedleGauge_bar: 0.3,
        leastInletGauge_bar: 1,
        use_molPerDay: 0.05,
      });
      const met_bar = (2 + rise_bar) / (1 + row.effect_percent / 100);
      expect(largest.flow.nozzle_ratio).toBeCloseTo((met_bar + 1.01325) / 3.01325, 6);
      expect(largest.flow.nozzle_ratio).toBeLessThan(flow);
    },
  );

  const critical = readReference<{ readonly gamma: number; readonly expected: number }>(
    "critical-pressure-ratio.json",
  );
  it(`${critical.table}: ${critical.source}`, () => {
    for (const row of critical.rows) {
      expect(missOf(critical, criticalPressure_ratio(row.gamma), row.expected)).toBeLessThanOrEqual(
        critical.tolerance,
      );
    }
  });

  it("choked air through 1 mm2 is 0.04042 p / sqrt(T) in kg/s, Pa, m2 and K (NACA Report 1135, from memory)", () => {
    const air = {
      molarMass_gPerMol: 28.965,
      heatCapacity_ratio: 1.4,
      temperature_K: 300,
      compressibility: 1,
    };
    const flow_molPerH = nozzleFlow_molPerH(1, { inletAbsolute_bar: 10, outletAbsolute_bar: 1 }, air);
    const constant = ((flow_molPerH * 0.028965) / 3600 / (1e6 * 1e-6)) * Math.sqrt(300);
    expect(Math.abs(constant / 0.04042 - 1)).toBeLessThan(5e-4);
  });

  const valves = readReference<{
    readonly gas: string;
    readonly molarMass_gPerMol: number;
    readonly heatCapacity_ratio: number;
    readonly temperature_K: number;
    readonly compressibility: number;
    readonly inletAbsolute_bar: number;
    readonly outletAbsolute_bar: number;
    readonly kv: number;
    readonly xT: number;
    readonly normalM3PerHour: number;
  }>("valve-flow.json");
  it.each(valves.rows)(
    `$gas at Kv $kv flows $normalM3PerHour m3/h at 0 degC and 1 atm (IEC 60534-2-1, worked examples)`,
    (row) => {
      // 1 mol of an ideal gas is 22.414 L at 0 degC and 1 atm.
      const normalM3PerHour = ratedFlow_molPerH(row, row, row) * 22.414e-3;
      expect(missOf(valves, normalM3PerHour, row.normalM3PerHour)).toBeLessThanOrEqual(valves.tolerance);
    },
  );
});

describe("liquid cylinder against the saturation line", () => {
  const saturation = readReference<{
    readonly temperature_degC: number;
    readonly pressure_bar: number;
    readonly liquid_kgPerM3: number;
    readonly vapour_kgPerM3: number;
  }>("carbon-dioxide-saturation.json");
  it(`pressure within 0.2 % and liquid by the table's own densities (${saturation.source})`, () => {
    // Nearer to the critical point the two densities close in on each other and the split is not defined well.
    const rows = saturation.rows.filter((row) => row.temperature_degC <= 30);
    expect(rows.length).toBeGreaterThan(20);
    for (const row of rows) {
      const state = liquidCylinderState({
        volume_L: 1,
        co2_kg: 0.5,
        temperature_degC: row.temperature_degC,
      });
      expect(missOf(saturation, state.pressureAbsolute_bar, row.pressure_bar)).toBeLessThan(0.002);
      const liquid_L = (500 - row.vapour_kgPerM3) / (row.liquid_kgPerM3 - row.vapour_kgPerM3);
      expect(Math.abs(state.liquidVolume_L - liquid_L)).toBeLessThan(0.003);
      expect(Math.abs(state.liquid_kg - (liquid_L * row.liquid_kgPerM3) / 1000)).toBeLessThan(0.003);
    }
  });

  it("800 psi absolute is 18.4 degC (Span and Wagner 1996, by a general-purpose property library)", () => {
    const { pressureAbsolute_bar } = liquidCylinderState({
      volume_L: 1,
      co2_kg: 0.5,
      temperature_degC: 18.4,
    });
    expect(pressureFromBar(pressureAbsolute_bar, "psi") / 800).toBeCloseTo(1, 2);
  });
});

describe("sugar and yeast against published values", () => {
  it("yields 0.5143 g CO2 a gram of sucrose (C12H22O11 with IUPAC 2021 weights)", () => {
    const sucrose = 12 * 12.011 + 22 * 1.008 + 11 * 15.999;
    expect(co2PerSucrose_ratio).toBeCloseTo((4 * (12.011 + 2 * 15.999)) / sucrose, 9);
    expect(co2PerSucrose_ratio).toBeCloseTo(0.5143, 4);
  });

  // Valid to 10 bar; 3 % is the agreement of the two solubility correlations.
  it.each([5, 10, 15, 20, 25])(
    "dissolves CO2 at %i degC within 3 % of Carroll, Slupsky and Mather (1991) equation 1",
    (temperature_degC) => {
      const charge = { vesselVolume_L: 2, water_kg: 1, sucrose_g: 50, sealedAt_degC: temperature_degC };
      const state = fermentationState(charge, { temperature_degC, fermented_ratio: 1 });
      const co2_bar = state.pressureAbsolute_bar - 1.01325 - waterVapourPressure_bar(temperature_degC);
      const density_molPerL = carbonDioxideDensity_molPerL({
        pressureAbsolute_bar: co2_bar,
        temperature_degC,
      });
      const { fugacity_bar } = carbonDioxideIsotherm(temperature_degC).stateAt(density_molPerL);
      const moleFraction = fugacity_bar / (10 * henryConstantByCarroll_MPa(temperature_degC));
      const expected_mol = (moleFraction / (1 - moleFraction)) * (1000 / 18.015);
      expect(Math.abs(state.co2Dissolved_mol / expected_mol - 1)).toBeLessThan(0.03);
    },
  );

  // Whether the handbook counts from vacuum or from the room is not known, so that the bounds take both, and 3 % each way.
  it("puts 15 g/L at 15 degC at the 7.2 bar of pressure-tank practice (handbook of enology, from memory)", () => {
    const forecast = fermentationForecast(
      { vesselVolume_L: 1.1, water_kg: 1, sucrose_g: 40, sealedAt_degC: 15 },
      { temperature_degC: 15, leastWorkingGauge_bar: 15 },
    );
    expect(forecast.plateauEndsWith).toBe("growth");
    const co2_bar = forecast.plateau.pressureAbsolute_bar - 1.01325 - waterVapourPressure_bar(15);
    expect(co2_bar).toBeGreaterThan(7.2 * 0.97);
    expect(co2_bar).toBeLessThan((7.2 + 1.01325) * 1.03);
  });

  // Common practice, no source: 150 g of sugar in 1 L of water in a vessel of 2 L stays at a low plateau for a week.
  it("keeps 150 g in 1 L of a 2 L vessel on a plateau below half of what full conversion would make", () => {
    const forecast = fermentationForecast(
      { vesselVolume_L: 2, water_kg: 1, sucrose_g: 150, sealedAt_degC: 20 },
      { temperature_degC: 20, leastWorkingGauge_bar: 15 },
    );
    expect(forecast.verdict).toEqual({ kind: "not-expected-to-reach", evidence: "weak" });
    expect(forecast.plateau.pressureGauge_bar).toBeLessThan(forecast.fullConversion.pressureGauge_bar / 2);
  });
});
