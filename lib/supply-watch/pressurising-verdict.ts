import type { Believed } from "../estimation/supply-belief.js";
import type { SuppliedCharge } from "../estimation/supply-trace.js";
import { readyBand_ratio } from "../vessel/pressurising.js";
import { plainText } from "../told/plain-text.js";
import { bar, said, type Said } from "../told/said.js";
import type { PressurisingGrid } from "./pressurising-grid.js";
import { atStrength, carriedPace, type PaceBelief, type PressurisingState } from "./pressurising-watch.js";

/**
 * How a fresh charge comes on:
 * - too-early: nothing can be told yet
 * - on-plan: strength as told, ready about when it usually is
 * - slow: strength as told as far as can be seen, ready later than usual
 * - stalled: the pressure stands still far below the plan
 * - too-weak, too-strong: less or more CO2 than was told; too-strong also where the warm pressure nears the rating
 */
export type PressurisingKind = "too-early" | "on-plan" | "slow" | "stalled" | "too-weak" | "too-strong";

export interface PressurisingOutlook {
  /** What shows in the pressure over what was told. */
  readonly strength: Believed;
  /** When all has reacted, at the warmest temperature read so far, bar gauge. */
  readonly warmGauge: Believed;
  /** The same for the charge as told. */
  readonly plannedGauge_bar: number;
  /** Of the warm pressure that is forecast, what the gauge shows. */
  readonly shownOfWarm_ratio: number;
  /** Nearing a pressure at which the vessel must be left alone; only where the rating is known. */
  readonly nearsRating: boolean;
}

export interface PressurisingVerdict extends PressurisingOutlook {
  readonly kind: PressurisingKind;
  /** From then on within 3 % of the settled pressure; undefined: not told, or not within four days. */
  readonly ready_epochMs: number | undefined;
  readonly plannedReady_epochMs: number | undefined;
  /** What the verdict rests on, in words. */
  readonly evidence: string;
  /** What to do at the vessel, the most urgent first. Empty: nothing. */
  readonly advice: readonly string[];
  /** The same with their quantities as such. */
  readonly said: { readonly evidence: Said; readonly advice: readonly Said[] };
}

/** The vessel's own limit. */
export interface VesselRating {
  /** The lower of the rated pressure and the pressure at which the relief device opens. */
  readonly ratedPressureGauge_bar: number;
}

const hour_ms = 3_600_000;

/**
 * Judgements. Weighing errors of a tenth are everyday, the model is good for 4 %, and up to 8 % is lost before closing: below
 * 0.84 of what was told none of that explains it, above 1.1 neither.
 */
const strengthLimits = {
  weak_ratio: 0.84,
  strong_ratio: 1.1,
  deviation_ratio: 0.07,
  shownOfWarm_ratio: 0.8,
  /** What the forecast of a moving charge is off, beyond what its own spread says. */
  model_ratio: 0.03,
} as const;
/** Strength is told by readings before much was drawn. */
const mostOpen_h = 8;
const least = { readings: 4, since_h: 0.5 } as const;

/** Shares of the rating, as for a plan: forecast above which it is too strong, and pressure above which nobody goes near. */
export const ratingShares = { forecast_ratio: 0.9, keepAway_ratio: 0.8 } as const;
/** Of the rating: from which pressure on a forecast of which sharpness is enough to say so. */
const nearing = {
  early: { pressure_ratio: 0.67, deviation_ratio: 0.05, mostStrength_ratio: 1.7 },
  near: { pressure_ratio: 0.73, forecast_ratio: 0.85 },
  late: [
    { pressure_ratio: 0.755, strength_ratio: 1.06 },
    { pressure_ratio: 0.78, strength_ratio: 1.045 },
  ],
} as const;

const stall = {
  water: { since_h: 5, over_h: 3 },
  ice: { since_h: 24, over_h: 8 },
  rise_ratio: 0.015,
  below_ratio: 0.6,
} as const;
/** The usual pace is good for a factor of two. */
const slow = { water: 2.5, ice: 1.8, least_h: 3, nearly_ratio: 0.93 } as const;
const forecast = { horizon_h: 96, step_h: 0.5, paces: 8 } as const;

