import type { ChargePressureMap } from "../estimation/charge-pressure-map.js";
import type { SupplyReading } from "../estimation/supply-trace.js";
import { absoluteFromGauge_bar } from "../quantities/units.js";

/**
 * Sums over the bins of one closed span for one lag, about the span's first bin: time, temperature of the contents
 * and grams, so that any regression over any choice of spans follows from them.
 */
export interface SpanSums {
  readonly firstContents_degC: number;
  readonly first_g: number;
  readonly sumT: number;
  readonly sumG: number;
  readonly sumTT: number;
  readonly sumTG: number;
  readonly sumGG: number;
  readonly sumHT: number;
  readonly sumHG: number;
}

/** A closed span, or a piece of one: pieces let a loss be seen that began in the middle. */
export interface ClosedSpan {
  readonly from_epochMs: number;
  readonly to_epochMs: number;
  /** A further piece of the span before it, with the same first bin. */
  readonly continues: boolean;
  /** First bin of the whole span. */
  readonly base_epochMs: number;
  /** It began when the valve closed, not at a gap or a step. */
  readonly afterClosing: boolean;
  readonly bins: number;
  readonly sumH: number;
  readonly sumHH: number;
  readonly byLag: readonly SpanSums[];
}

/** A change of the gauge from one bin to the next while closed that no leak makes. */
export interface ClosedStep {
  readonly at_epochMs: number;
  readonly step_bar: number;
  /** In standard deviations of what the gauge does otherwise. */
  readonly deviations: number;
}

/** Plain data that a store can keep as JSON. */
export interface ClosedLossState {
  readonly version: 1;
  readonly last_epochMs: number;
  readonly wasOpen: boolean;
  readonly closedSince_epochMs: number | undefined;
  readonly afterClosing: boolean;
  readonly sensor_degC: number | undefined;
  readonly lagged_degC: readonly number[];
  /** From then on the contents' temperature is known from the sensor's alone, whatever it was before. */
  readonly known_epochMs: number;
  readonly bin: { readonly from_epochMs: number; readonly sum_bar: number; readonly count: number };
  readonly lastBin:
    { readonly at_epochMs: number; readonly gauge_bar: number; readonly contents_degC: number } | undefined;
  /** Of a bin, from bin to bin: half the mean square of their differences. */
  readonly whiteVariance: number;
  readonly whiteCount: number;
  readonly gaugeStep_bar: number;
  readonly lastRead_bar: number | undefined;
  /** Of single readings, from one to the next. */
  readonly readVariance: number;
  readonly readCount: number;
  readonly spans: readonly ClosedSpan[];
  readonly steps: readonly ClosedStep[];
  /** Change of pressure with grams and temperature at the last bin. */
  readonly slopes: { readonly barPerGram: number; readonly barPerKelvin: number };
}

const hour_ms = 3_600_000;
const minute_ms = 60_000;

/** Lags of the contents behind the sensor that are tried, as for the filter but closer together. */
export const closedLags_h = [0.15, 0.3, 0.6, 1, 1.6, 2.4, 3.5, 5, 7.5] as const;

const binSpan_ms = 5 * minute_ms;
/** After a closing the pointer turns round and the gas in the regulator comes to rest. */
const settle_ms = 10 * minute_ms;
/** The contents forget what they were before the first reading: three of the usual lags and more. */
const warmUp_ms = 8 * hour_ms;
const longestGap_ms = 45 * minute_ms;
const keptSpans = 60;
/** Pieces are so long; a day and more back they are put together. */
const piece_ms = 2 * hour_ms;
const pieces_ms = 20 * hour_ms;
const kept_ms = 12 * 24 * hour_ms;
const keptSteps = 8;
const leastWhite_bar = 0.002;
const noiseMemory = 200;

/** Air while closed neither comes nor goes; its usual share is enough for the slope. */
const usualAir = { air_ratio: 0.6, airHaste_ratio: 1.1 } as const;

