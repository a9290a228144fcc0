import { NoConvergenceError, OutOfValidRangeError } from "../errors.js";
import { normalQuantile95 } from "../numerics/normal-distribution.js";
import { absoluteFromGauge_bar } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";
import type { Charge } from "./charge.js";
import { modelPressureError_ratio } from "./charge-equilibrium.js";
import {
  fitLeastSquares,
  type LeastSquaresFit,
  type LeastSquaresProblem,
} from "../numerics/least-squares.js";
import { heatModelIn, usualSurroundings, type Surroundings } from "./pressurising.js";
import { pressurisingCourse } from "./pressurising-course.js";

/** One line of a curve recorded after closing. */
export interface PressurisingRecord {
  readonly at_h: number;
  readonly pressureGauge_bar: number;
  /** Of the contents, as from a sensor on the wall. */
  readonly temperature_degC?: number;
}

/** A vessel whose pace is asked for. */
export type UnknownPace = Omit<Surroundings, "heatLoss_WPerK" | "mixing_h">;

export interface FittedHeatLoss {
  readonly value_WPerK: number;
  readonly low_WPerK: number;
  readonly high_WPerK: number;
}

export interface FittedMixing {
  readonly value_h: number;
  readonly low_h: number;
  readonly high_h: number;
}

/** Why the record does not settle both values. */
export interface PaceDoubt {
  readonly kind: "interchangeable" | "heat-loss-open" | "mixing-open" | "poor-match";
  readonly reason: string;
}

export interface PaceFit {
  /** `unsettled`: the curve alone leaves a choice, `doubts` say which; the values still follow it. */
  readonly kind: "settled" | "unsettled";
  /** With 95 % bounds. */
  readonly heatLoss: FittedHeatLoss;
  readonly mixing: FittedMixing;
  /** Recorded over computed absolute pressure: what weighing and the model's 4 % leave over. */
  readonly pressureScale_ratio: number;
  /** Of the logarithms of heat loss and mixing time. */
  readonly correlation_ratio: number;
  readonly rootMeanSquare_bar: number;
  readonly doubts: readonly PaceDoubt[];
}

/** The same as the ranges of Surroundings, narrower where no vessel of this size can be. */
const bounds = {
  heatLoss_WPerK: { minimum: 0.05, maximum: 10 },
  mixing_h: { minimum: 0.02, maximum: 48 },
} as const;
const scaleBound_ratio = { minimum: 0.87, maximum: 1.15 } as const;

interface Bound {
  readonly minimum: number;
  readonly maximum: number;
}

/** Beyond this correlation only a combination of both is known. */
const tellingApartLimit_ratio = 0.95;
/** A value whose 95 % bounds lie a factor of two off is not known better than the usual one. */
const openFactor = 2;
/** Residuals this much larger than the gauge's error mean that the model misses something. */
const poorMatch = 3;
/** 95 % of chi square for two parameters. */
const chiSquare95 = 5.99;
const leastRecords = 6;
const startFactors = [0.15, 1, 6] as const;

/**
 * Heat loss and mixing time from a recorded curve, by least squares in their logarithms over pressure and, where
 * recorded, temperature. A common factor on pressure is fitted along, held to the model's 4 %. Bounds are 95 %, widened
 * where the curve misses by more than the gauge's error.
 * @param record at least six lines, 0 to 1000 h after closing
 * @param accuracy half-widths of the errors, 95 %; above 0; temperature by default 1 K
 * @throws OutOfValidRangeError for fewer lines, values out of range, and as pressurise
 * @throws NoConvergenceError when no start leads to a fit
 * @see [Marquardt1963], [JCGM100]
 */
