import { assertInRange } from "../quantities/valid-range.js";
import { co2TraceFromPh, type Co2TracePoint, type PhTracePoint } from "./rate-of-rise.js";
import { normalQuantile80 } from "../numerics/normal-distribution.js";
import { median } from "./relaxation-fit.js";

/** A point of the tank's pH, and the reading that it shows: several points of one reading are one witness. */
export interface JumpPoint extends PhTracePoint {
  /** When the probe measured it; undefined: a reading of its own. */
  readonly readAt_epochMs?: number | undefined;
}

/** CO2 that has gone up within minutes. */
export interface Co2Jump {
  readonly risen_mgPerL: number;
  /** One time in ten, by the readings' own unrest, it is less. */
  readonly risenLow80_mgPerL: number;
  readonly within_min: number;
}

export interface JumpMoment {
  readonly now_monotonicMs: number;
  /** The tank's estimate, to which the course of the pH is scaled, and the pH that belongs to it. */
  readonly present: { readonly co2_mgPerL: number; readonly pH: number };
  /** A water change, after which the CO2 is another one: what was before is not compared with. */
  readonly waterChanged_monotonicMs?: number | undefined;
}

interface Level {
  readonly at_monotonicMs: number;
  readonly first_monotonicMs: number;
  readonly lnCo2: number;
  readonly count: number;
}

const minute_ms = 60_000;
/** As long as the limit on the rise is stated for; the last block of five minutes ends here. */
const lookback = { step_min: 5, last_min: 25 } as const;
const recent_min = 3;
const block_min = 5;
/** Fewer readings confirm nothing: of four, three must agree, so that two wild ones in a row make no jump. */
const fewest = 4;
/** A probe that speaks each five minutes, and misses one, is slow but not silent; each ten, it is too slow for a jump. */
const oldestOfLevel_min = 26;
/** Older than this, the last reading says nothing of now. */
const oldestLast_min = 11;
const silent_ms = 10 * minute_ms;
/** A probe put back into water, or a new one, needs its time to settle; water that was changed, to mix. Common practice, no source. */
export const settling_ms = 30 * minute_ms;
const looksBack_ms = 4 * 60 * minute_ms;
/**
 * No tank loses a quarter of its CO2 in ten minutes by itself: the probe was out of the water. Until it is back, three hours at
 * most, the CO2 before counts. Judgement.
 */
const excursion = { fall_ln: Math.log(4 / 3), over_steps: 2, back_ln: 0.15, longest_ms: 3 * 60 * minute_ms };
/** Of a reading, pH: less is not believed, as two decimals hide it. */
const leastReadingPhSigma = 0.01;
/** Stir and slow wander over minutes, which more readings do not take away. Judgement. */
const wanderPhSigma = 0.015;
const lowSigmas = normalQuantile80;
const lnPerPh = Math.LN10;

const co2Range = { quantity: "co2_mgPerL", unit: "mg/L", minimum: 1e-6, maximum: 1e5 };

/**
 * By how much a tank's CO2 has gone up within the last minutes, where the rate over half an hour cannot tell it yet: the lower
 * third of the last readings, four or more, over the upper third of those 5, 10, 15, 20 or 25 minutes ago, whichever rise is surest. What a probe
 * shows in the first half hour after its first reading, a silence or a water change is not compared with; a return from an excursion of the probe is no jump.
 * @param points  of one correction of the probe, oldest first
 * @returns undefined where nothing can be compared
 * @throws OutOfValidRangeError for a present CO2 outside 1e-6 to 1e5 mg/L
 */
export function co2Jump(points: readonly JumpPoint[], moment: JumpMoment): Co2Jump | undefined {
  const { now_monotonicMs, present } = moment;
  assertInRange(present.co2_mgPerL, co2Range);
  const begin_monotonicMs = beginOf(points, moment);
  if (begin_monotonicMs === undefined) return undefined;
  const readings = co2TraceFromPh(
    ofOwnReadings(points).filter(
      ({ at_monotonicMs }) => at_monotonicMs >= begin_monotonicMs && at_monotonicMs <= now_monotonicMs,
    ),
    present,
  ).filter(({ co2_mgPerL }) => co2_mgPerL > 0);
  const last = readings.at(-1);
  if (last === undefined || now_monotonicMs - last.at_monotonicMs > oldestLast_min * minute_ms) {
    return undefined;
  }
  const recent = levelAt(readings, now_monotonicMs, { width_min: recent_min, share: 1 / 3 });
  if (recent === undefined) return undefined;
  const sigmaOf = ({ count }: Level): number =>
    lnPerPh * Math.hypot((1.25 * readingPhSigma(readings)) / Math.sqrt(count), wanderPhSigma);
  const recentCo2_mgPerL = Math.exp(recent.lnCo2);
  let surest: Co2Jump | undefined;
  for (const base of heldLevels(readings, begin_monotonicMs, now_monotonicMs)) {
    if (base.at_monotonicMs >= recent.first_monotonicMs) continue;
    if (base.first_monotonicMs - begin_monotonicMs < settling_ms) continue;
    const baseCo2_mgPerL = Math.exp(base.lnCo2);
    const risen_mgPerL = recentCo2_mgPerL - baseCo2_mgPerL;
    const sigma_mgPerL = Math.hypot(recentCo2_mgPerL * sigmaOf(recent), baseCo2_mgPerL * sigmaOf(base));
    const risenLow80_mgPerL = risen_mgPerL - lowSigmas * sigma_mgPerL;
    if (surest !== undefined && risenLow80_mgPerL < surest.risenLow80_mgPerL) continue;
    surest = {
      risen_mgPerL,
      risenLow80_mgPerL,
      within_min: Math.round((now_monotonicMs - base.at_monotonicMs) / minute_ms),
    };
  }
  return surest;
}