export function firstClosedLossState(first: SupplyReading): ClosedLossState {
  return {
    version: 1,
    last_epochMs: first.at_epochMs,
    wasOpen: first.valveOpen,
    closedSince_epochMs: first.valveOpen ? undefined : first.at_epochMs,
    afterClosing: false,
    sensor_degC: first.temperature_degC,
    lagged_degC: closedLags_h.map(() => first.temperature_degC ?? 21),
    known_epochMs: first.at_epochMs + warmUp_ms,
    bin: { from_epochMs: first.at_epochMs, sum_bar: 0, count: 0 },
    lastBin: undefined,
    whiteVariance: 0,
    whiteCount: 0,
    gaugeStep_bar: 0,
    lastRead_bar: undefined,
    readVariance: 0,
    readCount: 0,
    spans: [],
    steps: [],
    slopes: { barPerGram: 0, barPerKelvin: 0 },
  };
}

/** The state after one more row; a row not later than the last one changes nothing. */
export function stepClosedLoss(
  map: ChargePressureMap,
  state: ClosedLossState,
  reading: SupplyReading,
): ClosedLossState {
  const { at_epochMs, pressureGauge_bar, valveOpen } = reading;
  if (at_epochMs < state.last_epochMs || reading.byEye === true) return state;
  const passed_ms = at_epochMs - state.last_epochMs;
  const sensor_degC = reading.temperature_degC ?? state.sensor_degC;
  const first = state.sensor_degC === undefined && sensor_degC !== undefined;
  const lagged_degC =
    sensor_degC === undefined
      ? state.lagged_degC
      : state.lagged_degC.map((lagged, k) =>
          first
            ? sensor_degC
            : sensor_degC + (lagged - sensor_degC) * Math.exp(-passed_ms / hour_ms / (closedLags_h[k] ?? 1)),
        );
  const unseen = state.sensor_degC === undefined || passed_ms > warmUp_ms;
  const moved: ClosedLossState = {
    ...withRead(state, pressureGauge_bar),
    last_epochMs: at_epochMs,
    wasOpen: valveOpen,
    sensor_degC,
    lagged_degC,
    known_epochMs: unseen ? at_epochMs + warmUp_ms : state.known_epochMs,
  };
  if (valveOpen) {
    return { ...moved, closedSince_epochMs: undefined, lastBin: undefined, bin: emptyBin(at_epochMs) };
  }
  if (state.wasOpen || state.closedSince_epochMs === undefined) {
    return {
      ...moved,
      closedSince_epochMs: at_epochMs,
      afterClosing: state.wasOpen,
      lastBin: undefined,
      bin: emptyBin(at_epochMs + settle_ms),
    };
  }
  if (passed_ms > longestGap_ms) {
    // What the valve did in between is not known.
    return {
      ...moved,
      closedSince_epochMs: at_epochMs,
      afterClosing: false,
      lastBin: undefined,
      bin: emptyBin(at_epochMs),
    };
  }
  if (pressureGauge_bar === undefined || at_epochMs < state.bin.from_epochMs) return moved;
  if (at_epochMs < state.known_epochMs) return moved;
  const { from_epochMs, sum_bar, count } = state.bin;
  const bin = { from_epochMs, sum_bar: sum_bar + pressureGauge_bar, count: count + 1 };
  if (at_epochMs - from_epochMs < binSpan_ms - minute_ms / 2 && passed_ms < binSpan_ms)
    return { ...moved, bin };
  return withBin(map, { ...moved, bin: emptyBin(at_epochMs) }, bin.sum_bar / bin.count);
}

function emptyBin(from_epochMs: number): ClosedLossState["bin"] {
  return { from_epochMs, sum_bar: 0, count: 0 };
}

function withRead(state: ClosedLossState, gauge_bar: number | undefined): ClosedLossState {
  if (gauge_bar === undefined) return state;
  if (state.lastRead_bar === undefined) return { ...state, lastRead_bar: gauge_bar };
  const difference_bar = Math.abs(gauge_bar - state.lastRead_bar);
  const seen_bar = difference_bar > 1e-4 ? Math.min(0.5, difference_bar) : undefined;
  const readCount = Math.min(noiseMemory, state.readCount + 1);
  // A step of the pressure is no noise: beyond ten times what it was, it counts as ten times.
  const square = Math.min(difference_bar ** 2 / 2, state.readCount > 20 ? 25 * state.readVariance + 1e-5 : 1);
  return {
    ...state,
    lastRead_bar: gauge_bar,
    readCount,
    readVariance: state.readVariance + (square - state.readVariance) / readCount,
    gaugeStep_bar:
      seen_bar === undefined
        ? state.gaugeStep_bar
        : state.gaugeStep_bar === 0
          ? seen_bar
          : Math.min(state.gaugeStep_bar, seen_bar),
  };
}

