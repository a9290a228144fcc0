import { normalQuantile95 } from "../numerics/normal-distribution.js";
import { middleLag, type ClosedLossState } from "./closed-loss.js";
import { lossFits, type LossFit } from "./loss-fit.js";

/** What a vessel that was held closed has shown. Grams of CO2 a day, with the interval that holds it in 95 of 100 cases. */
export type LeakTestVerdict =
  | { readonly kind: "tight"; readonly below_gPerDay: number; readonly closed_h: number }
  | {
      readonly kind: "leaks";
      readonly leak_gPerDay: number;
      readonly low95_gPerDay: number;
      readonly high95_gPerDay: number;
      readonly closed_h: number;
    }
  | {
      readonly kind: "cannot-be-told";
      readonly why: "too-short" | "gauge-too-coarse" | "temperature-not-settled" | "no-readings";
      /** Closed hours after which it can be told, at the gauge and the room of now; undefined: not with this gauge. */
      readonly needed_h: number | undefined;
      readonly closed_h: number;
    };

/** A test that would take longer is no test with this gauge. */
export const longestTest_h = 240;
const leastClosed_h = 1;
/** Until the first readings of the test make a piece of their own, and the piece is long enough. */
const leastNeeded_h = 4;

/**
 * The verdict on a vessel held closed since an instant: tight below the loss that matters, leaking, or why it cannot be told.
 * The test stands alone: what the vessel did before it is not asked.
 * @param test.matters_gPerDay the loss below which the vessel passes
 */
export function leakTestVerdict(
  state: ClosedLossState,
  test: {
    readonly since_epochMs: number;
    readonly matters_gPerDay: number;
    readonly gaugeAccuracy_bar: number;
  },
): LeakTestVerdict {
  // What was before may have leaked as well, and teaches nothing.
  const spans = state.spans.filter(({ from_epochMs }) => from_epochMs >= test.since_epochMs);
  const within = lossFits({ ...state, spans }, test.gaugeAccuracy_bar);
  const fit = within.reduce<LossFit | undefined>(
    (longest, one) => (longest === undefined || one.closed_h > longest.closed_h ? one : longest),
    undefined,
  );
  if (fit === undefined) {
    const isRead = (state.lastBin?.at_epochMs ?? -Infinity) >= test.since_epochMs;
    return {
      kind: "cannot-be-told",
      why: isRead ? "too-short" : "no-readings",
      needed_h: isRead ? leastNeeded_h : undefined,
      closed_h: 0,
    };
  }
  const { closed_h } = fit;
  const spread_gPerDay = 24 * normalQuantile95 * fit.deviation_gPerH;
  const leak_gPerDay = 24 * fit.loss_gPerH;
  const low95_gPerDay = leak_gPerDay - spread_gPerDay;
  // No vessel gains gas: an estimate below zero makes it no tighter than one at zero.
  const high95_gPerDay = Math.max(0, leak_gPerDay) + spread_gPerDay;
  if (
    closed_h >= leastClosed_h &&
    low95_gPerDay > 0 &&
    spread_gPerDay <= Math.max(test.matters_gPerDay, leak_gPerDay / 2)
  ) {
    return { kind: "leaks", leak_gPerDay, low95_gPerDay, high95_gPerDay, closed_h };
  }
  if (closed_h >= leastClosed_h && high95_gPerDay < test.matters_gPerDay) {
    return { kind: "tight", below_gPerDay: high95_gPerDay, closed_h };
  }
  const whole_gPerH = fit.deviation_gPerH;
  const why =
    fit.byGauge_gPerH ** 2 > 0.5 * whole_gPerH ** 2
      ? "gauge-too-coarse"
      : fit.byLag_gPerH ** 2 > 0.5 * whole_gPerH ** 2
        ? "temperature-not-settled"
        : "too-short";
  // White noise falls with the length to the power of 3/2, a step and a wander with the length: between them.
  const needed_h = closed_h * Math.max(1.2, 1.2 * (spread_gPerDay / test.matters_gPerDay) ** 0.75);
  return {
    kind: "cannot-be-told",
    why,
    needed_h: needed_h <= longestTest_h ? Math.ceil(needed_h) : undefined,
    closed_h,
  };
}

/** What the temperature of the contents did to the gauge while a test ran; the verdict has taken it out. */
export interface TemperatureEffect {
  readonly change_K: number;
  readonly onGauge_bar: number;
}

/** From the first readings of the test to the last ones, at the usual lag. Undefined without readings since it began. */
export function temperatureEffect(
  state: ClosedLossState,
  since_epochMs: number,
): TemperatureEffect | undefined {
  const first = state.spans.find(({ from_epochMs }) => from_epochMs >= since_epochMs);
  const sums = first?.byLag[middleLag];
  const { lastBin } = state;
  if (first === undefined || sums === undefined || first.bins < 1 || lastBin === undefined) return undefined;
  const change_K = lastBin.contents_degC - (sums.firstContents_degC + sums.sumT / first.bins);
  return { change_K, onGauge_bar: change_K * state.slopes.barPerKelvin };
}
