import { normalAboveZero } from "../numerics/normal-distribution.js";
import { gatheredWith, nothingGathered, seamless_ms } from "./gathered-readings.js";
import { drawnBefore_g, judgeReading, type MovableHypothesis } from "./reading-judgement.js";
import type { SupplyModel } from "./supply-model.js";
import type { SupplyReading } from "./supply-trace.js";
import {
  gaugeSpread,
  evidence,
  lagHypotheses,
  lagMemory_h,
  leakOdds_ln,
  leastOdds_ln,
  modelSpread,
  scaleNoise_g,
  settlingSpread,
  temperatureSpread,
  usualFlow_gPerH,
  useSpread,
} from "./supply-spreads.js";
import { gaugeWanderVariance, moved, type SupplySpan } from "./supply-motion.js";
import { expectedGauge } from "./supply-observation.js";
import { component as c, componentCount, type SupplyHypothesis, type SupplyState } from "./supply-state.js";
import { addVariance, correct, diagonalMatrix, narrowed } from "./symmetric-matrix.js";
import { usedWindows } from "./window-use.js";

/**
 * A bank of extended Kalman filters, one for each lag of the contents with and without a leak, whose fifteen components hold the gas that has gone,
 * the flow, the leak, and every error of model and gauge that lasts. Chosen over particles for the static errors, of which
 * three hundred in seven dimensions leave one survivor after a week of readings and with it intervals of no width, and
 * over a single unscented filter, because the lag is the one thing that the pressure does not follow smoothly: pressure is
 * all but linear in the rest, and linear in flow and loss.
 */

const hour_ms = 3_600_000;
/** Readings closer together are taken as one: their errors are not independent. */
export const gatherSpan_ms = 10 * 60_000;
/** A spent charge that warms up by so much is not spent yet. */
const spentBand_bar = 0.1;
/** A charge may stand so long between closing and the first row without anybody thinking that gas was drawn. */
const standingAllowance_h = 168;

