import type { SuppliedCharge, SupplyReading } from "../estimation/supply-trace.js";
import { useSpread } from "../estimation/supply-spreads.js";
import { readyBand_ratio } from "../vessel/pressurising.js";
import type { ChargeVariant, PressurisingGrid, VesselPace } from "./pressurising-grid.js";

/** One pace, with what is believed of strength and offset if it is the true one. Plain data. */
export interface PaceBelief {
  readonly pace: VesselPace;
  /** For each amount of the grid: heat of the contents, share that has reacted. */
  readonly heat_J: readonly number[];
  readonly reacted_ratio: readonly number[];
  /** Pressure of the amounts now, from the model. */
  readonly gauge_bar: readonly number[];
  /** Reactants that show in the pressure over those told: weighing, model and losses together. */
  readonly strength_ratio: number;
  /** Gauge reading less modelled pressure: gauge and air. */
  readonly offset_bar: number;
  /** Variance of the strength, covariance, variance of the offset. */
  readonly covariance: readonly [number, number, number];
  readonly logWeight: number;
}

export interface PressurisingState {
  readonly version: 1;
  readonly at_epochMs: number;
  readonly last_epochMs: number;
  readonly wasOpen: boolean;
  readonly open_h: number;
  readonly sensor_degC: number;
  readonly warmest_degC: number;
  readonly sum_bar: number;
  readonly count: number;
  readonly step_bar: number;
  readonly lastRead_bar: number | undefined;
  readonly pressure_bar: number | undefined;
  /** Gauge by the half hour, the newest last: for a pressure that stands still. */
  readonly recent: readonly { readonly at_epochMs: number; readonly gauge_bar: number }[];
  readonly paces: readonly PaceBelief[];
  readonly readings: number;
  /** Since when the likeliest pace is within the band of the settled pressure. */
  readonly ready_epochMs: number | undefined;
}

const hour_ms = 3_600_000;
const minute_ms = 60_000;

/** Readings are taken together so long; while all is fast, shorter. */
const gather_ms = { early: 2 * minute_ms, late: 10 * minute_ms } as const;
const earlySpan_h = 3;
const longestStep_h = 1 / 6;
const recentEvery_ms = 30 * minute_ms;
const recentKept = 25;
/** A pace so much less likely than the best is given up; so many stay in any case. */
const pruned_ln = -12;
const leastPaces = 6;

/** Standard deviations before anything is read; judgements but for the model's own (see supply-spreads). */
const prior = {
  strength_ratio: 0.97,
  strengthDeviation: 0.2,
  air_bar: -0.45,
  airDeviation_bar: 0.3,
} as const;
/** Of the modelled pressure while it moves, and of the change over ten minutes: layers, the ice's shape, the start. */
const modelNoise = { ofPressure: 0.012, ofChange: 0.35, least_bar: 0.02 } as const;
/** Errors of readings minutes apart are the same errors: each counts for its share of an hour. */
const errorMemory_h = 1;
const strengthDrift_perH = 0.005;
const oddsMemory_h = 12;
const useDeviation = 0.7;

/** Until when a fresh charge is watched, hours after closing. */
export const pressurisingSpan_h = { water: 48, ice: 96 } as const;

/** The state at closing, told what a first row says of the temperature. */
export function firstPressurisingState(
  grid: PressurisingGrid,
  told: SuppliedCharge,
  first: SupplyReading,
): PressurisingState {
  const sensor_degC = first.temperature_degC ?? told.sealedAt_degC;
  return {
    version: 1,
    at_epochMs: Math.min(told.closedAt_epochMs, first.at_epochMs),
    last_epochMs: Math.min(told.closedAt_epochMs, first.at_epochMs),
    wasOpen: false,
    open_h: 0,
    sensor_degC,
    warmest_degC: Math.max(sensor_degC, told.sealedAt_degC),
    sum_bar: 0,
    count: 0,
    step_bar: 0,
    lastRead_bar: undefined,
    pressure_bar: undefined,
    recent: [],
    readings: 0,
    ready_epochMs: undefined,
    paces: grid.paces.map((pace) => ({
      pace,
      heat_J: grid.variants.map(({ heat }) => heat.start_J),
      reacted_ratio: grid.variants.map(() => 0),
      gauge_bar: grid.variants.map(({ heat }) => heat.stateAt(heat.start_J, 0).pressureGauge_bar),
      strength_ratio: prior.strength_ratio,
      offset_bar: prior.air_bar,
      covariance: [
        prior.strengthDeviation ** 2,
        0,
        prior.airDeviation_bar ** 2 + (0.5 * told.gaugeAccuracy_bar) ** 2,
      ],
      logWeight: pace.odds_ln,
    })),
  };
}

