import { together, undithered_bar, type ClosedLossState, type ClosedSpan } from "./closed-loss.js";

/** Loss while closed from an instant to the last bin, all else taken out. */
export interface LossFit {
  readonly from_epochMs: number;
  /** Closed spans in it, the first and the last perhaps in part. */
  readonly spans: number;
  readonly closed_h: number;
  readonly longestSpan_h: number;
  readonly loss_gPerH: number;
  readonly deviation_gPerH: number;
  /** Parts of the deviation, g/h: the lag not known, the gauge's step and friction, all else. */
  readonly byLag_gPerH: number;
  readonly byGauge_gPerH: number;
}

/** Centred sums of squares and products, each span about its own mean: time, temperature, grams. */
interface Products {
  readonly hh: number;
  readonly ht: number;
  readonly hg: number;
  readonly tt: number;
  readonly tg: number;
  readonly gg: number;
}

const hour_ms = 3_600_000;

/** Uncertainty of how the pressure goes with temperature, of its slope. The model's 4 % and what is dissolved. */
const temperatureSlopeDeviation_ratio = 0.06;
/** What drives the contents and is not seen by the sensor: deviation and memory; and the gauge's own unrest. Judgements. */
const unseen = { least_bar: 0.004, contents_K: 0.02, memory_h: 2 } as const;
/**
 * What comes back every day at the same hours, for a steel that lies between room and contents and for a sun that
 * shines on one of them, looks like a loss in every closed span: kelvin of unseen warming for each kelvin of the contents'.
 */
const everyDay_ratio = 0.04;
const leastEveryDay_gPerH = 0.002;
/**
 * What looks like a loss in every closed span looked so before the loss began as well, and is taken off; of it so much is new
 * with other weather.
 */
const newSameness_ratio = 0.3;
/** Shorter than a day, what was before holds other hours of it. */
const sameness_ms = 24 * hour_ms;

/** Friction of the gauge over its accuracy, as a standard deviation. Judgements. */
const friction_ratio = { pointer: 0.15, transducer: 0.01 } as const;
const pointerFrom = { step_bar: 0.03, accuracy_bar: 0.2 } as const;

const leastBins = 4;
/** Bins that share their error with their neighbours, when lag and slope are weighed. */
const sharedBins = 12;
/** Further back a window begins with a span, not within one. */
const fineWindows_ms = 30 * hour_ms;

const nothing: Products = { hh: 0, ht: 0, hg: 0, tt: 0, tg: 0, gg: 0 };

function productsOf(span: ClosedSpan | undefined, lag: number): Products {
  const sums = span?.byLag[lag];
  if (span === undefined || sums === undefined || span.bins < 2) return nothing;
  const n = span.bins;
  return {
    hh: span.sumHH - span.sumH ** 2 / n,
    ht: sums.sumHT - (span.sumH * sums.sumT) / n,
    hg: sums.sumHG - (span.sumH * sums.sumG) / n,
    tt: sums.sumTT - sums.sumT ** 2 / n,
    tg: sums.sumTG - (sums.sumT * sums.sumG) / n,
    gg: sums.sumGG - sums.sumG ** 2 / n,
  };
}

function plus(a: Products, b: Products): Products {
  return {
    hh: a.hh + b.hh,
    ht: a.ht + b.ht,
    hg: a.hg + b.hg,
    tt: a.tt + b.tt,
    tg: a.tg + b.tg,
    gg: a.gg + b.gg,
  };
}

/** The pieces of one closed span, the earliest first. */
function wholeSpans(pieces: readonly ClosedSpan[]): readonly (readonly ClosedSpan[])[] {
  const spans: ClosedSpan[][] = [];
  for (const piece of pieces) {
    const last = spans.at(-1);
    if (last !== undefined && piece.continues) last.push(piece);
    else spans.push([piece]);
  }
  return spans;
}

