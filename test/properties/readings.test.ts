import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { calibrated } from "../../lib/readings/calibration.js";
import { createReadingGateState, judgeReading, type RawReading } from "../../lib/readings/reading-gate.js";
import { sensorRulesFrom, type SensorDescription } from "../../lib/readings/sensor-rules.js";
import { toCanonical } from "../../lib/readings/sensor-unit.js";
import { pressureUnits, temperatureUnits } from "../../lib/quantities/units.js";

const seed = 20260302;
const start_epochMs = Date.parse("2026-03-01T12:00:00Z");

const described = fc.oneof(
  fc.record({
    measures: fc.constant<"pressure">("pressure"),
    unit: fc.constantFrom(...pressureUnits),
    reference: fc.constantFrom("gauge", "absolute"),
  }),
  fc.record({
    measures: fc.constant<"temperature">("temperature"),
    unit: fc.constantFrom(...temperatureUnits),
  }),
  fc.record({ measures: fc.constant<"mass">("mass"), unit: fc.constantFrom("g", "kg") }),
  fc.record({
    measures: fc.constantFrom<("pH" | "co2InAir" | "bubbleRate")[]>("pH", "co2InAir", "bubbleRate"),
  }),
);
const finite = (min: number, max: number): fc.Arbitrary<number> => fc.double({ min, max, noNaN: true });

describe("a calibration stated in the sensor's own unit", () => {
  it("acts as gain and offset in that unit would, whatever the unit", () => {
    fc.assert(
      fc.property(
        described,
        finite(0.1, 10),
        finite(-50, 50),
        finite(-500, 500),
        (sensor, gain, offset, raw) => {
          const rules = sensorRulesFrom({ sensorId: "any", ...sensor, calibration: { gain, offset } });
          const ours = calibrated(toCanonical(raw, rules.unit), rules.calibration);
          const direct = toCanonical(raw * gain + offset, rules.unit);
          expect(Math.abs(ours - direct)).toBeLessThanOrEqual(
            1e-9 * Math.max(1, Math.abs(direct), gain * 300),
          );
        },
      ),
      { seed },
    );
  });

  it("goes through both points", () => {
    fc.assert(
      fc.property(
        described,
        finite(-100, 100),
        finite(1, 100),
        finite(-100, 100),
        finite(1, 100),
        (sensor, raw, rawStep, truth, trueStep) => {
          const twoPoint = [
            { raw, true: truth },
            { raw: raw + rawStep, true: truth + trueStep },
          ] as const;
          const rules = sensorRulesFrom({ sensorId: "any", ...sensor, calibration: { twoPoint } });
          for (const point of twoPoint) {
            const ours = calibrated(toCanonical(point.raw, rules.unit), rules.calibration);
            const expected = toCanonical(point.true, rules.unit);
            expect(Math.abs(ours - expected)).toBeLessThanOrEqual(1e-7 * Math.max(1, Math.abs(expected)));
          }
        },
      ),
      { seed },
    );
  });
});