/** From where on the points can be compared: the last silence, or water change, begins them anew. */
function beginOf(
  points: readonly JumpPoint[],
  { now_monotonicMs, waterChanged_monotonicMs }: JumpMoment,
): number | undefined {
  let begin_monotonicMs: number | undefined;
  let before_monotonicMs: number | undefined;
  for (const { at_monotonicMs } of points) {
    if (at_monotonicMs > now_monotonicMs || now_monotonicMs - at_monotonicMs > looksBack_ms) continue;
    if (before_monotonicMs === undefined || at_monotonicMs - before_monotonicMs > silent_ms) {
      begin_monotonicMs = at_monotonicMs;
    }
    before_monotonicMs = at_monotonicMs;
  }
  if (begin_monotonicMs === undefined || waterChanged_monotonicMs === undefined) return begin_monotonicMs;
  return Math.max(begin_monotonicMs, waterChanged_monotonicMs);
}

function ofOwnReadings(points: readonly JumpPoint[]): readonly JumpPoint[] {
  return points.filter(({ readAt_epochMs }, index) => {
    const before = points[index - 1]?.readAt_epochMs;
    return readAt_epochMs === undefined || before === undefined || readAt_epochMs !== before;
  });
}

/** A share of the readings in the minutes up to an instant, or of the last four, lies below; undefined where they are too old. */
function levelAt(
  readings: readonly Co2TracePoint[],
  at_monotonicMs: number,
  { width_min, share }: { readonly width_min: number; readonly share: number },
): Level | undefined {
  const until = readings.filter((reading) => reading.at_monotonicMs <= at_monotonicMs);
  const within = until.filter((reading) => at_monotonicMs - reading.at_monotonicMs <= width_min * minute_ms);
  const taken = within.length >= fewest ? within : until.slice(-fewest);
  const [first] = taken;
  if (first === undefined || taken.length < fewest) return undefined;
  if (at_monotonicMs - first.at_monotonicMs > oldestOfLevel_min * minute_ms) return undefined;
  return {
    at_monotonicMs,
    first_monotonicMs: first.at_monotonicMs,
    lnCo2: ranked(
      taken.map(({ co2_mgPerL }) => Math.log(co2_mgPerL)),
      share,
    ),
    count: taken.length,
  };
}

/** Away from the middle where the share falls between two. */
function ranked(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  const place = share * (sorted.length - 1);
  return sorted[share < 0.5 ? Math.floor(place) : Math.ceil(place)] ?? Number.NaN;
}

/** The levels of the last half hour; while the probe was out of the water, that before. */
function heldLevels(
  readings: readonly Co2TracePoint[],
  begin_monotonicMs: number,
  now_monotonicMs: number,
): readonly Level[] {
  const step_ms = lookback.step_min * minute_ms;
  const steps = Math.floor((now_monotonicMs - begin_monotonicMs) / step_ms);
  const seen: Level[] = [];
  const held: Level[] = [];
  let out: { readonly lnCo2: number; readonly since_monotonicMs: number } | undefined;
  for (let back = steps; back >= 1; back -= 1) {
    const level = levelAt(readings, now_monotonicMs - back * step_ms, { width_min: block_min, share: 2 / 3 });
    if (level === undefined) continue;
    const isBack =
      out !== undefined &&
      (level.lnCo2 > out.lnCo2 - excursion.back_ln ||
        level.at_monotonicMs - out.since_monotonicMs > excursion.longest_ms);
    if (isBack) out = undefined;
    if (out === undefined) {
      const stood = seen.slice(-6).map(({ lnCo2 }) => lnCo2);
      const justBefore = Math.max(...seen.slice(-excursion.over_steps).map(({ lnCo2 }) => lnCo2));
      const stood_ln = stood.length === 0 ? level.lnCo2 : median(stood);
      if (Math.min(stood_ln, justBefore) - level.lnCo2 > excursion.fall_ln && !isBack) {
        out = { lnCo2: stood_ln, since_monotonicMs: level.at_monotonicMs };
      }
    }
    seen.push(level);
    const isRecent = back * lookback.step_min <= lookback.last_min;
    if (isRecent)
      held.push(out === undefined ? level : { ...level, lnCo2: Math.max(level.lnCo2, out.lnCo2) });
  }
  return held;
}

/** Noise of one reading, pH, by the middle of the steps between neighbours: a jump is one step among many. */
function readingPhSigma(readings: readonly Co2TracePoint[]): number {
  const steps = readings
    .slice(-36)
    .map(({ co2_mgPerL }, index, some) => {
      const before = some[index - 1];
      return before === undefined ? undefined : Math.abs(Math.log(co2_mgPerL / before.co2_mgPerL)) / lnPerPh;
    })
    .filter((step) => step !== undefined);
  return steps.length === 0
    ? leastReadingPhSigma
    : Math.max(leastReadingPhSigma, (1.4826 * median(steps)) / Math.SQRT2);
}