/** The pieces up to each one, taken together. */
function running(pieces: readonly ClosedSpan[]): readonly ClosedSpan[] {
  const sums: ClosedSpan[] = [];
  for (const piece of pieces) {
    const before = sums.at(-1);
    sums.push(before === undefined ? piece : together(before, piece));
  }
  return sums;
}

/**
 * Fits of the loss from each instant at which it may have begun to the last bin: grams against closed time, with an
 * intercept for each span, one slope of temperature for all spans, and the lag weighed by how well it explains them. What
 * lies before the instant is taken to be tight, and still teaches lag and slope. Least squares, with errors inflated for
 * what stays the same from bin to bin and from day to day. Latest beginning first.
 */
export function lossFits(state: ClosedLossState, gaugeAccuracy_bar: number): readonly LossFit[] {
  const spans = wholeSpans(state.spans);
  const { barPerGram, barPerKelvin } = state.slopes;
  const last = state.spans.at(-1);
  if (last === undefined || barPerGram <= 0) return [];
  const lags = Array.from({ length: last.byLag.length }, (_, lag) => lag);
  const pointer = isPointer(state, gaugeAccuracy_bar);
  const known: Known = {
    kelvinGram: barPerKelvin / barPerGram,
    bins: state.spans.reduce((sum, { bins }) => sum + bins, 0),
    white_g: Math.sqrt(state.whiteVariance) / barPerGram,
    stuck_g: undithered_bar(state) / barPerGram,
    pointer,
    friction_g:
      ((pointer ? friction_ratio.pointer : friction_ratio.transducer) * gaugeAccuracy_bar) / barPerGram,
    least_g: Math.hypot(unseen.least_bar, unseen.contents_K * barPerKelvin) / barPerGram,
  };
  const first_epochMs = state.spans[0]?.base_epochMs ?? last.base_epochMs;
  const heads = spans.map(running);
  const whole = heads.map((sums) => sums.at(-1));
  const wholeProducts = whole.map((span) => lags.map((lag) => productsOf(span, lag)));
  const allOf = lags.map((lag) =>
    wholeProducts.reduce((sum, row) => plus(sum, row[lag] ?? nothing), nothing),
  );

  const fits: LossFit[] = [];
  let after = lags.map(() => nothing);
  let closedAfter_h = 0;
  let longestAfter_h = 0;
  for (let s = spans.length - 1; s >= 0; s -= 1) {
    const pieces = spans[s] ?? [];
    const inOthers = lags.map((lag) => minus(allOf[lag] ?? nothing, wholeProducts[s]?.[lag] ?? nothing));
    let tail: ClosedSpan | undefined;
    for (let p = pieces.length - 1; p >= 0; p -= 1) {
      const piece = pieces[p];
      if (piece === undefined) continue;
      tail = p === 0 ? whole[s] : tail === undefined ? piece : together(piece, tail);
      if (p > 0 && last.to_epochMs - piece.from_epochMs > fineWindows_ms) continue;
      if (tail === undefined || tail.bins < leastBins) continue;
      const head = p > 0 ? heads[s]?.[p - 1] : undefined;
      const tail_h = (tail.to_epochMs - tail.from_epochMs) / hour_ms;
      const solved = lags.map((lag) => {
        const late = productsOf(tail, lag);
        const window = plus(after[lag] ?? nothing, late);
        const elsewhere = inOthers[lag] ?? nothing;
        return solve(
          window,
          plus(elsewhere, head === undefined ? late : plus(late, productsOf(head, lag))),
          known,
        );
      });
      const fit = fitOf(solved, known, {
        from_epochMs: tail.from_epochMs,
        spans: spans.length - s,
        closed_h: closedAfter_h + tail_h,
        longestSpan_h: Math.max(longestAfter_h, tail_h),
        hasDayBefore: tail.from_epochMs - first_epochMs >= sameness_ms,
      });
      if (fit !== undefined) fits.push(fit);
    }
    const span = whole[s];
    if (span === undefined) continue;
    const span_h = (span.to_epochMs - span.from_epochMs) / hour_ms;
    after = lags.map((lag) => plus(after[lag] ?? nothing, wholeProducts[s]?.[lag] ?? nothing));
    closedAfter_h += span_h;
    longestAfter_h = Math.max(longestAfter_h, span_h);
  }
  return fits;
}