describe("the gate in front of every reading", () => {
  const rules = sensorRulesFrom({
    sensorId: "loach-ph",
    measures: "pH",
    maximumAge_s: 60,
    stuckAfter_min: 5,
  });
  const gate = rules.spikeGate ?? 0;

  const anyNumber = fc.oneof(
    { weight: 6, arbitrary: finite(6, 7) },
    { weight: 2, arbitrary: finite(3, 11) },
    { weight: 1, arbitrary: fc.double() },
    { weight: 1, arbitrary: fc.constant(6.5) },
  );
  const arrival = fc.record({
    value: anyNumber,
    retained: fc.integer({ min: 0, max: 9 }).map((one) => one === 0),
    stamp: fc.option(fc.oneof(fc.integer({ min: -120_000, max: 120_000 }), fc.constant(Number.NaN)), {
      nil: undefined,
    }),
    elapsed: fc.integer({ min: 0, max: 90_000 }),
  });

  it("accepts only finite, plausible, live values of allowed age, counts every one and never throws", () => {
    fc.assert(
      fc.property(fc.array(arrival, { maxLength: 80 }), (arrivals) => {
        let state = createReadingGateState();
        let elapsed = 0;
        for (const one of arrivals) {
          elapsed += one.elapsed;
          const raw: RawReading = {
            value: one.value,
            retained: one.retained,
            measuredAt_epochMs: one.stamp === undefined ? undefined : start_epochMs + elapsed + one.stamp,
            at_epochMs: start_epochMs + elapsed,
            at_monotonicMs: elapsed,
          };
          const judged = judgeReading(rules, state, raw);
          state = judged.state;
          const { result } = judged;
          if (result.kind === "accepted") {
            expect(raw.retained).toBe(false);
            expect(result.value).toBeGreaterThanOrEqual(rules.plausible.minimum);
            expect(result.value).toBeLessThanOrEqual(rules.plausible.maximum);
            expect(result.at_monotonicMs).toBeLessThanOrEqual(elapsed);
            expect(result.at_monotonicMs).toBeGreaterThanOrEqual(elapsed - rules.maximumAge_s * 1000);
          } else {
            expect(result.detail.length).toBeLessThanOrEqual(200);
            expect(result.detail.length).toBeGreaterThan(0);
          }
          expect(state.window?.values.length ?? 0).toBeLessThanOrEqual(5);
        }
        const counted = Object.values(state.rejectedCounts).reduce(
          (sum, count) => sum + count,
          state.acceptedCount,
        );
        expect(counted).toBe(arrivals.length);
      }),
      { seed, numRuns: 300 },
    );
  });

  const quiet = fc.array(finite(-0.1, 0.1), { minLength: 5, maxLength: 12 });
  const send = (values: readonly number[]): readonly boolean[] => {
    let state = createReadingGateState();
    return values.map((value, index) => {
      const judged = judgeReading(rules, state, {
        value,
        retained: false,
        at_epochMs: start_epochMs + index * 10_000,
        at_monotonicMs: index * 10_000,
      });
      state = judged.state;
      return judged.result.kind === "accepted";
    });
  };

  it("refuses one spike amid noise below the gate and nothing else", () => {
    fc.assert(
      fc.property(quiet, quiet, finite(gate + 0.21, 2), fc.boolean(), (before, after, height, isUp) => {
        const spike = 6.75 + (isUp ? height : -height);
        const accepted = send([...before.map((n) => 6.75 + n), spike, ...after.map((n) => 6.75 + n)]);
        expect(accepted.map((one, index) => (one ? -1 : index)).filter((index) => index >= 0)).toEqual([
          before.length,
        ]);
      }),
      { seed, numRuns: 200 },
    );
  });

  it("believes a genuine step at its third reading at the latest, from any window", () => {
    fc.assert(
      fc.property(
        fc.array(finite(4, 9.5), { maxLength: 9 }),
        finite(4.2, 9.3),
        quiet,
        (before, level, noise) => {
          const accepted = send([...before, ...noise.map((n) => level + n)]).slice(before.length);
          expect(accepted.slice(2)).toEqual(accepted.slice(2).map(() => true));
        },
      ),
      { seed, numRuns: 300 },
    );
  });

  it("does not depend on the unit in which the sensor speaks", () => {
    const celsius = sensorRulesFrom({
      sensorId: "water",
      measures: "temperature",
      unit: "degC",
      maximumAge_s: 60,
    });
    const inFahrenheit: SensorDescription = {
      sensorId: "water",
      measures: "temperature",
      unit: "degF",
      maximumAge_s: 60,
      spikeGate: 9,
      plausible: { minimum: 50, maximum: 100.4 },
    };
    const fahrenheit = sensorRulesFrom(inFahrenheit);
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 45 }), { maxLength: 40 }), (temperatures) => {
        // A gate and ends between whole degrees, so that rounding in the conversion decides nothing.
        const reasons = [celsius, fahrenheit].map((own) => {
          let state = createReadingGateState();
          return temperatures.map((temperature, index) => {
            const value = temperature + 0.3;
            const judged = judgeReading({ ...own, spikeGate: (own.spikeGate ?? 0) + 0.5 }, state, {
              value: own === celsius ? value : (value * 9) / 5 + 32,
              retained: false,
              at_epochMs: start_epochMs,
              at_monotonicMs: index * 1000,
            });
            state = judged.state;
            return judged.result.kind === "accepted" ? "accepted" : judged.result.reason;
          });
        });
        expect(reasons[1]).toEqual(reasons[0]);
      }),
      { seed, numRuns: 200 },
    );
  });
});