/** Standard deviation of a step between two bins that is nothing but the gauge, bar. */
export function binDeviation_bar(state: ClosedLossState): number {
  const white = Math.sqrt(Math.max(leastWhite_bar ** 2, state.whiteVariance));
  return Math.hypot(white, undithered_bar(state));
}

/**
 * What remains of the gauge's step when noise smooths it: the mean of a rounded value is off by at most step / pi times
 * exp(-2 pi^2 (noise / step)^2), bar. From memory, a property of rounding with normal noise.
 */
export function undithered_bar(state: ClosedLossState): number {
  const step_bar = state.gaugeStep_bar;
  if (step_bar <= 0) return 0;
  const noise = Math.sqrt(state.readVariance) / step_bar;
  return (step_bar / Math.PI / Math.SQRT2) * Math.exp(-2 * Math.PI ** 2 * noise ** 2);
}

/** Place of the usual lag among them. */
export const middleLag = 4;

function withBin(map: ChargePressureMap, state: ClosedLossState, gauge_bar: number): ClosedLossState {
  const at_epochMs = state.last_epochMs;
  const contents_degC = state.lagged_degC[middleLag] ?? 21;
  const { lastBin } = state;
  const slopes = lastBin === undefined ? slopesAt(map, gauge_bar, contents_degC) : state.slopes;
  const started: ClosedLossState = { ...state, slopes, lastBin: { at_epochMs, gauge_bar, contents_degC } };
  if (lastBin === undefined) {
    return { ...started, spans: recent([...state.spans, newSpan(map, started, gauge_bar)], at_epochMs) };
  }
  const change_bar =
    gauge_bar - lastBin.gauge_bar - slopes.barPerKelvin * (contents_degC - lastBin.contents_degC);
  const usual_bar = Math.SQRT2 * binDeviation_bar(state) + 0.5 * state.gaugeStep_bar;
  const jumps = state.whiteCount >= 12 && Math.abs(change_bar) > 6 * usual_bar + 0.03;
  if (jumps) {
    const step = { at_epochMs, step_bar: change_bar, deviations: change_bar / usual_bar };
    return {
      ...started,
      afterClosing: false,
      steps: [...state.steps, step].slice(-keptSteps),
      spans: recent(
        [...state.spans, newSpan(map, { ...started, afterClosing: false }, gauge_bar)],
        at_epochMs,
      ),
    };
  }
  const whiteCount = Math.min(noiseMemory, state.whiteCount + 1);
  const whiteVariance = state.whiteVariance + (change_bar ** 2 / 2 - state.whiteVariance) / whiteCount;
  const current = state.spans.at(-1);
  if (current === undefined) return { ...started, whiteCount, whiteVariance };
  const before = state.spans.slice(0, -1);
  const spans =
    at_epochMs - current.from_epochMs > piece_ms
      ? [
          ...joined(before, at_epochMs),
          current,
          grown(map, started, nextPiece(current, at_epochMs), gauge_bar),
        ]
      : [...before, grown(map, started, current, gauge_bar)];
  return { ...started, whiteCount, whiteVariance, spans };
}

function nextPiece(current: ClosedSpan, at_epochMs: number): ClosedSpan {
  return {
    ...current,
    from_epochMs: at_epochMs,
    to_epochMs: at_epochMs,
    continues: true,
    bins: 0,
    sumH: 0,
    sumHH: 0,
    byLag: current.byLag.map(({ firstContents_degC, first_g }) => noSums(firstContents_degC, first_g)),
  };
}

/** Sums about one and the same first bin, taken together. */
export function together(one: ClosedSpan, other: ClosedSpan): ClosedSpan {
  return {
    ...one,
    to_epochMs: other.to_epochMs,
    bins: one.bins + other.bins,
    sumH: one.sumH + other.sumH,
    sumHH: one.sumHH + other.sumHH,
    byLag: one.byLag.map((sums, k) => {
      const more = other.byLag[k] ?? noSums(0, 0);
      return {
        firstContents_degC: sums.firstContents_degC,
        first_g: sums.first_g,
        sumT: sums.sumT + more.sumT,
        sumG: sums.sumG + more.sumG,
        sumTT: sums.sumTT + more.sumTT,
        sumTG: sums.sumTG + more.sumTG,
        sumGG: sums.sumGG + more.sumGG,
        sumHT: sums.sumHT + more.sumHT,
        sumHG: sums.sumHG + more.sumHG,
      };
    }),
  };
}