function minus(a: Products, b: Products): Products {
  return {
    hh: a.hh - b.hh,
    ht: a.ht - b.ht,
    hg: a.hg - b.hg,
    tt: a.tt - b.tt,
    tg: a.tg - b.tg,
    gg: a.gg - b.gg,
  };
}

/** A coarse step or a coarse class is that of a pointer, which sticks and turns late; a transducer hardly does. */
function isPointer(state: ClosedLossState, gaugeAccuracy_bar: number): boolean {
  return state.gaugeStep_bar > pointerFrom.step_bar || gaugeAccuracy_bar > pointerFrom.accuracy_bar;
}

interface Known {
  /** Grams that a kelvin looks like. */
  readonly kelvinGram: number;
  readonly bins: number;
  readonly white_g: number;
  readonly stuck_g: number;
  /** Where it sticks is new in every span. */
  readonly pointer: boolean;
  readonly friction_g: number;
  readonly least_g: number;
}

interface Solved {
  readonly perVariance: number;
  readonly rest: number;
  readonly tt: number;
  readonly window: Products;
  readonly before: Products;
  /** Temperature and grams over all spans, the slope held to the model's. */
  readonly heldTt: number;
  readonly tg: number;
}

/** Loss of one lag beyond what every span showed before it. */
interface Beyond {
  readonly loss: number;
  readonly slopeShare: number;
  /** Of the variance of what every span shows, the share that is left. */
  readonly sameness_ratio: number;
}

/** Loss and slope of temperature together; the slope is held to the model's. */
function solve(window: Products, all: Products, known: Known): Solved | undefined {
  const effective = (known.white_g ** 2 + known.least_g ** 2) * sharedBins;
  const held = effective / Math.max(1e-12, (temperatureSlopeDeviation_ratio * known.kelvinGram) ** 2);
  const tt = all.tt + held;
  const determinant = window.hh * tt - window.ht ** 2;
  if (!(determinant > 1e-9 * window.hh * tt)) return undefined;
  const byTime = (window.hg * tt - window.ht * all.tg) / determinant;
  const byTemperature = (window.hh * all.tg - window.ht * window.hg) / determinant;
  return {
    perVariance: 1 / window.hh,
    rest: Math.max(0, all.gg - byTime * window.hg - byTemperature * all.tg),
    tt: all.tt,
    window,
    before: minus(all, window),
    heldTt: tt,
    tg: all.tg,
  };
}

function beyondNothing({ window, heldTt, tg }: Solved, perBin: number): Beyond {
  const late = window.ht / window.hh;
  const tt = heldTt - window.ht * late;
  const byTemperature = (tg - late * window.hg) / tt;
  return {
    loss: -(window.hg - byTemperature * window.ht) / window.hh,
    slopeShare: (perBin * late ** 2) / tt,
    sameness_ratio: 1,
  };
}

/**
 * The loss again, now with a loss before the instant as well: what gauge and weather make of every closed span alike. It is held
 * to zero as far as they are known to be small, and taken off.
 * @param same variance of what every span shows, (g/h)^2
 * @param perBin variance of a bin when its neighbours share its error, g^2
 */
function beyondBefore(one: Solved, same: number, perBin: number): Beyond {
  const { window, before, heldTt, tg } = one;
  const heldHh = before.hh + perBin / same;
  const late = window.ht / window.hh;
  const early = before.ht / heldHh;
  const tt = heldTt - window.ht * late - before.ht * early;
  const byTemperature = (tg - late * window.hg - early * before.hg) / tt;
  const lossLate = -(window.hg - byTemperature * window.ht) / window.hh;
  const lossEarly = -(before.hg - byTemperature * before.ht) / heldHh;
  return {
    loss: lossLate - lossEarly,
    slopeShare: (perBin * (late - early) ** 2) / tt,
    sameness_ratio: Math.min(1, perBin / heldHh / same + newSameness_ratio ** 2),
  };
}

