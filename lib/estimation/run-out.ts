import { quasiRandomNormals } from "./normal-quantile.js";
import { forecastHorizon_days } from "./open-spans.js";
import type { SupplyBelief } from "./supply-belief.js";
import { flowMultiplier } from "./supply-motion.js";
import { inletAt, reactedAtInlet_g, reactedCo2_g } from "./supply-observation.js";
import type { SupplyModel } from "./supply-model.js";
import { useSpread } from "./supply-spreads.js";
import { component as c, componentCount, type SupplyState } from "./supply-state.js";
import { choleskyOf } from "./symmetric-matrix.js";

/** When the pressure falls to the working pressure for good. */
export interface RunOut {
  readonly median_epochMs: number;
  readonly low80_epochMs: number;
  readonly high80_epochMs: number;
}

/**
 * Whether an end is known too badly to be called by its day: the 80 % interval is wider than the time to the median and a day.
 * A judgement: with it a refill that is planned by the day would come half too soon or twice too late.
 */
export function isRunOutVague(
  { median_epochMs, low80_epochMs, high80_epochMs }: RunOut,
  at_epochMs: number,
): boolean {
  return high80_epochMs - low80_epochMs > Math.max(0, median_epochMs - at_epochMs) + day_ms;
}

const day_ms = 86_400_000;
const hour_ms = 3_600_000;

/**
 * A run-out as every output gives it, to the full hour; undefined where its day is not known yet. What is then known, that it may
 * end from a day on, only sentences tell.
 */
export function toldRunOut(runOut: RunOut, at_epochMs: number): RunOut | undefined {
  if (isRunOutVague(runOut, at_epochMs)) return undefined;
  const toTheHour = (instant_epochMs: number): number => Math.round(instant_epochMs / hour_ms) * hour_ms;
  return {
    median_epochMs: toTheHour(runOut.median_epochMs),
    low80_epochMs: toTheHour(runOut.low80_epochMs),
    high80_epochMs: toTheHour(runOut.high80_epochMs),
  };
}

const draws = 80;
/** The first points of the sequence lie on lines in the larger bases. */
const skippedDraws = 60;
/** One equally likely course, as standard normal deviates. */
interface Course {
  readonly use: number;
  readonly wander: number;
  readonly room: number;
  readonly components: readonly number[];
}
const waysAhead = 3;
/**
 * Fixed points, so that the same state gives the same forecast. What is to come has the best spread dimensions, since near the end it
 * outweighs what is believed.
 */
const courses = Array.from({ length: draws }, (_, k): Course => {
  const [use = NaN, wander = NaN, room = NaN, ...components] = quasiRandomNormals(
    skippedDraws + k + 1,
    waysAhead + componentCount,
  );
  return { use, wander, room, components };
});
/**
 * By how much the room of the coming days may be warmer or colder than that of past dosing: at the end the gauge hangs on it. A
 * judgement, no source.
 */
const roomAhead_K = 1;
/** Three points of Gauss-Legendre quadrature: exact for a flow that is a polynomial of the fifth degree in what is left. */
const quadrature = [
  { at: 0.5 - Math.sqrt(0.15), weight: 5 / 18 },
  { at: 0.5, weight: 8 / 18 },
  { at: 0.5 + Math.sqrt(0.15), weight: 5 / 18 },
] as const;
/** Slower than this, a charge outlasts any forecast. */
const leastFlow_ratio = 0.02;

/**
 * The instant at which the pressure falls to the working pressure for good, with its 80 % interval: what can still be delivered, at a
 * flow that follows the inlet, walked through the coming dosing windows in the share in which they are used. Eighty fixed
 * draws from the belief and from how use may wander carry every uncertainty to the end. The temperature is that of past
 * dosing. Never later than the forecast's horizon of two years; an end that is past is the instant at which it came.
 */
