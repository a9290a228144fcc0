import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { co2Jump, type JumpPoint } from "../../../../lib/tank/co2-jump.js";
import { rateOfRise, co2TraceFromPh } from "../../../../lib/tank/rate-of-rise.js";

const minute_ms = 60_000;
const now_min = 120;
/** 20 mg/L at pH 6.9. */
const phOf = (co2_mgPerL: number): number => 6.9 - Math.log10(co2_mgPerL / 20);

/** A point a minute for two hours, each a reading of its own where nothing else is said. */
function pointsOf(
  co2At: (minute: number) => number,
  readAt?: (minute: number) => number | undefined,
): readonly JumpPoint[] {
  return Array.from({ length: now_min + 1 }, (_, minute) => ({
    at_monotonicMs: minute * minute_ms,
    pH: phOf(co2At(minute)),
    readAt_epochMs: readAt?.(minute),
  }));
}
const jumpOf = (points: readonly JumpPoint[], waterChanged_min?: number) => {
  const pH = points.at(-1)!.pH;
  return co2Jump(points, {
    now_monotonicMs: now_min * minute_ms,
    present: { co2_mgPerL: 20 * 10 ** (6.9 - pH), pH },
    waterChanged_monotonicMs: waterChanged_min === undefined ? undefined : waterChanged_min * minute_ms,
  });
};
/** From 31 to 49 mg/L within four minutes. */
const burst = (minute: number): number => 31 + 18 * Math.min(1, Math.max(0, (minute - 112) / 4));

describe("a jump of CO2", () => {
  it("is told where the rate over half an hour says nothing of it", () => {
    const jump = jumpOf(pointsOf(burst))!;
    expect(jump.risen_mgPerL).toBeCloseTo(18, 0);
    expect(jump.risenLow80_mgPerL).toBeGreaterThan(14);
    expect(jump.within_min).toBe(10);
    const rate = rateOfRise(co2TraceFromPh(pointsOf(burst), { co2_mgPerL: 49, pH: phOf(49) }), {
      now_monotonicMs: now_min * minute_ms,
    });
    expect(rate!.rateLow80_mgPerLPer30Min).toBeLessThan(2);
  });

  it.each<[string, readonly JumpPoint[], number | undefined]>([
    ["one wild reading", pointsOf((minute) => (minute === now_min ? 90 : 31)), undefined],
    [
      "two wild readings of the last four",
      pointsOf((minute) => (minute >= now_min - 1 ? 90 : 31)),
      undefined,
    ],
    [
      "one reading that is shown for five minutes",
      pointsOf(
        (minute) => (minute >= 116 ? 90 : 31),
        (minute) => Math.min(minute, 116),
      ),
      undefined,
    ],
    [
      "a probe that stood in air for half an hour and is back where it was",
      pointsOf((minute) => (minute >= 80 && minute < 112 ? 4 : 33)),
      undefined,
    ],
    [
      "a probe that was silent for half an hour and settles",
      pointsOf((minute) => 33 - 25 * Math.exp(-(minute - 70) / 8)).filter(
        ({ at_monotonicMs }) => at_monotonicMs < 40 * minute_ms || at_monotonicMs >= 70 * minute_ms,
      ),
      undefined,
    ],
    ["a water change that the journal knows", pointsOf((minute) => (minute < 110 ? 31 : 48)), 110],
    ["rest", pointsOf(() => 45), undefined],
    ["the usual rise of 8 mg/L in half an hour", pointsOf((minute) => 12 + (8 * minute) / 30), undefined],
    ["a fall", pointsOf((minute) => (minute < 112 ? 60 : 33)), undefined],
  ])("is not made of %s", (_, points, changed_min) => {
    expect(jumpOf(points, changed_min)?.risenLow80_mgPerL ?? 0).toBeLessThan(10);
  });

  it("counts from the level before, when a probe that was out comes back to far more", () => {
    const jump = jumpOf(pointsOf((minute) => (minute < 80 ? 31 : minute < 112 ? 4 : 60)))!;
    expect(jump.risen_mgPerL).toBeCloseTo(29, 0);
  });

  it("is told again once the probe has been silent and then settled", () => {
    const settled = pointsOf(burst).filter(
      ({ at_monotonicMs }) => at_monotonicMs < 30 * minute_ms || at_monotonicMs >= 60 * minute_ms,
    );
    expect(jumpOf(settled)!.risenLow80_mgPerL).toBeGreaterThan(10);
  });

  it("is not known from a probe's first half hour, from old readings, or from none", () => {
    expect(jumpOf(pointsOf(burst).slice(95))).toBeUndefined();
    expect(jumpOf(pointsOf(burst).slice(0, 105))).toBeUndefined();
    expect(
      co2Jump([], {
        now_monotonicMs: 0,
        present: { co2_mgPerL: 30, pH: 6.7 },
        waterChanged_monotonicMs: undefined,
      }),
    ).toBeUndefined();
  });

  it("refuses a CO2 that no water has", () => {
    expect(() => co2Jump([], { now_monotonicMs: 0, present: { co2_mgPerL: -1, pH: 6.7 } })).toThrow(
      OutOfValidRangeError,
    );
  });
});
