import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { createRandomSource, drawNormal } from "../../../../lib/simulation/random-source.js";
import { defaultCo2Limits } from "../../../../lib/tank/co2-bands.js";
import {
  co2TraceFromPh,
  directionOf,
  hasJustMoved,
  rateOfRise,
  type Co2TracePoint,
} from "../../../../lib/tank/rate-of-rise.js";

const minute_ms = 60_000;
const now_monotonicMs = 100 * minute_ms;

/** A reading every `every_s` seconds over the last minutes. */
function traceOf(
  minutes: number,
  every_s: number,
  co2At: (minute: number) => number,
): readonly Co2TracePoint[] {
  return Array.from({ length: Math.floor((60 * minutes) / every_s) + 1 }, (_, index) => ({
    at_monotonicMs: now_monotonicMs - minutes * minute_ms + 1000 * every_s * index,
    co2_mgPerL: co2At((every_s * index) / 60),
  }));
}

describe("the rate at which CO2 rises", () => {
  it.each([
    [30, 60, 20, "a point a minute"],
    [30, 1, 20, "a point a second, drawn together"],
    [12, 30, 20, "twelve minutes are enough"],
    [90, 60, 20, "what is older than the window is left out"],
  ])("over %d min, every %d s, is that of a straight rise of %d (%s)", (minutes, every_s, rise) => {
    const rate = rateOfRise(
      traceOf(minutes, every_s, (minute) => 10 + (rise * minute) / 30),
      { now_monotonicMs },
    );
    expect(rate?.rate_mgPerLPer30Min).toBeCloseTo(rise, 6);
    expect(rate?.rateLow80_mgPerLPer30Min).toBeCloseTo(rise, 6);
    expect(rate?.span_min).toBeLessThanOrEqual(30);
  });

  it("is not moved by a quarter of wild readings", () => {
    const rate = rateOfRise(
      traceOf(30, 60, (minute) => (minute % 4 === 1 ? 300 : 20 + (6 * minute) / 30)),
      { now_monotonicMs },
    );
    expect(Math.abs((rate?.rate_mgPerLPer30Min ?? 0) - 6)).toBeLessThan(2);
  });

  it.each<[string, readonly Co2TracePoint[]]>([
    ["no readings", []],
    ["seven readings", traceOf(30, 300, () => 20)],
    ["readings of the last nine minutes", traceOf(9, 30, () => 20)],
    ["a last reading six minutes ago", traceOf(30, 30, () => 20).filter((_, index) => index < 48)],
    [
      "readings from after now",
      traceOf(30, 30, () => 20).map((point) => ({ ...point, at_monotonicMs: point.at_monotonicMs + 1e8 })),
    ],
  ])("is not known from %s", (_, trace) => {
    expect(rateOfRise(trace, { now_monotonicMs })).toBeUndefined();
  });

  it.each([Number.NaN, -1, Number.POSITIVE_INFINITY])("refuses a CO2 of %d mg/L", (co2_mgPerL) => {
    const trace = traceOf(30, 60, () => 20).map((point, index) =>
      index === 5 ? { ...point, co2_mgPerL } : point,
    );
    expect(() => rateOfRise(trace, { now_monotonicMs })).toThrow(OutOfValidRangeError);
  });

  it("refuses a window shorter than what can give a rate", () => {
    expect(() => rateOfRise([], { now_monotonicMs, window_min: 5 })).toThrow(OutOfValidRangeError);
  });

  /** pH noise of 0.02 a reading, and a wander of as much that lasts minutes, at 35 mg/L. */
  function noisyTrace(random: () => number, rise: number): readonly Co2TracePoint[] {
    let wander = 0.02 * drawNormal(random);
    const keep = Math.exp(-15 / 300);
    return traceOf(30, 15, (minute) => {
      wander = keep * wander + 0.02 * Math.sqrt(1 - keep * keep) * drawNormal(random);
      const pHError = wander + 0.02 * drawNormal(random);
      return (35 + (rise * (minute - 30)) / 30) * 10 ** -pHError;
    });
  }
  const shareAboveLimit = (rise: number): number => {
    const random = createRandomSource(20_260_322);
    const tries = 400;
    let above = 0;
    for (let attempt = 0; attempt < tries; attempt += 1) {
      const rate = rateOfRise(noisyTrace(random, rise), { now_monotonicMs });
      if ((rate?.rateLow80_mgPerLPer30Min ?? 0) > defaultCo2Limits.co2Rise_mgPerLPer30Min) above += 1;
    }
    return above / tries;
  };

  it("is not taken for a fast rise by a probe's noise and slow wander", () => {
    expect(shareAboveLimit(0)).toBe(0);
    expect(shareAboveLimit(4)).toBeLessThan(0.02);
  });

  it("is seen surely at twice the limit", () => {
    expect(shareAboveLimit(20)).toBeGreaterThan(0.98);
  });
});

