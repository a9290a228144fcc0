import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Charge } from "../../lib/vessel/charge.js";
import { vesselInventory } from "../../lib/vessel/charge.js";
import { chargeEquilibrium } from "../../lib/vessel/charge-equilibrium.js";
import { pressurise, type Surroundings } from "../../lib/vessel/pressurising.js";

const settings = { seed: 20_240_612, numRuns: 60, endOnFailure: true };

interface Filling {
  readonly charge: Charge;
  readonly surroundings: Surroundings;
}

/** Fillings with water, ice or both, up to about 25 bar, in vessels of 0.5 to 5 L. */
const filling: fc.Arbitrary<Filling> = fc
  .record({
    vesselVolume_L: fc.double({ min: 0.5, max: 5, noNaN: true }),
    waterShare: fc.double({ min: 0.15, max: 0.4, noNaN: true }),
    iceShare: fc.double({ min: 0, max: 1, noNaN: true }),
    bicarbonate_gPerL: fc.double({ min: 10, max: 70, noNaN: true }),
    acidPerBicarbonate: fc.double({ min: 0.5, max: 1.2, noNaN: true }),
    room_degC: fc.double({ min: 8, max: 35, noNaN: true }),
    startWater_degC: fc.double({ min: 0, max: 35, noNaN: true }),
    lossPerL_WPerK: fc.double({ min: 0.1, max: 1.5, noNaN: true }),
    mixing_h: fc.double({ min: 0.05, max: 10, noNaN: true }),
    bodyPerL_JPerK: fc.double({ min: 100, max: 1500, noNaN: true }),
  })
  .map((drawn) => {
    const water_kg = drawn.waterShare * drawn.vesselVolume_L;
    const bicarbonate_g = drawn.bicarbonate_gPerL * drawn.vesselVolume_L;
    return {
      charge: {
        vesselVolume_L: drawn.vesselVolume_L,
        water_kg: water_kg * (1 - drawn.iceShare),
        ice_kg: water_kg * drawn.iceShare,
        acid: { kind: "citric-acid-anhydrous", mass_g: drawn.acidPerBicarbonate * bicarbonate_g },
        sodiumBicarbonate_g: bicarbonate_g,
        sealedAt_degC: drawn.room_degC,
      },
      surroundings: {
        room_degC: drawn.room_degC,
        heatLoss_WPerK: drawn.lossPerL_WPerK * drawn.vesselVolume_L,
        mixing_h: drawn.mixing_h,
        bodyHeatCapacity_JPerK: drawn.bodyPerL_JPerK * drawn.vesselVolume_L,
        startWater_degC: drawn.startWater_degC,
      },
    };
  });

describe("any filling, from closing on", () => {
  it("keeps its carbon to 1e-9, its temperatures and its shares", () => {
    fc.assert(
      fc.property(filling, ({ charge, surroundings }) => {
        const { carbon_mol } = vesselInventory(charge);
        const { room_degC, startWater_degC } = surroundings;
        const run = pressurise(charge, surroundings, { until_h: 60, pointCount: 30 });
        let before = 0;
        for (const point of run.points) {
          const { gas_mol, dissolved_mol, bicarbonate_mol, unreacted_mol } = point.carbon;
          const counted_mol = gas_mol + dissolved_mol + bicarbonate_mol + unreacted_mol;
          expect(Math.abs(counted_mol / carbon_mol - 1)).toBeLessThan(1e-9);
          expect(point.temperature_degC).toBeLessThanOrEqual(Math.max(room_degC, startWater_degC) + 1e-3);
          expect(point.reacted_ratio).toBeLessThanOrEqual(point.melted_ratio);
          expect(point.reacted_ratio).toBeGreaterThanOrEqual(before - 1e-4);
          expect(point.lowGauge_bar).toBeLessThanOrEqual(point.pressureGauge_bar);
          expect(point.highGauge_bar).toBeGreaterThanOrEqual(point.pressureGauge_bar);
          if (point.melted_ratio < 1) expect(point.temperature_degC).toBeLessThanOrEqual(0);
          before = point.reacted_ratio;
        }
      }),
      settings,
    );
  });

  it("closes its heat to 0.1 % of what is turned over", () => {
    fc.assert(
      fc.property(filling, ({ charge, surroundings }) => {
        const run = pressurise(charge, surroundings, { until_h: 20, pointCount: 1500 });
        const { points, heat } = run;
        // Trapezoids over the points, apart from the integrator.
        const fromRoom_J = points.slice(1).reduce((sum, point, k) => {
          const from = points[k] ?? point;
          const mean_degC = (point.temperature_degC + from.temperature_degC) / 2;
          const span_s = 3600 * (point.at_h - from.at_h);
          return sum + span_s * surroundings.heatLoss_WPerK * (surroundings.room_degC - mean_degC);
        }, 0);
        const last = points.at(-1);
        if (last === undefined) throw new Error("no points");
        const reaction_J =
          37_000 * last.carbon.gas_mol +
          17_000 * last.carbon.dissolved_mol +
          18_700 * chargePart(charge, last.reacted_ratio, last.temperature_degC, last.carbon.bicarbonate_mol);
        const gained_J =
          heat.end.sensible_J -
          heat.start.sensible_J +
          heat.end.melting_J -
          heat.start.melting_J +
          reaction_J;
        const turnover_J =
          reaction_J +
          Math.abs(heat.end.melting_J - heat.start.melting_J) +
          Math.abs(heat.end.sensible_J - heat.start.sensible_J);
        expect(Math.abs(gained_J - fromRoom_J)).toBeLessThan(1e-3 * turnover_J);
      }),
      { ...settings, numRuns: 25 },
    );
  });

  it("is not slowed by a better mixing or by more heat from the room", () => {
    fc.assert(
      fc.property(filling, ({ charge, surroundings }) => {
        const ready_h = (change: Partial<Surroundings>): number =>
          pressurise(charge, { ...surroundings, ...change }, { until_h: 1000, pointCount: 2 }).ready_h ??
          Infinity;
        // Water warmer than the room first overshoots, and then what is faster need not settle sooner.
        fc.pre(surroundings.startWater_degC <= surroundings.room_degC);
        const slow_h = ready_h({});
        expect(slow_h).toBeLessThan(1000);
        expect(ready_h({ mixing_h: surroundings.mixing_h / 2 })).toBeLessThanOrEqual(slow_h * 1.01 + 0.01);
        expect(ready_h({ heatLoss_WPerK: surroundings.heatLoss_WPerK * 2 })).toBeLessThanOrEqual(
          slow_h * 1.01 + 0.01,
        );
      }),
      settings,
    );
  });
});

/** Bicarbonate that took up heat of solution: what is counted, less crystals that lie saturated in the liquor. */
function chargePart(
  charge: Charge,
  reacted_ratio: number,
  temperature_degC: number,
  bicarbonate_mol: number,
): number {
  if (reacted_ratio < 0.999) return bicarbonate_mol;
  return bicarbonate_mol - chargeEquilibrium(charge, temperature_degC).solidBicarbonate_mol;
}