export function fitPace(
  charge: Charge,
  vessel: UnknownPace,
  record: readonly PressurisingRecord[],
  accuracy: { readonly gaugeAccuracy_bar: number; readonly temperatureAccuracy_degC?: number },
): PaceFit {
  const temperatureAccuracy_degC = accuracy.temperatureAccuracy_degC ?? 1;
  assertInRange(accuracy.gaugeAccuracy_bar, {
    quantity: "gauge accuracy",
    unit: "bar",
    minimum: 1e-3,
    maximum: 10,
  });
  assertInRange(temperatureAccuracy_degC, {
    quantity: "accuracy of the temperature",
    unit: "degC",
    minimum: 1e-3,
    maximum: 10,
  });
  if (record.length < leastRecords) {
    throw new OutOfValidRangeError("recorded lines", record.length, "", leastRecords, Infinity);
  }
  for (const line of record) {
    assertInRange(line.at_h, { quantity: "time after closing", unit: "h", minimum: 0, maximum: 1000 });
    assertInRange(line.pressureGauge_bar, {
      quantity: "gauge pressure",
      unit: "bar",
      minimum: -1,
      maximum: 100,
    });
    if (line.temperature_degC !== undefined) {
      assertInRange(line.temperature_degC, {
        quantity: "temperature",
        unit: "degC",
        minimum: -40,
        maximum: 60,
      });
    }
  }
  const usual = usualSurroundings(charge, vessel);
  const model = heatModelIn(charge, { ...usual, ...vessel });
  const until_h = Math.max(0.1, ...record.map((line) => line.at_h));
  const pressureSigma_bar = accuracy.gaugeAccuracy_bar / normalQuantile95;
  const temperatureSigma_degC = temperatureAccuracy_degC / normalQuantile95;
  const scaleSigma = modelPressureError_ratio / normalQuantile95;

  const residuals = (parameters: readonly number[]): readonly number[] => {
    const [lnHeatLoss = 0, lnMixing = 0, lnScale = 0] = parameters;
    const course = pressurisingCourse(
      model,
      {
        room_degC: vessel.room_degC,
        heatLoss_WPerK: Math.exp(lnHeatLoss),
        mixing_h: Math.exp(lnMixing),
      },
      until_h,
    );
    const misses = record.flatMap((line) => {
      const state = course.at(line.at_h);
      const computed_bar = Math.exp(lnScale) * absoluteFromGauge_bar(state.pressureGauge_bar);
      const miss = (computed_bar - absoluteFromGauge_bar(line.pressureGauge_bar)) / pressureSigma_bar;
      return line.temperature_degC === undefined
        ? [miss]
        : [miss, (state.temperature_degC - line.temperature_degC) / temperatureSigma_degC];
    });
    return [...misses, lnScale / scaleSigma];
  };

  const likely = likelyFits(
    startFactors.flatMap((heat) =>
      startFactors.map((mix) => [Math.log(usual.heatLoss_WPerK * heat), Math.log(usual.mixing_h * mix), 0]),
    ),
    residuals,
  );
  const [fit] = likely;
  const [heat, mixing, scale] = fit.parameters;
  if (heat === undefined || mixing === undefined || scale === undefined) {
    throw new OutOfValidRangeError("fitted values", fit.parameters.length, "", 3, 3);
  }
  const misses = residuals(fit.parameters.map((parameter) => parameter.value));
  const pressureSquares = missesOfPressure(record, misses).reduce((sum, value) => sum + value * value, 0);
  const correlation_ratio = fit.correlation[0]?.[1] ?? 0;
  const heatLoss = interval(likely, 0, bounds.heatLoss_WPerK);
  const mixed = interval(likely, 1, bounds.mixing_h);
  const doubts = doubtsOf({
    isHeatLossOpen: heat.atBound || isOpen(heatLoss),
    isMixingOpen: mixing.atBound || isOpen(mixed),
    isInterchangeable:
      likely.some((other) => areApart(other, fit)) || Math.abs(correlation_ratio) > tellingApartLimit_ratio,
    isPoorMatch: Math.sqrt(fit.sumOfSquares / misses.length) > poorMatch,
  });
  return {
    kind: doubts.length === 0 ? "settled" : "unsettled",
    heatLoss: { value_WPerK: heatLoss.value, low_WPerK: heatLoss.low, high_WPerK: heatLoss.high },
    mixing: { value_h: mixed.value, low_h: mixed.low, high_h: mixed.high },
    pressureScale_ratio: Math.exp(scale.value),
    correlation_ratio,
    rootMeanSquare_bar: pressureSigma_bar * Math.sqrt(pressureSquares / record.length),
    doubts,
  };
}