/** The state before anything is taken from the vessel, made from the first reading. */
export function firstSupplyState(model: SupplyModel, first: SupplyReading): SupplyState {
  const { charge, map } = model;
  const available_g = map.co2Available_g;
  const sensor_degC = first.temperature_degC ?? temperatureSpread.assumed_degC;
  const hasTemperature = first.temperature_degC !== undefined;
  const since_h = Math.max(0, (first.at_epochMs - charge.closedAt_epochMs) / hour_ms);
  const settling_h = charge.closedWith === "ice" ? settlingSpread.ice_h : settlingSpread.water_h;
  const pending_g = charge.settled ? 0 : 0.95 * available_g * Math.exp(-since_h / settling_h);
  const flow_gPerH = usualFlow_gPerH(model);
  const drawn_g = since_h > standingAllowance_h ? drawnBefore_g(model, first.at_epochMs) : 0;
  const cold = !charge.settled && charge.closedWith === "ice" && since_h < 2 * settling_h;

  const mean = new Array<number>(componentCount).fill(0);
  const deviations = new Array<number>(componentCount).fill(0);
  const believe = (index: number, value: number, deviation: number): void => {
    mean[index] = value;
    deviations[index] = deviation;
  };
  believe(c.removed, 0, drawn_g);
  believe(c.flow, flow_gPerH, useSpread.flow_ratio * flow_gPerH);
  believe(c.leak, 0, useSpread.leak_gPerH);
  believe(c.gaugeBias, 0, gaugeSpread.bias_ratio * charge.gaugeAccuracy_bar);
  believe(c.pressureFactor, 1, modelSpread.pressureFactor);
  believe(c.retained, 1, modelSpread.retained_ratio);
  const { lost, air } = modelSpread;
  believe(c.lost, lost.mean_ratio * available_g, lost.deviation_ratio * available_g);
  believe(c.air, air.mean_ratio, air.deviation_ratio);
  believe(c.airHaste, modelSpread.airHaste.mean_ratio, modelSpread.airHaste.deviation_ratio);
  believe(c.gaugeWander, 0, Math.sqrt(gaugeWanderVariance(charge.gaugeAccuracy_bar, 0)));
  believe(c.temperatureOffset, 0, temperatureSpread.offset_K);
  const { supplyEffect } = useSpread;
  believe(c.supplyEffect, supplyEffect.mean_perBar, supplyEffect.deviation_perBar);
  believe(
    c.contents,
    cold ? sensor_degC * (1 - Math.exp(-since_h / settling_h)) : sensor_degC,
    cold || !hasTemperature ? 4 : temperatureSpread.atFirst_K,
  );
  believe(c.pending, pending_g, charge.settled ? 0 : 0.4 * pending_g);
  const covariance = diagonalMatrix(deviations);
  const withoutLeak = diagonalMatrix(deviations.map((deviation, k) => (k === c.leak ? 0 : deviation)));
  return {
    version: 1,
    at_epochMs: first.at_epochMs,
    hypotheses: [false, true].flatMap((leaks) =>
      lagHypotheses.map(({ lag_h, odds_ln }) => ({
        lag_h,
        leaks,
        priorOdds_ln: odds_ln + (leaks ? leakOdds_ln : 0),
        logWeight: odds_ln + (leaks ? leakOdds_ln : 0),
        mean,
        covariance: leaks ? covariance : withoutLeak,
      })),
    ),
    gathered: nothingGathered(first, { changesLogged: 0, lastPressure_bar: undefined, pressureStep_bar: 0 }),
    use: {
      since_epochMs: first.at_epochMs,
      open_h: 0,
      scheduled_h: 0,
      mean_ratio: model.hasWindows ? useSpread.windowUse.mean_ratio : 1 / 3,
      variance: useSpread.windowUse.dayVariance,
      days: 0,
    },
    sensor_degC,
    temperatureRead_epochMs: hasTemperature ? first.at_epochMs : undefined,
    pressureRead_epochMs: undefined,
    hasScale: false,
    hasDosed: false,
    dosing_degC: sensor_degC,
    refused: { count: 0, since_epochMs: first.at_epochMs, innovation_bar: 0 },
    firstSurprise: 0,
    spentSince_epochMs: undefined,
  };
}

/**
 * The state after one more row. Pure: model, state and row make the next state. Rows come in order of time; one that is not
 * later than the last one changes nothing but the valve's state.
 */
export function stepSupply(model: SupplyModel, state: SupplyState, reading: SupplyReading): SupplyState {
  const gathered = gatheredWith(model, state.gathered, reading);
  const byEye = reading.byEye === true && reading.pressureGauge_bar !== undefined;
  const next = { ...state, gathered };
  return byEye ||
    reading.at_epochMs - state.at_epochMs >= gatherSpan_ms ||
    state.pressureRead_epochMs === undefined
    ? digested(model, next, reading.at_epochMs)
    : next;
}

/**
 * The state carried to an instant with everything gathered taken in. For an instant after the last row the valve is taken to
 * follow its windows, or to stay as it was for a while.
 */
export function supplyStateAt(model: SupplyModel, state: SupplyState, at_epochMs: number): SupplyState {
  const { gathered } = state;
  if (at_epochMs <= state.at_epochMs && gathered.pressureCount === 0) return state;
  const onward =
    at_epochMs > gathered.last_epochMs
      ? gatheredWith(model, gathered, {
          at_epochMs,
          valveOpen:
            at_epochMs - gathered.last_epochMs > seamless_ms && model.hasWindows
              ? model.spans.hasOpenAt(at_epochMs)
              : gathered.lastOpen,
        })
      : gathered;
  return digested(model, { ...state, gathered: onward }, Math.max(at_epochMs, state.at_epochMs));
}