export function forecastRunOut(model: SupplyModel, state: SupplyState, belief: SupplyBelief): RunOut {
  const from_epochMs = state.at_epochMs;
  if (state.spentSince_epochMs !== undefined) {
    const { spentSince_epochMs } = state;
    return {
      median_epochMs: spentSince_epochMs,
      low80_epochMs: spentSince_epochMs,
      high80_epochMs: spentSince_epochMs,
    };
  }
  const spans_h = coursesAhead(model, state, belief)
    .map(({ open_h }) => open_h)
    .sort((one, other) => one - other);
  const quantile_h = (share: number): number => {
    const place = share * (spans_h.length - 1);
    const low = spans_h[Math.floor(place)] ?? 0;
    const high = spans_h[Math.ceil(place)] ?? low;
    return low + (place - Math.floor(place)) * (high - low);
  };
  const instant = (share: number): number => model.spans.instantAfter(from_epochMs, quantile_h(share));
  return { median_epochMs: instant(0.5), low80_epochMs: instant(0.1), high80_epochMs: instant(0.9) };
}

function drawn(mean: readonly number[], lower: readonly number[], deviate: readonly number[]): number[] {
  return mean.map((value, i) => {
    let sum = value;
    for (let j = 0; j <= i; j += 1) sum += (lower[i * componentCount + j] ?? 0) * (deviate[j] ?? 0);
    return sum;
  });
}

/** One equally likely way to the end. */
export interface CourseAhead {
  /** What is believed in this draw, at the temperature at which it doses, with everything settled. */
  readonly mean: readonly number[];
  /** CO2 in the vessel at the working pressure, g. */
  readonly kept_g: number;
  /** CO2 that still leaves before it, g; none where the end has come. */
  readonly deliverable_g: number;
  /** Use for each hour of the windows while so much is in the vessel, g. */
  readonly perWindowHour_g: (left_g: number) => number;
  /** Hours of the windows until the end, the wander of the use in it. */
  readonly open_h: number;
}

/** The ways that a forecast is made of. */
export function coursesAhead(
  model: SupplyModel,
  state: SupplyState,
  belief: SupplyBelief,
): readonly CourseAhead[] {
  const lower = choleskyOf(belief.covariance, componentCount);
  return courses.map((course) =>
    courseAhead(model, state, drawn(belief.mean, lower, course.components), course),
  );
}

function courseAhead(model: SupplyModel, state: SupplyState, mean: number[], course: Course): CourseAhead {
  const { charge, spans, map } = model;
  mean[c.contents] = state.dosing_degC + (mean[c.temperatureOffset] ?? 0) + roomAhead_K * course.room;
  mean[c.pending] = 0;
  const reacted_g = Math.max(0, reactedCo2_g(model, mean));
  const kept_g = reactedAtInlet_g(model, mean, charge.workingPressureGauge_bar);
  const deliverable_g = Math.max(0, reacted_g - kept_g);
  const usual_gPerH = map.co2Available_g / (useSpread.chargeLasts_days * spans.openPerDay_h);
  const flow_gPerH = Math.max(leastFlow_ratio * usual_gPerH, mean[c.flow] ?? 0);
  const { use } = state;
  const used_ratio = Math.min(
    4,
    Math.max(
      0.02,
      use.mean_ratio + Math.sqrt(use.variance / (use.days + useSpread.windowUse.worth_days)) * course.use,
    ),
  );
  const leak_gPerDay = Math.max(0, mean[c.leak] ?? 0) * 24;
  const perWindowHour_g = (left_g: number): number => {
    const { inletGauge_bar } = inletAt(model, mean, left_g);
    return (
      flow_gPerH * flowMultiplier(mean[c.supplyEffect] ?? 0, inletGauge_bar) * used_ratio +
      leak_gPerDay / spans.openPerDay_h
    );
  };
  let open_h = 0;
  if (deliverable_g > 0) {
    for (const { at, weight } of quadrature) {
      open_h += (weight * deliverable_g) / perWindowHour_g(kept_g + (1 - at) * deliverable_g);
    }
  }
  const days = Math.max(0.5, open_h / spans.openPerDay_h);
  // The flow's wander until then, averaged over the way; single days' chance averages out.
  const wander_ratio = Math.hypot(
    useSpread.flowAheadPerDay_ratio * Math.sqrt(days / 3),
    Math.sqrt((use.variance / use.mean_ratio ** 2 + useSpread.useOfDay_ratio ** 2) / days),
  );
  const longest_h = forecastHorizon_days * 24;
  return {
    mean,
    kept_g,
    deliverable_g,
    perWindowHour_g,
    open_h: Math.min(longest_h, open_h * Math.exp(wander_ratio * course.wander)),
  };
}