describe("a trace of CO2 from one of pH", () => {
  it("has the present CO2 at the present pH, and ten times it one pH lower", () => {
    const trace = co2TraceFromPh(
      [
        { at_monotonicMs: 0, pH: 7.6 },
        { at_monotonicMs: 60_000, pH: 6.6 },
      ],
      { co2_mgPerL: 30, pH: 6.6 },
    );
    expect(trace.map((point) => point.co2_mgPerL)).toEqual([expect.closeTo(3, 9), expect.closeTo(30, 9)]);
  });
});

describe("a trace of a probe that stood in acid", () => {
  it("leaves out what is no water's CO2, and goes on with the rest", () => {
    const trace = Array.from({ length: 20 }, (_, index) => ({
      at_monotonicMs: index * 60_000,
      pH: index < 8 ? 2 : 6.9 - 0.001 * index,
    }));
    const present = { co2_mgPerL: 15, pH: 6.88 };
    const points = co2TraceFromPh(trace, present);
    expect(points).toHaveLength(12);
    expect(rateOfRise(points, { now_monotonicMs: 19 * 60_000 })?.rate_mgPerLPer30Min).toBeLessThan(2);
  });
});

describe("CO2 that has just moved", () => {
  const rateAfter = (co2_mgPerL: (minute: number) => number) =>
    rateOfRise(
      Array.from({ length: 31 }, (_, minute) => ({
        at_monotonicMs: minute * 60_000,
        co2_mgPerL: co2_mgPerL(minute),
      })),
      { now_monotonicMs: 30 * 60_000 },
    )!;

  it.each<[string, (minute: number) => number, boolean]>([
    ["a jump to ten times in the last three minutes", (minute) => (minute < 28 ? 20 : 200), true],
    ["a fall to a tenth in the last three minutes", (minute) => (minute < 28 ? 200 : 20), true],
    ["an even rise", (minute) => 10 + minute, false],
    ["rest", () => 20, false],
    ["a small step", (minute) => (minute < 28 ? 20 : 22), false],
  ])("is told of %s", (_, course, isTold) => {
    expect(hasJustMoved(rateAfter(course), course(30))).toBe(isTold);
  });
});

describe("the direction of the CO2", () => {
  it.each([
    { low80: 0.1, high80: 2, direction: "rising", because: "even the lower end goes up" },
    { low80: -2, high80: -0.1, direction: "falling", because: "even the upper end goes down" },
    { low80: -0.5, high80: 1.5, direction: "steady", because: "the readings leave it open" },
  ])("is $direction: $because", ({ low80, high80, direction }) => {
    expect(
      directionOf({
        rate_mgPerLPer30Min: (low80 + high80) / 2,
        rateLow80_mgPerLPer30Min: low80,
        rateHigh80_mgPerLPer30Min: high80,
        span_min: 10,
        endAboveLine_mgPerL: 0,
      }),
    ).toBe(direction);
  });
});