function digested(model: SupplyModel, state: SupplyState, at_epochMs: number): SupplyState {
  const { gathered } = state;
  const elapsed_h = Math.max(0, (at_epochMs - state.at_epochMs) / hour_ms);
  const hasTemperature = gathered.temperatureCount > 0;
  const sensor_degC = hasTemperature
    ? gathered.temperatureSum_degC / gathered.temperatureCount
    : state.sensor_degC;
  const temperatureRead_epochMs = hasTemperature ? at_epochMs : state.temperatureRead_epochMs;
  const span: SupplySpan = {
    elapsed_h,
    open_h: gathered.open_h,
    guessedOpen_h: gathered.guessedOpen_h,
    sensor_degC,
    pressureStep_bar: gathered.pressureStep_bar,
    sensorAge_h:
      temperatureRead_epochMs === undefined ? Infinity : (at_epochMs - temperatureRead_epochMs) / hour_ms,
  };
  const pressure_bar =
    gathered.pressureCount > 0 ? gathered.pressureSum_bar / gathered.pressureCount : undefined;
  const mass_g = gathered.massCount > 0 ? gathered.massSum_g / gathered.massCount : undefined;

  const carried = state.hypotheses.map((hypothesis) => {
    const before = expectedGauge(model, hypothesis.mean);
    return {
      ...hypothesis,
      ...(elapsed_h > 0 ? moved(model, hypothesis, span, before.inletGauge_bar) : copied(hypothesis)),
    };
  });
  const noise_bar = Math.hypot(
    gaugeSpread.noise_ratio * model.charge.gaugeAccuracy_bar,
    gaugeSpread.leastNoise_bar,
    gathered.byEye ? gaugeSpread.byEye_bar : 0,
  );
  const judged =
    pressure_bar === undefined
      ? { believed: false, opened: false, surprise: 0, refused: state.refused }
      : judgeReading(model, state, carried, { pressure_bar, noise_bar, at_epochMs, byEye: gathered.byEye });
  const share_ratio = evidence.share_ratio / (1 + (gathered.pressureStep_bar / evidence.coarseStep_bar) ** 2);
  const forget = Math.exp(-elapsed_h / lagMemory_h);
  const hypotheses = carried.map((hypothesis) => {
    const { priorOdds_ln } = hypothesis;
    let logWeight = priorOdds_ln + forget * (hypothesis.logWeight - priorOdds_ln);
    if (pressure_bar !== undefined && judged.believed) {
      const passes = judged.opened || state.pressureRead_epochMs === undefined ? relinearisedPasses : 1;
      const logLikelihood = takePressure(model, hypothesis, { pressure_bar, noise_bar, passes });
      logWeight += share_ratio * logLikelihood;
    }
    if (mass_g !== undefined) weigh(model, hypothesis, mass_g, state.hasScale);
    return { ...hypothesis, logWeight };
  });
  const heaviest = Math.max(...hypotheses.map(({ logWeight }) => logWeight));
  const believed = hypotheses.find(({ logWeight }) => logWeight === heaviest);
  const gauge_bar = believed === undefined ? Infinity : expectedGauge(model, believed.mean).gauge_bar;
  const working_bar = model.charge.workingPressureGauge_bar;
  const dosed_h = gathered.open_h;
  const towards = 1 - Math.exp(-dosed_h / 40);
  return {
    ...state,
    at_epochMs,
    hypotheses: hypotheses.map((hypothesis) => ({
      ...hypothesis,
      logWeight: Math.max(leastOdds_ln, hypothesis.logWeight - heaviest),
    })),
    gathered: nothingGathered({ at_epochMs: gathered.last_epochMs, valveOpen: gathered.lastOpen }, gathered),
    use: usedWindows(model, state, at_epochMs, gathered.open_h),
    sensor_degC,
    temperatureRead_epochMs,
    pressureRead_epochMs:
      pressure_bar !== undefined && judged.believed ? at_epochMs : state.pressureRead_epochMs,
    hasScale: state.hasScale || mass_g !== undefined,
    hasDosed: state.hasDosed || gathered.open_h > 0,
    dosing_degC: state.dosing_degC + towards * (sensor_degC - state.dosing_degC),
    refused: judged.refused,
    firstSurprise: state.pressureRead_epochMs === undefined ? judged.surprise : state.firstSurprise,
    spentSince_epochMs:
      gauge_bar <= working_bar && settled(model, believed)
        ? (state.spentSince_epochMs ?? at_epochMs)
        : gauge_bar > working_bar + spentBand_bar
          ? undefined
          : state.spentSince_epochMs,
  };
}