function joined(spans: readonly ClosedSpan[], now_epochMs: number): readonly ClosedSpan[] {
  const result: ClosedSpan[] = [];
  for (const span of spans) {
    const last = result.at(-1);
    const old = now_epochMs - span.to_epochMs > pieces_ms;
    if (last !== undefined && span.continues && old) result[result.length - 1] = together(last, span);
    else result.push(span);
  }
  return result;
}

function noSums(firstContents_degC: number, first_g: number): SpanSums {
  return {
    firstContents_degC,
    first_g,
    sumT: 0,
    sumG: 0,
    sumTT: 0,
    sumTG: 0,
    sumGG: 0,
    sumHT: 0,
    sumHG: 0,
  };
}

function recent(spans: readonly ClosedSpan[], now_epochMs: number): readonly ClosedSpan[] {
  return spans.filter(({ to_epochMs }) => now_epochMs - to_epochMs <= kept_ms).slice(-keptSpans);
}

function newSpan(map: ChargePressureMap, state: ClosedLossState, gauge_bar: number): ClosedSpan {
  return {
    from_epochMs: state.last_epochMs,
    to_epochMs: state.last_epochMs,
    continues: false,
    base_epochMs: state.last_epochMs,
    afterClosing: state.afterClosing,
    bins: 1,
    sumH: 0,
    sumHH: 0,
    byLag: state.lagged_degC.map((contents_degC) =>
      noSums(contents_degC, gramsAt(map, gauge_bar, contents_degC, undefined)),
    ),
  };
}

function grown(
  map: ChargePressureMap,
  state: ClosedLossState,
  span: ClosedSpan,
  gauge_bar: number,
): ClosedSpan {
  const h = (state.last_epochMs - span.base_epochMs) / hour_ms;
  return {
    ...span,
    to_epochMs: state.last_epochMs,
    bins: span.bins + 1,
    sumH: span.sumH + h,
    sumHH: span.sumHH + h * h,
    byLag: span.byLag.map((sums, k) => {
      const contents_degC = state.lagged_degC[k] ?? sums.firstContents_degC;
      const t = contents_degC - sums.firstContents_degC;
      const g = gramsAt(map, gauge_bar, contents_degC, sums.first_g) - sums.first_g;
      return {
        firstContents_degC: sums.firstContents_degC,
        first_g: sums.first_g,
        sumT: sums.sumT + t,
        sumG: sums.sumG + g,
        sumTT: sums.sumTT + t * t,
        sumTG: sums.sumTG + t * g,
        sumGG: sums.sumGG + g * g,
        sumHT: sums.sumHT + h * t,
        sumHG: sums.sumHG + h * g,
      };
    }),
  };
}

function pressureAt(map: ChargePressureMap, reacted_g: number, temperature_degC: number) {
  return map.pressureOf({
    reacted_g,
    atFirst_g: 0.96 * map.co2Available_g,
    temperature_degC,
    retained_ratio: 1,
    ...usualAir,
  });
}

/** CO2 with which the gauge would show this at that temperature, g; only differences of it are used. */
export function gramsAt(
  map: ChargePressureMap,
  gauge_bar: number,
  contents_degC: number,
  near_g: number | undefined,
): number {
  const target_bar = absoluteFromGauge_bar(gauge_bar);
  let at_g = near_g ?? map.co2Available_g / 2;
  for (let pass = 0; pass < 12; pass += 1) {
    const { pressureAbsolute_bar, slopes } = pressureAt(map, at_g, contents_degC);
    const move_g = (target_bar - pressureAbsolute_bar) / Math.max(1e-4, slopes.reacted);
    at_g = Math.min(1.07 * map.co2Available_g, Math.max(0.01, at_g + move_g));
    if (Math.abs(move_g) < 1e-5) break;
  }
  return at_g;
}

/** How the gauge moves with grams and with temperature, where it shows this at that temperature. */
export function slopesAt(
  map: ChargePressureMap,
  gauge_bar: number,
  contents_degC: number,
): ClosedLossState["slopes"] {
  const { slopes } = pressureAt(map, gramsAt(map, gauge_bar, contents_degC, undefined), contents_degC);
  return { barPerGram: slopes.reacted, barPerKelvin: slopes.temperature };
}