/** The state after one more row; rows in order of time. */
export function stepPressurising(
  grid: PressurisingGrid,
  told: SuppliedCharge,
  state: PressurisingState,
  reading: SupplyReading,
): PressurisingState {
  const { at_epochMs, pressureGauge_bar, temperature_degC } = reading;
  if (at_epochMs > told.closedAt_epochMs + pressurisingSpan_h[told.closedWith] * hour_ms) return state;
  if (at_epochMs < state.last_epochMs) return state;
  const passed_h = (at_epochMs - state.last_epochMs) / hour_ms;
  const sensor_degC = temperature_degC ?? state.sensor_degC;
  const difference_bar =
    pressureGauge_bar === undefined || state.lastRead_bar === undefined
      ? 0
      : Math.abs(pressureGauge_bar - state.lastRead_bar);
  const gathered: PressurisingState = {
    ...state,
    last_epochMs: at_epochMs,
    wasOpen: reading.valveOpen,
    open_h: state.open_h + (state.wasOpen ? passed_h : 0),
    sensor_degC,
    warmest_degC: Math.max(state.warmest_degC, sensor_degC),
    sum_bar: state.sum_bar + (pressureGauge_bar ?? 0),
    count: state.count + Number(pressureGauge_bar !== undefined),
    lastRead_bar: pressureGauge_bar ?? state.lastRead_bar,
    step_bar:
      difference_bar > 1e-4
        ? Math.min(0.5, state.step_bar === 0 ? difference_bar : Math.min(state.step_bar, difference_bar))
        : state.step_bar,
  };
  const since_h = (at_epochMs - told.closedAt_epochMs) / hour_ms;
  const due_ms = since_h < earlySpan_h ? gather_ms.early : gather_ms.late;
  if (at_epochMs - state.at_epochMs < due_ms && state.readings > 0) return gathered;
  return digested(grid, told, gathered, state.open_h);
}

function digested(
  grid: PressurisingGrid,
  told: SuppliedCharge,
  state: PressurisingState,
  openBefore_h: number,
): PressurisingState {
  const at_epochMs = state.last_epochMs;
  const elapsed_h = (at_epochMs - state.at_epochMs) / hour_ms;
  const pressure_bar = state.count > 0 ? state.sum_bar / state.count : undefined;
  const drawn_ratio = (hours_h: number): number => hours_h / openPerDay_h(told) / useSpread.chargeLasts_days;
  const carried = state.paces.map((belief) => {
    const moved = carriedPace(grid.variants, belief, elapsed_h, state.sensor_degC);
    const [variance, shared, offsetVariance] = belief.covariance;
    const used_ratio = drawn_ratio(state.open_h) - drawn_ratio(openBefore_h);
    const useVariance = useDeviation ** 2 * (drawn_ratio(state.open_h) ** 2 - drawn_ratio(openBefore_h) ** 2);
    const covariance: PaceBelief["covariance"] = [
      variance + strengthDrift_perH ** 2 * elapsed_h + useVariance,
      shared,
      offsetVariance,
    ];
    return { ...moved, strength_ratio: belief.strength_ratio - used_ratio, covariance };
  });
  const forget = Math.exp(-elapsed_h / oddsMemory_h);
  const judged = carried.map((belief, k) => {
    if (pressure_bar === undefined) return belief;
    const before_bar = state.paces[k]?.gauge_bar ?? belief.gauge_bar;
    return withPressure(grid.variants, belief, before_bar, {
      pressure_bar,
      elapsed_h,
      forget,
      told,
      step_bar: state.step_bar,
    });
  });
  const heaviest = Math.max(...judged.map(({ logWeight }) => logWeight));
  const ranked = [...judged].sort((a, b) => b.logWeight - a.logWeight);
  const kept = ranked.filter(({ logWeight }, rank) => rank < leastPaces || logWeight - heaviest > pruned_ln);
  const lastRecent = state.recent.at(-1);
  const recentDue =
    pressure_bar !== undefined &&
    (lastRecent === undefined || at_epochMs - lastRecent.at_epochMs >= recentEvery_ms);
  return {
    ...state,
    at_epochMs,
    sum_bar: 0,
    count: 0,
    pressure_bar: pressure_bar ?? state.pressure_bar,
    recent: recentDue
      ? [...state.recent, { at_epochMs, gauge_bar: pressure_bar }].slice(-recentKept)
      : state.recent,
    readings: state.readings + Number(pressure_bar !== undefined),
    ready_epochMs: isReady(grid, kept[0], state.sensor_degC)
      ? (state.ready_epochMs ?? at_epochMs)
      : undefined,
    paces: kept.map((belief) => ({ ...belief, logWeight: belief.logWeight - heaviest })),
  };
}

function isReady(grid: PressurisingGrid, best: PaceBelief | undefined, around_degC: number): boolean {
  if (best === undefined) return false;
  const settled_bar = grid.variants.map((variant) => variant.settledGauge_bar(around_degC));
  const goal_bar = atStrength(grid.variants, settled_bar, best.strength_ratio).value;
  const now_bar = atStrength(grid.variants, best.gauge_bar, best.strength_ratio).value;
  return Math.abs(now_bar - goal_bar) <= readyBand_ratio * Math.abs(goal_bar);
}

