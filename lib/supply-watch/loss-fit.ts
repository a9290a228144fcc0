import { undithered_bar, type ClosedLossState, type ClosedSpan } from "./closed-loss.js";

/** Loss while closed over the last so many spans, all else taken out. */
export interface LossFit {
  readonly spans: number;
  readonly from_epochMs: number;
  readonly closed_h: number;
  readonly loss_gPerH: number;
  readonly deviation_gPerH: number;
  /** Mean lag of the contents, by how well each explains the gauge. */
  readonly lagSpread: number;
}

/** Centred sums of squares and products over spans, each about its own mean. */
interface Products {
  readonly hh: number;
  readonly ht: number;
  readonly hg: number;
  readonly tt: number;
  readonly tg: number;
  readonly gg: number;
}

/** Uncertainty of how the pressure goes with temperature, of its slope. The model's 4 % and what is dissolved. */
const temperatureSlopeDeviation_ratio = 0.06;
/** What drives the contents and is not seen by the sensor: deviation and memory; and the gauge's own friction. Judgements. */
const unseen = { least_bar: 0.004, contents_K: 0.02, memory_h: 2 } as const;
/**
 * What comes back every day at the same hours, for a steel that lies between room and contents and for a sun that
 * shines on one of them: it looks like a loss in every closed span. Kelvin of unseen warming for each kelvin of the contents'.
 */
const everyDay_ratio = 0.025;
const leastEveryDay_gPerH = 0.002;

const leastBins = 5;

function productsOf(span: ClosedSpan, lag: number): Products {
  const sums = span.byLag[lag];
  const n = span.bins;
  if (sums === undefined || n < 2) return { hh: 0, ht: 0, hg: 0, tt: 0, tg: 0, gg: 0 };
  return {
    hh: span.sumHH - span.sumH ** 2 / n,
    ht: sums.sumHT - (span.sumH * sums.sumT) / n,
    hg: sums.sumHG - (span.sumH * sums.sumG) / n,
    tt: sums.sumTT - sums.sumT ** 2 / n,
    tg: sums.sumTG - (sums.sumT * sums.sumG) / n,
    gg: sums.sumGG - sums.sumG ** 2 / n,
  };
}

/**
 * Fits of the loss over the last span, the last two, and so on to all that are kept: grams against closed time, with an
 * intercept for each span, one slope of temperature for all spans, and the lag weighed by how well it explains them. Spans
 * before the window are taken to be tight, and still teach lag and slope. Least squares, with errors inflated for what stays
 * the same from bin to bin.
 */
export function lossFits(state: ClosedLossState): readonly LossFit[] {
  const spans = state.spans.filter(({ bins }) => bins >= leastBins);
  const { barPerGram, barPerKelvin } = state.slopes;
  if (spans.length === 0 || barPerGram <= 0) return [];
  const lags = spans[0]?.byLag.length ?? 0;
  const kelvinGram = barPerKelvin / barPerGram;
  const slopeVariance = (temperatureSlopeDeviation_ratio * kelvinGram) ** 2;
  const bins = spans.reduce((sum, span) => sum + span.bins, 0);
  const white_g = Math.sqrt(state.whiteVariance) / barPerGram;
  const stuck_g = undithered_bar(state) / barPerGram;
  const least_g = Math.hypot(unseen.least_bar, unseen.contents_K * barPerKelvin, 0) / barPerGram;
  const products = spans.map((span) => Array.from({ length: lags }, (_, lag) => productsOf(span, lag)));
  const all = Array.from({ length: lags }, (_, lag) => summed(products.map((row) => row[lag])));

  const fits: LossFit[] = [];
  const window = Array.from({ length: lags }, () => ({ hh: 0, ht: 0, hg: 0 }));
  let fromClosed_h = 0;
  let longest_h = 0;
  for (let k = spans.length - 1; k >= 0; k -= 1) {
    const span = spans[k];
    if (span === undefined) break;
    const span_h = (span.to_epochMs - span.from_epochMs) / 3_600_000;
    fromClosed_h += span_h;
    longest_h = Math.max(longest_h, span_h);
    const solved = Array.from({ length: lags }, (_, lag) => {
      const here = products[k]?.[lag];
      const sums = window[lag];
      const total = all[lag];
      if (here === undefined || sums === undefined || total === undefined) return undefined;
      sums.hh += here.hh;
      sums.ht += here.ht;
      sums.hg += here.hg;
      return solve(sums, total, { slopeVariance, noise: Math.hypot(white_g, least_g), bins });
    });
    const fit = weighed(solved, { bins, least_g, white_g });
    if (fit === undefined) continue;
    const unseen_g = fit.unseen_g;
    const windowSpans = spans.length - k;
    // Of a wander with a memory, over one span; independent from span to span.
    const wander = (2.4 * unseen_g ** 2) / (unseen.memory_h * Math.max(0.3, longest_h));
    const correlated = unseen_g ** 2 * (1 + (2 * unseen.memory_h) / (1 / 6)) * fit.perVariance;
    // The step of a gauge stays the same over a span: of the slope it takes a share of step over length.
    const stuck = (12 * stuck_g ** 2) / Math.max(0.3, longest_h) ** 2;
    const swing_K = Math.sqrt(fit.tt / bins) * 2.8;
    const everyDay = Math.hypot(
      leastEveryDay_gPerH,
      (everyDay_ratio * swing_K * kelvinGram) / Math.max(2, longest_h),
    );
    fits.push({
      spans: windowSpans,
      from_epochMs: span.from_epochMs,
      closed_h: fromClosed_h,
      loss_gPerH: fit.loss,
      deviation_gPerH: Math.sqrt(
        fit.between +
          white_g ** 2 * fit.perVariance +
          Math.min(wander / windowSpans, correlated) +
          stuck / windowSpans +
          fit.slopeShare +
          everyDay ** 2,
      ),
      lagSpread: Math.sqrt(fit.between),
    });
  }
  return fits;
}

