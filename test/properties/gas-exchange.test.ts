import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { co2After_mgPerL, hoursUntilCo2_h } from "../../lib/tank/gas-exchange.js";
import { flowNeeded, leadTime, predictedPlateau } from "../../lib/tank/lead-time.js";
import { fitNight } from "../../lib/tank/night-fit.js";
import { hoursToLimit } from "../../lib/tank/overdose.js";
import { integrate } from "../support/runge-kutta.js";

const seed = 20260302;
const within = (min: number, max: number) => fc.double({ min, max, noNaN: true });

const dynamics = fc.record({
  k_perH: within(0.03, 1),
  kSigma_ln: within(0.01, 0.3),
  settledCo2_mgPerL: within(0.5, 8),
  settledSigma_ln: within(0.01, 0.4),
  dose_mgPerLPerH: within(0.5, 20),
  doseSigma_ln: within(0.01, 0.3),
  doseWithK: within(-0.7, 0.7),
  doseWithSettled: within(-0.7, 0.7),
});

describe("the course of a tank's CO2", () => {
  it("is that of stepwise integration, and its time is turned round, everywhere", () => {
    fc.assert(
      fc.property(
        fc.record({
          k_perH: within(0.02, 3),
          startCo2_mgPerL: within(0.1, 150),
          settledCo2_mgPerL: within(0.3, 80),
        }),
        within(0.05, 8),
        (way, hours) => {
          const there = co2After_mgPerL(way, hours);
          const stepwise = integrate(
            way.startCo2_mgPerL,
            hours,
            (c) => -way.k_perH * (c - way.settledCo2_mgPerL),
            600,
          );
          expect(Math.abs(there - stepwise)).toBeLessThan(1e-6 * (1 + Math.abs(there)));
          const left = Math.abs(there - way.settledCo2_mgPerL);
          if (left > 1e-6 * way.settledCo2_mgPerL && way.startCo2_mgPerL !== way.settledCo2_mgPerL) {
            expect(Math.abs(hoursUntilCo2_h(way, there) - hours)).toBeLessThan(1e-4 * (1 + hours));
          }
        },
      ),
      { seed, numRuns: 200 },
    );
  });
});

describe("what a tank's dynamics say", () => {
  it("the lead grows with the target, and each interval holds its centre", () => {
    fc.assert(
      fc.property(dynamics, within(0.2, 0.6), (tank, share_ratio) => {
        const start = tank.settledCo2_mgPerL;
        const near = leadTime(tank, { kind: "share of the plateau", share_ratio }, start);
        const far = leadTime(tank, { kind: "share of the plateau", share_ratio: share_ratio + 0.3 }, start);
        if (near.kind !== "reached" || far.kind !== "reached") throw new Error("a share is always reached");
        expect(far.lead_h).toBeGreaterThanOrEqual(near.lead_h);
        expect(far.leadLow80_h).toBeLessThanOrEqual(far.lead_h + 1e-9);
        expect(far.leadHigh80_h).toBeGreaterThanOrEqual(far.lead_h - 1e-9);
      }),
      { seed, numRuns: 60 },
    );
  });

  it("the flow needed for a target makes that plateau", () => {
    fc.assert(
      fc.property(dynamics, within(10, 40), within(0, 2), (tank, co2_mgPerL, uptake_mgPerLPerH) => {
        const { flow_ratio } = flowNeeded(tank, { co2_mgPerL, uptake_mgPerLPerH });
        fc.pre(flow_ratio <= 50);
        const { plateau_mgPerL } = predictedPlateau(tank, { flow_ratio, uptake_mgPerLPerH });
        expect(plateau_mgPerL).toBeCloseTo(co2_mgPerL, 6);
      }),
      { seed, numRuns: 60 },
    );
  });

  it("an overdose lasts the longer the larger it is, and never longer under an air pump", () => {
    fc.assert(
      fc.property(dynamics, within(45, 200), (tank, co2_mgPerL) => {
        const overdose = { ...tank, co2_mgPerL, co2Sigma_ln: tank.doseSigma_ln, limit_mgPerL: 40 };
        const less = hoursToLimit(overdose);
        const more = hoursToLimit({ ...overdose, co2_mgPerL: 1.1 * co2_mgPerL });
        expect(more.asItIs.hours_h).toBeGreaterThan(less.asItIs.hours_h);
        expect(less.aerated.hours_h).toBeLessThan(less.asItIs.hours_h);
        expect(less.asItIs.hoursLow80_h).toBeLessThanOrEqual(less.asItIs.hoursHigh80_h);
      }),
      { seed, numRuns: 60 },
    );
  });
});

describe("a night's fit", () => {
  it("never throws and never states a number without an interval, whatever the readings", () => {
    const reading = fc.record({
      at_epochMs: fc.integer({ min: 0, max: 10 * 3_600_000 }),
      co2_mgPerL: fc.oneof(within(0.01, 300), fc.constantFrom(0, -1, NaN, Infinity)),
    });
    fc.assert(
      fc.property(fc.array(reading, { maxLength: 200 }), (readings) => {
        const fit = fitNight({
          from_epochMs: 0,
          until_epochMs: 10 * 3_600_000,
          readings,
          waterChanges_epochMs: [],
        });
        if (fit.kind === "fitted") {
          expect(fit.kLow90_perH).toBeLessThanOrEqual(fit.k_perH);
          expect(fit.kHigh90_perH).toBeGreaterThanOrEqual(fit.k_perH);
          expect(fit.k_perH * fit.night_h).toBeGreaterThanOrEqual(1.3);
        } else {
          expect(fit.because).not.toBe("");
        }
      }),
      { seed, numRuns: 100 },
    );
  });

  it("gives the same k to readings that are all wrong by one factor, where the night is long enough", () => {
    fc.assert(
      fc.property(
        within(0.2, 0.6),
        within(1, 4),
        within(0.6, 1.6),
        within(18, 40),
        (k_perH, rest_mgPerL, factor, start_mgPerL) => {
          const night = (scale: number) =>
            fitNight({
              from_epochMs: 0,
              until_epochMs: 12 * 3_600_000,
              readings: Array.from({ length: 145 }, (_, i) => ({
                at_epochMs: i * 300_000,
                co2_mgPerL:
                  scale * (rest_mgPerL + (start_mgPerL - rest_mgPerL) * Math.exp((-k_perH * i) / 12)),
              })),
              waterChanges_epochMs: [],
            });
          const plain = night(1);
          const scaled = night(factor);
          if (plain.kind !== "fitted" || scaled.kind !== "fitted") throw new Error("not fitted");
          expect(Math.abs(scaled.k_perH / plain.k_perH - 1)).toBeLessThan(0.02);
          expect(Math.abs(plain.k_perH / k_perH - 1)).toBeLessThan(0.05);
        },
      ),
      { seed, numRuns: 40 },
    );
  });
});