/** All paces together: what the pressure says of strength and warm pressure. */
export function pressurisingOutlook(
  grid: PressurisingGrid,
  state: PressurisingState,
  rating?: VesselRating,
): PressurisingOutlook {
  const raw = state.paces.map(({ logWeight }) => Math.exp(logWeight));
  const total = raw.reduce((sum, weight) => sum + weight, 0);
  const settled_bar = grid.variants.map((variant) => variant.settledGauge_bar(state.warmest_degC));
  const strength = mixture(
    state.paces.map((belief, k) => ({
      weight: (raw[k] ?? 0) / total,
      value: belief.strength_ratio,
      variance: belief.covariance[0],
    })),
  );
  const warmGauge = mixture(
    state.paces.map((belief, k) => {
      const { value, slope } = atStrength(grid.variants, settled_bar, belief.strength_ratio);
      const [p00, p01, p11] = belief.covariance;
      return {
        weight: (raw[k] ?? 0) / total,
        value: value + belief.offset_bar,
        variance: slope * (slope * p00 + 2 * p01) + p11,
      };
    }),
  );
  const rated_bar = rating?.ratedPressureGauge_bar ?? Infinity;
  const pressure_bar = state.pressure_bar ?? 0;
  const known = state.readings >= least.readings;
  return {
    strength,
    warmGauge,
    plannedGauge_bar: grid.plannedGauge_bar(state.warmest_degC),
    shownOfWarm_ratio: warmGauge.value > 0 ? pressure_bar / warmGauge.value : 0,
    nearsRating:
      known &&
      nearsRating(pressure_bar / rated_bar, strength, {
        value: warmGauge.value / rated_bar,
        deviation: warmGauge.deviation / rated_bar,
      }),
  };
}

/** All as shares of the rating. Early on the forecast has to be sharp; the nearer the limit, the less it takes. */
function nearsRating(pressure: number, strength: Believed, warm: Believed): boolean {
  const { early, near, late } = nearing;
  return (
    (pressure > early.pressure_ratio &&
      warm.deviation < early.deviation_ratio &&
      // A pace that fits nothing drives the strength to its bound.
      strength.value < early.mostStrength_ratio &&
      warm.value - warm.deviation > ratingShares.forecast_ratio) ||
    (pressure > near.pressure_ratio && warm.value > near.forecast_ratio) ||
    late.some(
      ({ pressure_ratio, strength_ratio }) =>
        pressure > pressure_ratio && strength.value - 0.3 * strength.deviation > strength_ratio,
    )
  );
}

/** Strength and rating alone, without the forecast of the time: cheap enough for every reading. */
export function pressurisingStrength(
  told: SuppliedCharge,
  state: PressurisingState,
  outlook: PressurisingOutlook,
): "too-early" | "as-told" | "too-weak" | "too-strong" {
  const { strength } = outlook;
  const since_h = (state.at_epochMs - told.closedAt_epochMs) / hour_ms;
  if (outlook.nearsRating) return "too-strong";
  if (state.readings < least.readings || since_h < least.since_h) return "too-early";
  if (strength.deviation > strengthLimits.deviation_ratio) return "too-early";
  if (
    outlook.shownOfWarm_ratio > strengthLimits.shownOfWarm_ratio &&
    strength.value - 1.5 * Math.hypot(strength.deviation, strengthLimits.model_ratio) >
      strengthLimits.strong_ratio
  ) {
    return "too-strong";
  }
  if (state.open_h < mostOpen_h && strength.value + strength.deviation < strengthLimits.weak_ratio) {
    return "too-weak";
  }
  return "as-told";
}

/**
 * The verdict on a fresh charge at its last reading, with the forecast and what it rests on. The advice never asks anybody to
 * loosen a fitting, and nothing in it is done by the daemon.
 */
