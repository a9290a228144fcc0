import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { supplyBelief } from "../../lib/estimation/supply-belief.js";
import { supplyEstimate } from "../../lib/estimation/supply-estimate.js";
import { firstSupplyState, stepSupply } from "../../lib/estimation/supply-filter.js";
import { createSupplyModel } from "../../lib/estimation/supply-model.js";
import { component, componentCount, type SupplyState } from "../../lib/estimation/supply-state.js";
import type { SupplyReading } from "../../lib/estimation/supply-trace.js";
import { choleskyOf } from "../../lib/estimation/symmetric-matrix.js";
import { suppliedCharge } from "../support/supply-trace-rows.js";

const seed = 20260203;
const from_epochMs = Date.UTC(2026, 1, 3);
const model = createSupplyModel(suppliedCharge());

/** Rows of any kind: gaps, dropouts, jumps, cells left empty, readings by eye, a scale now and then. */
const trace: fc.Arbitrary<readonly SupplyReading[]> = fc
  .array(
    fc.record(
      {
        wait_min: fc.oneof(
          { weight: 6, arbitrary: fc.integer({ min: 1, max: 30 }) },
          { weight: 2, arbitrary: fc.integer({ min: 30, max: 600 }) },
          { weight: 1, arbitrary: fc.integer({ min: 600, max: 15_000 }) },
        ),
        valveOpen: fc.boolean(),
        pressureGauge_bar: fc.double({ min: -1, max: 40, noNaN: true }),
        temperature_degC: fc.double({ min: -10, max: 50, noNaN: true }),
        vesselMass_g: fc.double({ min: 2000, max: 4000, noNaN: true }),
        byEye: fc.boolean(),
      },
      { requiredKeys: ["wait_min", "valveOpen"] },
    ),
    { minLength: 2, maxLength: 60 },
  )
  .map((rows) => {
    let at_epochMs = from_epochMs;
    return rows.map(({ wait_min, ...reading }) => {
      at_epochMs += wait_min * 60_000;
      return { at_epochMs, ...reading };
    });
  });

function run(readings: readonly SupplyReading[], start?: SupplyState): SupplyState {
  let state = start ?? firstSupplyState(model, readings[0]!);
  for (const reading of readings) state = stepSupply(model, state, reading);
  return state;
}

describe("supply filter, whatever is read", () => {
  it("keeps every covariance symmetric and without a negative variance in any direction", () => {
    fc.assert(
      fc.property(trace, (readings) => {
        for (const { covariance } of run(readings).hypotheses) {
          const scale = Array.from({ length: componentCount }, (_, k) =>
            Math.sqrt(Math.max(0, covariance[k * componentCount + k]!)),
          );
          for (let i = 0; i < componentCount; i += 1) {
            expect(covariance[i * componentCount + i]).toBeGreaterThanOrEqual(-1e-12);
            for (let j = 0; j < i; j += 1) {
              expect(covariance[i * componentCount + j]).toBe(covariance[j * componentCount + i]);
              const limit = scale[i]! * scale[j]! * (1 + 1e-6) + 1e-9;
              expect(Math.abs(covariance[i * componentCount + j]!)).toBeLessThanOrEqual(limit);
            }
          }
          expect(choleskyOf(covariance, componentCount).every(Number.isFinite)).toBe(true);
        }
      }),
      { seed, numRuns: 60 },
    );
  });

  it("has odds that sum to one, and estimates that are finite and in order", () => {
    fc.assert(
      fc.property(trace, (readings) => {
        const state = run(readings);
        const sum = supplyBelief(state).weights.reduce((total, weight) => total + weight, 0);
        expect(sum).toBeCloseTo(1, 9);
        const estimate = supplyEstimate(model, state, state.at_epochMs + 3_600_000);
        for (const amount of [estimate.remaining, estimate.deliverable]) {
          const { low95_g, low80_g, value_g, high80_g, high95_g } = amount;
          const inOrder = [0, low95_g, low80_g, value_g, high80_g, high95_g, estimate.charge_g];
          inOrder.slice(1).forEach((value, k) => {
            expect(value).toBeGreaterThanOrEqual(inOrder[k]!);
          });
        }
        const { low80_epochMs, median_epochMs, high80_epochMs } = estimate.runOut;
        expect(low80_epochMs).toBeLessThanOrEqual(median_epochMs);
        expect(median_epochMs).toBeLessThanOrEqual(high80_epochMs);
        expect(estimate.leak_gPerDay.value).toBeGreaterThanOrEqual(0);
      }),
      { seed, numRuns: 60 },
    );
  });

  it("goes on from a state kept as JSON as if there had been no stop", () => {
    fc.assert(
      fc.property(trace, fc.nat(), (readings, cut) => {
        const at = 1 + (cut % (readings.length - 1));
        const kept = JSON.parse(JSON.stringify(run(readings.slice(0, at)))) as SupplyState;
        const plain = (state: SupplyState): unknown => JSON.parse(JSON.stringify(state));
        expect(plain(run(readings.slice(at), kept))).toEqual(plain(run(readings)));
      }),
      { seed, numRuns: 60 },
    );
  });

  it("never reckons that gas came back while nothing but the valve is read", () => {
    const blind = trace.map((readings) =>
      readings.map(({ at_epochMs, valveOpen }): SupplyReading => ({ at_epochMs, valveOpen })),
    );
    fc.assert(
      fc.property(blind, (readings) => {
        let state = firstSupplyState(model, readings[0]!);
        let before_g = 0;
        for (const reading of readings) {
          state = stepSupply(model, state, reading);
          const removed_g = supplyBelief(state).mean[component.removed]!;
          expect(removed_g).toBeGreaterThanOrEqual(before_g - 1e-9);
          before_g = removed_g;
        }
      }),
      { seed, numRuns: 60 },
    );
  });
});
