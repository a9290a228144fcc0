import type { ChargePressureMap } from "../estimation/charge-pressure-map.js";
import type { SupplyReading } from "../estimation/supply-trace.js";
import { closedLags_h, gramsAt, type ClosedLossState } from "./closed-loss.js";

/** What went through the valve from one closed span to the next. */
export interface OpenStretch {
  readonly closed_epochMs: number;
  readonly open_h: number;
  readonly used_g: number;
}

/** A flow that is another since an instant. */
export interface FlowChange {
  readonly since_epochMs: number;
  /** Flow after over flow before. */
  readonly flow_ratio: number;
  /** Of its natural logarithm. */
  readonly deviation_ln: number;
  readonly before: FlowRate;
}

export interface FlowRate {
  readonly flow_gPerH: number;
  readonly deviation_gPerH: number;
}

/** One stretch that took far more or less than those around it: a step of the gauge, or gas that went another way. */
export interface OddStretch {
  readonly at_epochMs: number;
  readonly step_bar: number;
  readonly deviations: number;
}

export interface FlowChangeState {
  readonly version: 1;
  readonly last_epochMs: number;
  readonly wasOpen: boolean;
  readonly open_h: number;
  /** Last grams read while closed, before the valve opened. */
  readonly before_g: number | undefined;
  readonly closedFor_h: number;
  readonly stretches: readonly OpenStretch[];
  readonly change: FlowChange | undefined;
  readonly odd: OddStretch | undefined;
}

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;

/** The contents come to rest, and the gauge turns round, before grams are read. */
const rest_h = 0.5;
const keptStretches = 30;
/**
 * Three days at a different flow against those before: a touch of the needle by 6 % is everyday, and what a regulator creeps
 * in three days is less. Judgements.
 */
const limits = {
  least_ln: 0.22,
  deviations: 3.5,
  recent: 2,
  before: 3,
  everyday_ln: 0.06,
  odd: 4.5,
} as const;

const lagIndex = closedLags_h.indexOf(1.6);

export function firstFlowChangeState(first: SupplyReading): FlowChangeState {
  return {
    version: 1,
    last_epochMs: first.at_epochMs,
    wasOpen: first.valveOpen,
    open_h: 0,
    before_g: undefined,
    closedFor_h: 0,
    stretches: [],
    change: undefined,
    odd: undefined,
  };
}

/** @param closed the state of the closed spans after the same row */
export function stepFlowChange(
  map: ChargePressureMap,
  closed: ClosedLossState,
  state: FlowChangeState,
  reading: SupplyReading,
  gaugeAccuracy_bar: number,
): FlowChangeState {
  const passed_h = Math.max(0, reading.at_epochMs - state.last_epochMs) / hour_ms;
  const gap = passed_h > 1;
  const moved: FlowChangeState = {
    ...state,
    last_epochMs: reading.at_epochMs,
    wasOpen: reading.valveOpen,
    open_h: state.open_h + (state.wasOpen ? passed_h : 0),
    closedFor_h: state.wasOpen || reading.valveOpen ? 0 : state.closedFor_h + passed_h,
  };
  // What the valve did in a gap is not known: begin anew.
  if (gap) return { ...moved, open_h: 0, before_g: undefined, closedFor_h: 0 };
  const { lastBin } = closed;
  if (reading.valveOpen || lastBin === undefined || lastBin.at_epochMs !== reading.at_epochMs) return moved;
  if (moved.closedFor_h < rest_h) return moved;
  const now_g = gramsAt(
    map,
    lastBin.gauge_bar,
    closed.lagged_degC[lagIndex] ?? lastBin.contents_degC,
    undefined,
  );
  if (moved.open_h < 0.5 || moved.before_g === undefined) {
    // A slow mean over the closed span would hide a leak; the last reading, a little smoothed, is enough.
    const smoothed_g =
      moved.before_g === undefined || moved.open_h > 0 ? now_g : 0.7 * moved.before_g + 0.3 * now_g;
    return { ...moved, before_g: smoothed_g, open_h: 0 };
  }
  const stretch = {
    closed_epochMs: reading.at_epochMs,
    open_h: moved.open_h,
    used_g: moved.before_g - now_g,
  };
  const stretches = [...moved.stretches, stretch].slice(-keptStretches);
  const noise_g =
    Math.hypot(0.1 * gaugeAccuracy_bar, 0.15 * closed.slopes.barPerKelvin, closed.gaugeStep_bar / 4, 0.01) /
    Math.max(1e-3, closed.slopes.barPerGram);
  const found = changeIn(stretches, noise_g);
  const change = found ?? refined(moved.change, stretches, noise_g);
  return {
    ...moved,
    before_g: now_g,
    open_h: 0,
    stretches:
      found === undefined ? stretches : stretches.filter((one) => one.closed_epochMs >= found.since_epochMs),
    change,
    odd: oddIn(stretches, noise_g, closed.slopes.barPerGram) ?? moved.odd,
  };
}