export function pressurisingVerdict(
  grid: PressurisingGrid,
  told: SuppliedCharge,
  state: PressurisingState,
  rating?: VesselRating,
): PressurisingVerdict {
  const outlook = pressurisingOutlook(grid, state, rating);
  const strength = pressurisingStrength(told, state, outlook);
  const ready_epochMs = state.ready_epochMs ?? forecastReady(grid, state);
  const plannedReady_epochMs =
    grid.plannedReady_h === undefined ? undefined : told.closedAt_epochMs + grid.plannedReady_h * hour_ms;
  const kind = kindOf(grid, told, state, { strength, outlook, ready_epochMs });
  const gauge = state.pressure_bar === undefined ? "no pressure" : bar(state.pressure_bar, 1);
  const since_h = (state.at_epochMs - told.closedAt_epochMs) / hour_ms;
  const shown = (100 * outlook.strength.value).toFixed(0);
  const give = (196 * outlook.strength.deviation).toFixed(0);
  const evidence = said`${gauge} read ${since_h.toFixed(1)} h after closing; the charge shows ${shown} % of what was told, give or take ${give}; warm it comes to ${bar(outlook.warmGauge.value, 1)}, planned ${bar(outlook.plannedGauge_bar, 1)}`;
  const advice = adviceFor(kind, state, outlook, rating);
  return {
    ...outlook,
    kind,
    ready_epochMs: kind === "too-early" || kind === "stalled" ? undefined : ready_epochMs,
    plannedReady_epochMs,
    evidence: plainText(evidence),
    advice: advice.map((sentence) => plainText(sentence)),
    said: { evidence, advice },
  };
}

function kindOf(
  grid: PressurisingGrid,
  told: SuppliedCharge,
  state: PressurisingState,
  found: {
    readonly strength: ReturnType<typeof pressurisingStrength>;
    readonly outlook: PressurisingOutlook;
    readonly ready_epochMs: number | undefined;
  },
): PressurisingKind {
  if (found.strength === "too-strong") return "too-strong";
  if (standsStill(told, state, found.outlook.plannedGauge_bar)) return "stalled";
  if (found.strength === "too-weak") return "too-weak";
  if (found.strength === "too-early") return "too-early";
  if (found.outlook.shownOfWarm_ratio > slow.nearly_ratio) return "on-plan";
  const planned_h = grid.plannedReady_h ?? forecast.horizon_h;
  const ready_h =
    found.ready_epochMs === undefined ? Infinity : (found.ready_epochMs - told.closedAt_epochMs) / hour_ms;
  return ready_h > Math.max(slow[told.closedWith] * planned_h, planned_h + slow.least_h) ? "slow" : "on-plan";
}

function standsStill(told: SuppliedCharge, state: PressurisingState, planned_bar: number): boolean {
  const { since_h, over_h } = stall[told.closedWith];
  const last = state.recent.at(-1);
  if (last === undefined || state.open_h > 0) return false;
  const before = state.recent.filter(
    ({ at_epochMs }) => last.at_epochMs - at_epochMs >= (over_h - 0.25) * hour_ms,
  );
  const from = before.at(-1);
  return (
    from !== undefined &&
    last.at_epochMs - told.closedAt_epochMs >= since_h * hour_ms &&
    last.gauge_bar < stall.below_ratio * planned_bar &&
    last.gauge_bar - from.gauge_bar < Math.max(stall.rise_ratio * planned_bar, 1.5 * state.step_bar)
  );
}

/** The median of the likeliest paces: when they come into the band around the settled pressure, at the temperature of now. */
function forecastReady(grid: PressurisingGrid, state: PressurisingState): number | undefined {
  const best = [...state.paces].sort((a, b) => b.logWeight - a.logWeight).slice(0, forecast.paces);
  const settled_bar = grid.variants.map((variant) => variant.settledGauge_bar(state.sensor_degC));
  const found = best
    .map((belief) => ({
      ready_h: readyIn_h(grid, state, belief, settled_bar) ?? Infinity,
      weight: Math.exp(belief.logWeight),
    }))
    .sort((a, b) => a.ready_h - b.ready_h);
  const half = found.reduce((sum, { weight }) => sum + weight, 0) / 2;
  let passed = 0;
  const median = found.find(({ weight }) => (passed += weight) >= half);
  return median === undefined || !Number.isFinite(median.ready_h)
    ? undefined
    : state.at_epochMs + median.ready_h * hour_ms;
}