function settled(model: SupplyModel, hypothesis: SupplyHypothesis | undefined): boolean {
  return (hypothesis?.mean[c.pending] ?? 0) < 0.02 * model.map.co2Available_g;
}

function copied(hypothesis: SupplyHypothesis): { mean: number[]; covariance: number[] } {
  return { mean: [...hypothesis.mean], covariance: [...hypothesis.covariance] };
}

/** Less is nothing. */
const leastPending_g = 1e-6;
/** Passes after which a correction as large as half a charge stands to a thousandth. */
const relinearisedPasses = 5;

/**
 * The gauge taken into one hypothesis. A correction that moves far is made again from where it ends, with the slopes found
 * there: with those of its start the next reading would seem to tell something new.
 * @returns the logarithm of the likelihood
 */
function takePressure(
  model: SupplyModel,
  { mean, covariance }: MovableHypothesis,
  taken: { readonly pressure_bar: number; readonly noise_bar: number; readonly passes: number },
): number {
  const from = taken.passes > 1 ? { mean: [...mean], covariance: [...covariance] } : undefined;
  let logLikelihood = 0;
  for (let pass = 0; pass < taken.passes; pass += 1) {
    const expected = expectedGauge(model, mean);
    let innovation = taken.pressure_bar - expected.gauge_bar;
    if (from !== undefined && pass > 0) {
      for (let k = 0; k < componentCount; k += 1) {
        innovation -= (expected.gradient[k] ?? 0) * ((from.mean[k] ?? 0) - (mean[k] ?? 0));
        mean[k] = from.mean[k] ?? 0;
      }
      for (let k = 0; k < covariance.length; k += 1) covariance[k] = from.covariance[k] ?? 0;
    }
    ({ logLikelihood } = correct(mean, covariance, componentCount, {
      innovation,
      gradient: expected.gradient,
      noiseVariance: taken.noise_bar ** 2,
    }));
  }
  cutPending(mean, covariance);
  return logLikelihood;
}

/**
 * No less than nothing can wait. A high gauge would else be explained by crystals below zero, the more lastingly the less it says
 * of what has gone. Only a mean below zero is cut: cutting at every reading would add a little of the tail each time.
 */
function cutPending(mean: number[], covariance: number[]): void {
  const value = mean[c.pending] ?? 0;
  if (value >= 0) return;
  const deviation = Math.sqrt(Math.max(0, covariance[c.pending * componentCount + c.pending] ?? 0));
  if (deviation > leastPending_g) {
    narrowed(mean, covariance, componentCount, {
      component: c.pending,
      ...normalAboveZero({ value, deviation }),
    });
  }
  mean[c.pending] = Math.max(0, mean[c.pending] ?? 0);
}

/** The scale's own zero is not known: the first weighing fixes it, later ones tell what has gone since, air included. */
function weigh(model: SupplyModel, hypothesis: MovableHypothesis, mass_g: number, hasScale: boolean): void {
  const { mean, covariance } = hypothesis;
  const { air_g } = expectedGauge(model, mean);
  const without_g = air_g - (mean[c.removed] ?? 0);
  if (!hasScale) {
    mean[c.fullMass] = mass_g - without_g;
    addVariance(covariance, componentCount, c.fullMass, 1e4);
  }
  const gradient = new Array<number>(componentCount).fill(0);
  gradient[c.fullMass] = 1;
  gradient[c.removed] = -1;
  if ((mean[c.air] ?? 0) > 0) gradient[c.air] = air_g / (mean[c.air] ?? 1);
  correct(mean, covariance, componentCount, {
    innovation: mass_g - (mean[c.fullMass] ?? 0) - without_g,
    gradient,
    noiseVariance: scaleNoise_g ** 2,
  });
}