/**
 * The fits from several starts that the record cannot tell from the best at 95 %, the best first.
 * @throws NoConvergenceError when no start leads to a fit
 */
function likelyFits(
  starts: readonly (readonly number[])[],
  residuals: LeastSquaresProblem["residuals"],
): readonly [LeastSquaresFit, ...(readonly LeastSquaresFit[])] {
  const limits = [bounds.heatLoss_WPerK, bounds.mixing_h, scaleBound_ratio];
  const [best, ...others] = starts
    .flatMap((start) => {
      const fit = fitLeastSquares({
        start,
        minimum: limits.map((limit) => Math.log(limit.minimum)),
        maximum: limits.map((limit) => Math.log(limit.maximum)),
        residuals,
      });
      return fit.kind === "fitted" ? [fit] : [];
    })
    .sort((a, b) => a.sumOfSquares - b.sumOfSquares);
  if (best === undefined)
    throw new NoConvergenceError("heat loss and mixing time", 0, Infinity, starts.length);
  return [
    best,
    ...others.filter((fit) => fit.sumOfSquares - best.sumOfSquares < chiSquare95 * best.inflation),
  ];
}

/** Whether two fits differ by a factor of two in the heat loss or in the mixing time. */
function areApart(one: LeastSquaresFit, other: LeastSquaresFit): boolean {
  return [0, 1].some(
    (k) =>
      Math.abs((one.parameters[k]?.value ?? 0) - (other.parameters[k]?.value ?? 0)) > Math.log(openFactor),
  );
}

/** The misses of pressure out of those of pressure and temperature. */
function missesOfPressure(
  record: readonly PressurisingRecord[],
  misses: readonly number[],
): readonly number[] {
  let at = 0;
  return record.map((line) => {
    const miss = misses[at] ?? 0;
    at += line.temperature_degC === undefined ? 1 : 2;
    return miss;
  });
}

interface Interval {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** The best fit's value, with bounds that hold those of every fit as likely. */
function interval(
  likely: readonly [LeastSquaresFit, ...(readonly LeastSquaresFit[])],
  index: number,
  bound: Bound,
): Interval {
  const found = likely.flatMap((fit) => fit.parameters[index] ?? []);
  return {
    value: Math.exp(found[0]?.value ?? NaN),
    low: Math.max(
      bound.minimum,
      Math.exp(Math.min(...found.map((at) => at.value - normalQuantile95 * at.sigma))),
    ),
    high: Math.min(
      bound.maximum,
      Math.exp(Math.max(...found.map((at) => at.value + normalQuantile95 * at.sigma))),
    ),
  };
}

function isOpen(found: Interval): boolean {
  return found.high > found.value * openFactor || found.low < found.value / openFactor;
}

function doubtsOf(curve: {
  readonly isHeatLossOpen: boolean;
  readonly isMixingOpen: boolean;
  readonly isInterchangeable: boolean;
  readonly isPoorMatch: boolean;
}): readonly PaceDoubt[] {
  const doubts: PaceDoubt[] = [];
  if (curve.isInterchangeable) {
    doubts.push({
      kind: "interchangeable",
      reason:
        "the record cannot tell heat loss and mixing time apart: more of the one and less of the other fit as well; " +
        "a temperature on the vessel's wall would part them",
    });
  }
  if (curve.isHeatLossOpen) {
    doubts.push({
      kind: "heat-loss-open",
      reason:
        "the record leaves the heat loss open by more than a factor of two: mixing or the span recorded hides it",
    });
  }
  if (curve.isMixingOpen) {
    doubts.push({
      kind: "mixing-open",
      reason:
        "the record leaves the mixing time open by more than a factor of two: heat sets the pace, or lines are missing " +
        "while the pressure rises",
    });
  }
  if (curve.isPoorMatch) {
    doubts.push({
      kind: "poor-match",
      reason:
        "the record misses the computed curve by more than three times the gauge's error: weights, times, room " +
        "temperature or a leak should be looked at",
    });
  }
  return doubts;
}