interface Solved {
  readonly loss: number;
  readonly perVariance: number;
  readonly slopeShare: number;
  readonly rest: number;
  readonly tt: number;
}

/** Loss and slope of temperature together; the slope is held to the model's. */
function solve(
  window: { readonly hh: number; readonly ht: number; readonly hg: number },
  all: Products,
  given: { readonly slopeVariance: number; readonly noise: number; readonly bins: number },
): Solved | undefined {
  // A bin counts little: its errors are those of its neighbours.
  const effective = given.noise ** 2 * 12;
  const held = effective / Math.max(1e-12, given.slopeVariance);
  const tt = all.tt + held;
  const determinant = window.hh * tt - window.ht ** 2;
  if (!(determinant > 1e-9 * window.hh * tt)) return undefined;
  const byTime = (window.hg * tt - window.ht * all.tg) / determinant;
  const byTemperature = (window.hh * all.tg - window.ht * window.hg) / determinant;
  const rest = all.gg - byTime * window.hg - byTemperature * all.tg;
  return {
    loss: -byTime,
    perVariance: 1 / window.hh,
    slopeShare: effective * (tt / determinant - 1 / window.hh),
    rest: Math.max(0, rest),
    tt: all.tt,
  };
}

function weighed(
  solved: readonly (Solved | undefined)[],
  given: { readonly bins: number; readonly least_g: number; readonly white_g: number },
) {
  const known = solved.filter((one) => one !== undefined);
  const [first] = known;
  if (first === undefined) return undefined;
  const best = known.reduce((least, one) => (one.rest < least.rest ? one : least), first);
  const variance = best.rest / Math.max(2, given.bins - 2);
  const unseen_g = Math.sqrt(Math.max(given.least_g ** 2, variance - given.white_g ** 2));
  const scale = 2 * (unseen_g ** 2 + given.white_g ** 2) * 12;
  const weights = known.map((one) => Math.exp(-(one.rest - best.rest) / scale));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const mean = (pick: (one: Solved) => number): number =>
    known.reduce((sum, one, k) => sum + ((weights[k] ?? 0) / total) * pick(one), 0);
  const loss = mean((one) => one.loss);
  return {
    loss,
    between: mean((one) => (one.loss - loss) ** 2),
    perVariance: mean((one) => one.perVariance),
    slopeShare: mean((one) => one.slopeShare),
    tt: mean((one) => one.tt),
    unseen_g,
  };
}

function summed(rows: readonly (Products | undefined)[]): Products {
  const add = (pick: (one: Products) => number): number =>
    rows.reduce((sum, one) => sum + (one === undefined ? 0 : pick(one)), 0);
  return {
    hh: add(({ hh }) => hh),
    ht: add(({ ht }) => ht),
    hg: add(({ hg }) => hg),
    tt: add(({ tt }) => tt),
    tg: add(({ tg }) => tg),
    gg: add(({ gg }) => gg),
  };
}