function rateOf(stretches: readonly OpenStretch[], noise_g: number): FlowRate {
  const open_h = stretches.reduce((sum, one) => sum + one.open_h, 0);
  const used_g = stretches.reduce((sum, one) => sum + one.used_g, 0);
  return {
    flow_gPerH: used_g / open_h,
    deviation_gPerH: (Math.SQRT2 * noise_g * Math.sqrt(stretches.length)) / open_h,
  };
}

/** As rateOf, but a single odd stretch does not shift it. */
function usualRateOf(stretches: readonly OpenStretch[], noise_g: number): FlowRate {
  const rates = stretches.map((one) => one.used_g / one.open_h).sort((a, b) => a - b);
  const middle = (rates.length - 1) / 2;
  const flow_gPerH = ((rates[Math.floor(middle)] ?? 0) + (rates[Math.ceil(middle)] ?? 0)) / 2;
  // A median is a quarter less sharp than a mean.
  return { flow_gPerH, deviation_gPerH: 1.25 * rateOf(stretches, noise_g).deviation_gPerH };
}

function changeBetween(before: FlowRate, to: FlowRate, since_epochMs: number): FlowChange {
  const least_gPerH = Math.max(to.flow_gPerH, 0.5 * to.deviation_gPerH, 0.02 * before.flow_gPerH);
  return {
    since_epochMs,
    flow_ratio: least_gPerH / before.flow_gPerH,
    deviation_ln: Math.hypot(
      before.deviation_gPerH / before.flow_gPerH,
      to.deviation_gPerH / least_gPerH,
      limits.everyday_ln,
    ),
    before,
  };
}

/** The split of the stretches into before and after at which the flow differs most surely. */
function changeIn(stretches: readonly OpenStretch[], noise_g: number): FlowChange | undefined {
  let found: { readonly change: FlowChange; readonly deviations: number } | undefined;
  const { recent, before, everyday_ln } = limits;
  for (let split = Math.max(before, stretches.length - 6); split <= stretches.length - recent; split += 1) {
    const later = stretches.slice(split);
    const [first] = later;
    const from = usualRateOf(stretches.slice(Math.max(0, split - 8), split), noise_g);
    const to = rateOf(later, noise_g);
    if (first === undefined || !(from.flow_gPerH > 2 * from.deviation_gPerH)) continue;
    const change = changeBetween(from, to, first.closed_epochMs);
    const move_gPerH = to.flow_gPerH - from.flow_gPerH;
    // In grams, where a flow near zero has no logarithm to speak of.
    const deviations =
      Math.abs(move_gPerH) /
      Math.hypot(from.deviation_gPerH, to.deviation_gPerH, everyday_ln * from.flow_gPerH);
    const allMoved = later.every(
      (one) => (one.used_g / one.open_h - from.flow_gPerH) * Math.sign(move_gPerH) > Math.abs(move_gPerH) / 3,
    );
    if (!allMoved || Math.abs(Math.log(change.flow_ratio)) < limits.least_ln) continue;
    if (deviations >= limits.deviations && (found === undefined || deviations > found.deviations)) {
      found = { change, deviations };
    }
  }
  return found?.change;
}

/** The size of a change that was found, from the stretches since; the one in which it fell is left out where it can be. */
function refined(
  change: FlowChange | undefined,
  stretches: readonly OpenStretch[],
  noise_g: number,
): FlowChange | undefined {
  if (change === undefined) return undefined;
  const since = stretches.filter((one) => one.closed_epochMs > change.since_epochMs);
  if (since.length < 2) return change;
  return changeBetween(change.before, rateOf(since, noise_g), change.since_epochMs);
}

/** The stretch before the last, where it stands out from those before and the last does not. */
function oddIn(
  stretches: readonly OpenStretch[],
  noise_g: number,
  barPerGram: number,
): OddStretch | undefined {
  const last = stretches.at(-1);
  const odd = stretches.at(-2);
  if (last === undefined || odd === undefined || stretches.length < limits.before + 2) return undefined;
  const usual = usualRateOf(stretches.slice(-10, -2), noise_g);
  const excessOf_g = (one: OpenStretch): number => one.used_g - usual.flow_gPerH * one.open_h;
  const spread_g = (one: OpenStretch): number =>
    Math.hypot(
      Math.SQRT2 * noise_g,
      0.15 * usual.flow_gPerH * one.open_h,
      usual.deviation_gPerH * one.open_h,
    );
  const deviations = excessOf_g(odd) / spread_g(odd);
  if (Math.abs(deviations) < limits.odd || Math.abs(excessOf_g(last) / spread_g(last)) > 2) return undefined;
  return { at_epochMs: odd.closed_epochMs, step_bar: -excessOf_g(odd) * barPerGram, deviations };
}

/** Whether a change is news still. */
export function flowChangeStands(state: FlowChangeState, at_epochMs: number): boolean {
  return state.change !== undefined && at_epochMs - state.change.since_epochMs < 4 * day_ms;
}