function fitOf(
  solved: readonly (Solved | undefined)[],
  known: Known,
  about: Pick<LossFit, "from_epochMs" | "spans" | "closed_h" | "longestSpan_h"> & {
    readonly hasDayBefore: boolean;
  },
): LossFit | undefined {
  const { hasDayBefore, ...window } = about;
  const possible = solved.filter((one) => one !== undefined);
  if (possible.length === 0) return undefined;
  const { white_g, least_g, stuck_g, pointer, friction_g, kelvinGram, bins } = known;
  let least = Infinity;
  for (const { rest } of possible) least = Math.min(least, rest);
  const left = least / Math.max(2, bins - 2) - white_g ** 2;
  const wander = Math.max(least_g ** 2, left);
  // More unrest than room and sensor explain is friction: it lasts as long as a span, and has the same sign every day.
  const friction = Math.max(friction_g ** 2, left - least_g ** 2);
  // Plain loops: this runs for every window of every verdict, and lists between would cost more than the sums.
  const weights = weightsOf(possible, least, 2 * (wander + white_g ** 2) * sharedBins);
  let tt = 0;
  let perVariance = 0;
  for (const [k, one] of possible.entries()) {
    tt += (weights[k] ?? 0) * one.tt;
    perVariance += (weights[k] ?? 0) * one.perVariance;
  }
  const span_h = Math.max(0.3, window.longestSpan_h);
  const swing_K = 2.8 * Math.sqrt(tt / bins);
  const everyDay = Math.hypot(
    leastEveryDay_gPerH,
    (everyDay_ratio * swing_K * kelvinGram) / Math.max(2, span_h),
  );
  const bySticking = (12 * friction) / span_h ** 2;
  const perBin = (white_g ** 2 + wander) * sharedBins;
  const same = (pointer ? 0 : bySticking) + everyDay ** 2;
  const losses: number[] = [];
  let loss_gPerH = 0;
  let sameness_ratio = 0;
  let bySlope = 0;
  for (const [k, one] of possible.entries()) {
    const beyond = hasDayBefore ? beyondBefore(one, same, perBin) : beyondNothing(one, perBin);
    losses.push(beyond.loss);
    loss_gPerH += (weights[k] ?? 0) * beyond.loss;
    sameness_ratio += (weights[k] ?? 0) * beyond.sameness_ratio;
    bySlope += (weights[k] ?? 0) * beyond.slopeShare;
  }
  let byLag = 0;
  for (const [k, loss] of losses.entries()) byLag += (weights[k] ?? 0) * (loss - loss_gPerH) ** 2;
  // Of a wander with a memory over one span, independent from span to span; no more than if every bin wandered alone.
  const byWander = Math.min(
    (2.4 * wander) / (unseen.memory_h * span_h) / window.spans,
    wander * 2 * sharedBins * perVariance,
  );
  const byGauge =
    (12 * stuck_g ** 2) / window.spans / span_h ** 2 + (pointer ? 1 : sameness_ratio) * bySticking;
  return {
    ...window,
    loss_gPerH,
    deviation_gPerH: Math.sqrt(
      byLag + byWander + byGauge + white_g ** 2 * perVariance + bySlope + sameness_ratio * everyDay ** 2,
    ),
    byLag_gPerH: Math.sqrt(byLag),
    byGauge_gPerH: Math.sqrt(byGauge),
  };
}

/** How well each lag explains the grams, the sum being 1. */
function weightsOf(possible: readonly Solved[], least: number, scale: number): readonly number[] {
  const weights: number[] = [];
  let total = 0;
  for (const { rest } of possible) {
    const weight = Math.exp(-(rest - least) / scale);
    weights.push(weight);
    total += weight;
  }
  for (let k = 0; k < weights.length; k += 1) weights[k] = (weights[k] ?? 0) / total;
  return weights;
}