function openPerDay_h(told: SuppliedCharge): number {
  const open_min = told.windows.reduce(
    (sum, { opens_min, closes_min }) => sum + ((closes_min - opens_min + 1440) % 1440 || 1440),
    0,
  );
  return open_min > 0 ? open_min / 60 : 8;
}

/** The contents of all amounts carried on by heat balance and mixing, implicit in the exchange of heat. */
export function carriedPace<T extends Pick<PaceBelief, "pace" | "heat_J" | "reacted_ratio" | "gauge_bar">>(
  variants: readonly ChargeVariant[],
  belief: T,
  elapsed_h: number,
  around_degC: number,
): T {
  const { lag_h, mixing_h } = belief.pace;
  const heat_J: number[] = [];
  const reacted_ratio: number[] = [];
  const gauge_bar: number[] = [];
  const steps = Math.max(1, Math.ceil(elapsed_h / Math.min(longestStep_h, Math.max(0.05, 0.5 * mixing_h))));
  const step_h = elapsed_h / steps;
  const exchanged = 1 - Math.exp(-step_h / lag_h);
  const mixed = 1 - Math.exp(-step_h / mixing_h);
  variants.forEach(({ heat, capacity_JPerK }, k) => {
    let nowHeat_J = belief.heat_J[k] ?? heat.start_J;
    let nowReacted = belief.reacted_ratio[k] ?? 0;
    let now = heat.stateAt(nowHeat_J, nowReacted);
    for (let step = 0; step < steps && elapsed_h > 0; step += 1) {
      nowHeat_J += exchanged * capacity_JPerK * (around_degC - now.temperature_degC);
      nowReacted += mixed * Math.max(0, now.melted_ratio - nowReacted);
      now = heat.stateAt(nowHeat_J, nowReacted);
    }
    heat_J.push(nowHeat_J);
    reacted_ratio.push(nowReacted);
    gauge_bar.push(now.pressureGauge_bar);
  });
  return { ...belief, heat_J, reacted_ratio, gauge_bar };
}

/** A quantity given at the grid's amounts, between them and beyond by straight lines; with its slope. */
export function atStrength(
  variants: readonly ChargeVariant[],
  values: readonly number[],
  strength_ratio: number,
): { readonly value: number; readonly slope: number } {
  let k = 0;
  while (k < variants.length - 2 && (variants[k + 1]?.amount_ratio ?? Infinity) < strength_ratio) k += 1;
  const low = variants[k]?.amount_ratio ?? 0;
  const high = variants[k + 1]?.amount_ratio ?? low + 1;
  const slope = ((values[k + 1] ?? 0) - (values[k] ?? 0)) / (high - low);
  return { value: (values[k] ?? 0) + slope * (strength_ratio - low), slope };
}

function withPressure(
  variants: readonly ChargeVariant[],
  belief: PaceBelief,
  before_bar: readonly number[],
  taken: {
    readonly pressure_bar: number;
    readonly elapsed_h: number;
    readonly forget: number;
    readonly told: SuppliedCharge;
    readonly step_bar: number;
  },
): PaceBelief {
  const { elapsed_h, told, step_bar } = taken;
  const { odds_ln } = belief.pace;
  const expected = atStrength(variants, belief.gauge_bar, belief.strength_ratio);
  const before = atStrength(variants, before_bar, belief.strength_ratio);
  const perTenMinutes_bar =
    elapsed_h > 0 ? (Math.abs(expected.value - before.value) * longestStep_h) / elapsed_h : 0;
  const noiseVariance =
    (modelNoise.ofPressure * Math.max(0, expected.value)) ** 2 +
    (modelNoise.ofChange * perTenMinutes_bar) ** 2 +
    modelNoise.least_bar ** 2 +
    (0.2 * told.gaugeAccuracy_bar) ** 2 +
    (step_bar > 0 ? step_bar : Math.min(0.5, told.gaugeAccuracy_bar)) ** 2 / 12;
  const share = Math.min(1, Math.max(1 / 60, elapsed_h / errorMemory_h));
  const inflated = noiseVariance / share;
  const [p00, p01, p11] = belief.covariance;
  const { slope } = expected;
  const innovation_bar = taken.pressure_bar - expected.value - belief.offset_bar;
  const along0 = p00 * slope + p01;
  const along1 = p01 * slope + p11;
  const variance = slope * along0 + along1 + inflated;
  const gain0 = along0 / variance;
  const gain1 = along1 / variance;
  // Weighed with the error as it is, and then by its share of an hour.
  const plainVariance = slope * along0 + along1 + noiseVariance;
  const logLikelihood = -0.5 * share * (innovation_bar ** 2 / plainVariance + Math.log(plainVariance));
  return {
    ...belief,
    strength_ratio: Math.min(2, Math.max(0.02, belief.strength_ratio + gain0 * innovation_bar)),
    offset_bar: belief.offset_bar + gain1 * innovation_bar,
    covariance: [p00 - gain0 * along0, p01 - gain0 * along1, p11 - gain1 * along1],
    logWeight: odds_ln + taken.forget * (belief.logWeight - odds_ln) + logLikelihood,
  };
}