function readyIn_h(
  grid: PressurisingGrid,
  state: PressurisingState,
  from: PaceBelief,
  settled_bar: readonly number[],
): number | undefined {
  // Two amounts around the strength are enough.
  const goal_bar = atStrength(grid.variants, settled_bar, from.strength_ratio).value;
  let belief = from;
  for (let ahead_h = 0; ahead_h <= forecast.horizon_h; ahead_h += forecast.step_h) {
    const now_bar = atStrength(grid.variants, belief.gauge_bar, from.strength_ratio).value;
    if (Math.abs(now_bar - goal_bar) <= readyBand_ratio * Math.abs(goal_bar)) return ahead_h;
    belief = carriedPace(grid.variants, belief, forecast.step_h, state.sensor_degC);
  }
  return undefined;
}

const upright = said`Keep the vessel upright and the room ventilated; loosen no fitting.`;

/** The rules of a vessel that comes on too strong; what stands in them is for people, the daemon lets no gas out. */
function adviceFor(
  kind: PressurisingKind,
  state: PressurisingState,
  outlook: PressurisingOutlook,
  rating: VesselRating | undefined,
): readonly Said[] {
  if (kind === "stalled" || kind === "too-weak") {
    return [
      said`Add nothing, heat nothing and open nothing: what has not reacted yet may do so at once. Wait until the vessel is at room temperature.`,
      ...(kind === "stalled"
        ? [
            said`With the vessel closed and upright, a gentle swirl lets acid and bicarbonate meet; read the gauge after it.`,
          ]
        : []),
    ];
  }
  if (kind !== "too-strong") return [];
  if (rating === undefined) {
    return [
      said`The warm pressure is forecast at ${bar(outlook.warmGauge.value, 1)}: compare it with the vessel's rating and its relief device now.`,
      upright,
    ];
  }
  const { ratedPressureGauge_bar } = rating;
  const gauge_bar = state.pressure_bar ?? Infinity;
  const forecast_bar = outlook.warmGauge.value + outlook.warmGauge.deviation;
  if (gauge_bar > ratingShares.keepAway_ratio * ratedPressureGauge_bar) {
    return [
      said`The vessel is above ${100 * ratingShares.keepAway_ratio} % of its rating: keep away from it, take every source of heat away from a distance, ventilate the room, and leave the relief device alone.`,
      said`Call somebody licensed for pressure vessels if the pressure keeps rising; leave the room if the relief device opens, and air it before you go back.`,
    ];
  }
  if (forecast_bar > ratingShares.forecast_ratio * ratedPressureGauge_bar) {
    return [
      said`While the vessel is at or below ${100 * ratingShares.keepAway_ratio} % of its rating, let gas out slowly through the regulator, with the line out of the tank, and watch the gauge.`,
      upright,
      said`Keep it cool; if the gauge passes ${bar(ratingShares.keepAway_ratio * ratedPressureGauge_bar, 1)}, stop and keep away.`,
    ];
  }
  return [
    said`The charge is stronger than it was told to be: look at what was weighed before it is used as a measure of anything.`,
    upright,
  ];
}

function mixture(
  parts: readonly { readonly weight: number; readonly value: number; readonly variance: number }[],
): Believed {
  const value = parts.reduce((sum, part) => sum + part.weight * part.value, 0);
  const variance = parts.reduce(
    (sum, part) => sum + part.weight * (part.variance + (part.value - value) ** 2),
    0,
  );
  return { value, deviation: Math.sqrt(Math.max(0, variance)) };
}
