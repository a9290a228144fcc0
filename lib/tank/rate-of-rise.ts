import { assertInRange } from "../quantities/valid-range.js";
import { normalQuantile80 } from "../numerics/normal-distribution.js";

export interface Co2TracePoint {
  readonly at_monotonicMs: number;
  readonly co2_mgPerL: number;
}

export interface PhTracePoint {
  readonly at_monotonicMs: number;
  readonly pH: number;
}

export interface RateOfRise {
  readonly rate_mgPerLPer30Min: number;
  /** One time in ten the true rate is below. */
  readonly rateLow80_mgPerLPer30Min: number;
  readonly rateHigh80_mgPerLPer30Min: number;
  readonly span_min: number;
  /** How far the last points lie above the line through all of them: far off, CO2 has just begun to move otherwise. */
  readonly endAboveLine_mgPerL: number;
}

/** Which way the CO2 surely goes: no end of the 80 % interval says otherwise. */
export type Co2Direction = "rising" | "falling" | "steady";

export function directionOf({
  rateLow80_mgPerLPer30Min,
  rateHigh80_mgPerLPer30Min,
}: RateOfRise): Co2Direction {
  if (rateLow80_mgPerLPer30Min > 0) return "rising";
  return rateHigh80_mgPerLPer30Min < 0 ? "falling" : "steady";
}

export interface RiseWindow {
  readonly now_monotonicMs: number;
  /** How far back to look; 30 where nothing is said, as the limit on the rise is stated. */
  readonly window_min?: number;
}

const minute_ms = 60_000;
const halfHour_ms = 30 * minute_ms;
/** More points than these are first drawn together to medians: pairs go with the square, and neighbours share their noise. */
const mostPoints = 60;
const fewestPoints = 8;
const shortestSpan_min = 10;
const lastPoints = 3;
const leastMove_mgPerL = 4;
const leastMove_ratio = 0.25;
/** Older than this, the last point says nothing of now. */
const oldestLast_min = 5;

const co2Range = { quantity: "co2_mgPerL", unit: "mg/L", minimum: 0, maximum: 1e5 };
const windowRange = { quantity: "window", unit: "min", minimum: shortestSpan_min, maximum: 1440 };

function medianOf(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length / 2;
  return ((sorted[Math.ceil(middle) - 1] ?? Number.NaN) + (sorted[Math.floor(middle)] ?? Number.NaN)) / 2;
}

/** Medians over equal spans of time, where there are more points than can be paired. */
function thinned(
  points: readonly Co2TracePoint[],
  from_monotonicMs: number,
  span_ms: number,
): readonly Co2TracePoint[] {
  if (points.length <= mostPoints) return points;
  const bins = new Map<number, Co2TracePoint[]>();
  for (const point of points) {
    const bin = Math.floor((mostPoints * (point.at_monotonicMs - from_monotonicMs)) / (span_ms + 1));
    bins.set(bin, [...(bins.get(bin) ?? []), point]);
  }
  return [...bins.values()].map((bin) => ({
    at_monotonicMs: medianOf(bin.map((point) => point.at_monotonicMs)),
    co2_mgPerL: medianOf(bin.map((point) => point.co2_mgPerL)),
  }));
}

/**
 * How fast a tank's CO2 rises, mg/L in 30 minutes, with an 80 % interval: the median of the slopes of all pairs of points, which
 * a third of wild readings do not move, and the interval that goes with it by ranks. The trace must be of one basis: a hardness test
 * entered in between makes a step that is no rise; `co2TraceFromPh` makes such a trace.
 * @returns undefined with fewer than 8 points, over less than 10 minutes, or the last one older than 5.
 * @throws OutOfValidRangeError for a CO2 outside 0 to 1e5 mg/L or a window outside 10 minutes to a day.
 * @see [Sen1968]; the interval takes the noise of neighbours as independent. Reference values: test/reference/rate-of-rise.json
 */
export function rateOfRise(trace: readonly Co2TracePoint[], window: RiseWindow): RateOfRise | undefined {
  const { now_monotonicMs, window_min = 30 } = window;
  assertInRange(window_min, windowRange);
  const recent = trace.filter(
    ({ at_monotonicMs }) =>
      at_monotonicMs <= now_monotonicMs && at_monotonicMs >= now_monotonicMs - window_min * minute_ms,
  );
  recent.forEach(({ co2_mgPerL }) => {
    assertInRange(co2_mgPerL, co2Range);
  });
  const instants = recent.map(({ at_monotonicMs }) => at_monotonicMs);
  const first_monotonicMs = Math.min(...instants);
  const last_monotonicMs = Math.max(...instants);
  const span_ms = last_monotonicMs - first_monotonicMs;
  if (recent.length < fewestPoints || span_ms < shortestSpan_min * minute_ms) return undefined;
  if (now_monotonicMs - last_monotonicMs > oldestLast_min * minute_ms) return undefined;

  const points = thinned(recent, first_monotonicMs, span_ms);
  const slopes: number[] = [];
  points.forEach((later, index) => {
    for (const earlier of points.slice(0, index)) {
      const apart_ms = later.at_monotonicMs - earlier.at_monotonicMs;
      if (apart_ms !== 0) slopes.push((halfHour_ms * (later.co2_mgPerL - earlier.co2_mgPerL)) / apart_ms);
    }
  });
  slopes.sort((a, b) => a - b);
  const count = points.length;
  const spread = normalQuantile80 * Math.sqrt((count * (count - 1) * (2 * count + 5)) / 18);
  const atRank = (rank: number): number =>
    slopes[Math.min(Math.max(Math.round(rank), 0), slopes.length - 1)] ?? Number.NaN;
  const rate_mgPerLPer30Min = medianOf(slopes);
  const aboveLine_mgPerL = points.map(
    ({ at_monotonicMs, co2_mgPerL }) =>
      co2_mgPerL - (rate_mgPerLPer30Min * (at_monotonicMs - first_monotonicMs)) / halfHour_ms,
  );
  return {
    rate_mgPerLPer30Min,
    endAboveLine_mgPerL: medianOf(aboveLine_mgPerL.slice(-lastPoints)) - medianOf(aboveLine_mgPerL),
    rateLow80_mgPerLPer30Min: atRank((slopes.length - spread) / 2 - 1),
    rateHigh80_mgPerLPer30Min: atRank((slopes.length + spread) / 2),
    span_min: span_ms / minute_ms,
  };
}

/** Whether CO2 has left the line so far that the rate through all points does not speak of now, at this CO2. Judgement. */
export function hasJustMoved({ endAboveLine_mgPerL }: RateOfRise, co2_mgPerL: number): boolean {
  return Math.abs(endAboveLine_mgPerL) > Math.max(leastMove_mgPerL, leastMove_ratio * co2_mgPerL);
}

/**
 * A trace of CO2 from one of pH, scaled to the present estimate: a lower pH by 0.1 is 1.26 times the CO2. What the estimate
 * rests on is then the same at all its points. A pH that no water has, as of a probe that stood in acid, is left out.
 */
export function co2TraceFromPh(
  trace: readonly PhTracePoint[],
  present: { readonly co2_mgPerL: number; readonly pH: number },
): readonly Co2TracePoint[] {
  return trace
    .map(({ at_monotonicMs, pH }) => ({
      at_monotonicMs,
      co2_mgPerL: present.co2_mgPerL * 10 ** (present.pH - pH),
    }))
    .filter(({ co2_mgPerL }) => co2_mgPerL >= co2Range.minimum && co2_mgPerL <= co2Range.maximum);
}
