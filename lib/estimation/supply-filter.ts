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
  useSpread,
} from "./supply-spreads.js";
import { gaugeWanderVariance, moved, type SupplySpan } from "./supply-motion.js";
import { expectedGauge } from "./supply-observation.js";
import {
  component as c,
  componentCount,
  type GatheredReadings,
  type SupplyHypothesis,
  type SupplyState,
  type WindowUse,
} from "./supply-state.js";
import { addVariance, correct, diagonalMatrix, varianceAlong } from "./symmetric-matrix.js";

/**
 * A bank of extended Kalman filters, one for each lag of the contents, whose thirteen components hold the gas that has gone,
 * the flow, the leak, and every error of model and gauge that lasts. Chosen over particles for the static errors, of which
 * three hundred in seven dimensions leave one survivor after a week of readings and with it intervals of no width, and
 * over a single unscented filter, because the lag is the one thing that the pressure does not follow smoothly: pressure is
 * all but linear in the rest, and linear in flow and loss.
 */

const hour_ms = 3_600_000;
/** Readings closer together are taken as one: their errors are not independent. */
export const gatherSpan_ms = 10 * 60_000;
/** Rows further apart than this leave it open what the valve did; the calendar tells. */
const seamless_ms = 20 * 60_000;
const longestHeld_ms = 4 * 24 * hour_ms;
/** Standard deviations beyond which a reading is not believed, and after how many, over how long, it must be. */
const gate = { deviations: 6, count: 6, lasting_ms: 2 * hour_ms, byEyeCount: 2 } as const;
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
  const dosing_h = useSpread.chargeLasts_days * (model.hasWindows ? model.spans.openPerDay_h : 8);
  const flow_gPerH = available_g / dosing_h;
  const drawn_h =
    since_h > standingAllowance_h ? model.spans.openBetween_h(charge.closedAt_epochMs, first.at_epochMs) : 0;
  const cold = !charge.settled && charge.closedWith === "ice" && since_h < 2 * settling_h;

  const mean = new Array<number>(componentCount).fill(0);
  const deviations = new Array<number>(componentCount).fill(0);
  const believe = (index: number, value: number, deviation: number): void => {
    mean[index] = value;
    deviations[index] = deviation;
  };
  believe(c.removed, 0, drawn_h > 0 ? Math.min(available_g / 3, flow_gPerH * drawn_h) : 0);
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

function nothingGathered(
  after: ValveRow,
  known: Pick<GatheredReadings, "changesLogged" | "lastPressure_bar" | "pressureStep_bar">,
): GatheredReadings {
  const { changesLogged, lastPressure_bar, pressureStep_bar } = known;
  return {
    last_epochMs: after.at_epochMs,
    lastOpen: after.valveOpen,
    changesLogged,
    lastPressure_bar,
    pressureStep_bar,
    open_h: 0,
    guessedOpen_h: 0,
    pressureSum_bar: 0,
    pressureCount: 0,
    temperatureSum_degC: 0,
    temperatureCount: 0,
    massSum_g: 0,
    massCount: 0,
    byEye: false,
  };
}

type ValveRow = Pick<SupplyReading, "at_epochMs" | "valveOpen">;

/**
 * Hours that the valve was open between two rows. Close together, the earlier row's state held; so it did in a log that has a row
 * for every change of the valve. Else the windows tell, unless over a short gap one of the rows contradicts them.
 */
function openHours(
  model: SupplyModel,
  from: ValveRow,
  to: ValveRow,
  changesLogged: boolean,
): { readonly open_h: number; readonly guessedOpen_h: number } {
  const elapsed_ms = to.at_epochMs - from.at_epochMs;
  const held = { open_h: from.valveOpen ? elapsed_ms / hour_ms : 0, guessedOpen_h: 0 };
  if (elapsed_ms <= seamless_ms || (changesLogged && elapsed_ms < longestHeld_ms)) return held;
  const short = elapsed_ms <= 24 * hour_ms;
  if (!model.hasWindows) return { ...held, guessedOpen_h: held.open_h };
  const agrees =
    model.spans.hasOpenAt(from.at_epochMs) === from.valveOpen &&
    model.spans.hasOpenAt(to.at_epochMs) === to.valveOpen;
  if (short && !agrees) return { ...held, guessedOpen_h: held.open_h };
  const open_h = model.spans.openBetween_h(from.at_epochMs, to.at_epochMs);
  return { open_h, guessedOpen_h: elapsed_ms <= 2 * hour_ms ? 0 : open_h };
}

/** Differences that are no step of a gauge but its arithmetic. */
const leastStep_bar = 1e-4;

function pressureStepAfter(before: GatheredReadings, pressure_bar: number | undefined): number {
  const { lastPressure_bar, pressureStep_bar } = before;
  if (pressure_bar === undefined || lastPressure_bar === undefined) return pressureStep_bar;
  const difference_bar = Math.abs(pressure_bar - lastPressure_bar);
  if (difference_bar < leastStep_bar) return pressureStep_bar;
  return pressureStep_bar === 0 ? Math.min(0.5, difference_bar) : Math.min(pressureStep_bar, difference_bar);
}

/** How sure it is, 0 to 1, that the log has a row for every change: each change that falls on a row speaks for it. */
function changesLoggedAfter(model: SupplyModel, before: GatheredReadings, reading: SupplyReading): number {
  const elapsed_ms = reading.at_epochMs - before.last_epochMs;
  if (elapsed_ms <= seamless_ms) return before.changesLogged;
  if (reading.valveOpen !== before.lastOpen && reading.pressureGauge_bar === undefined) {
    return before.changesLogged + 0.3 * (1 - before.changesLogged);
  }
  const passed_h = model.spans.openBetween_h(before.last_epochMs, reading.at_epochMs);
  const wholeWindow = reading.valveOpen === before.lastOpen && passed_h >= 1 && !before.lastOpen;
  return wholeWindow && model.hasWindows ? 0.85 * before.changesLogged : before.changesLogged;
}

/**
 * The state after one more row. Pure: model, state and row make the next state. Rows come in order of time; one that is not
 * later than the last one changes nothing but the valve's state.
 */
export function stepSupply(model: SupplyModel, state: SupplyState, reading: SupplyReading): SupplyState {
  const gathered = gather(model, state.gathered, reading);
  const byEye = reading.byEye === true && reading.pressureGauge_bar !== undefined;
  const next = { ...state, gathered };
  return byEye ||
    reading.at_epochMs - state.at_epochMs >= gatherSpan_ms ||
    state.pressureRead_epochMs === undefined
    ? digested(model, next, reading.at_epochMs)
    : next;
}

function gather(model: SupplyModel, before: GatheredReadings, reading: SupplyReading): GatheredReadings {
  const { open_h, guessedOpen_h } =
    reading.at_epochMs > before.last_epochMs
      ? openHours(
          model,
          { at_epochMs: before.last_epochMs, valveOpen: before.lastOpen },
          reading,
          before.changesLogged > 0.5,
        )
      : { open_h: 0, guessedOpen_h: 0 };
  const { pressureGauge_bar, temperature_degC, vesselMass_g } = reading;
  return {
    last_epochMs: Math.max(before.last_epochMs, reading.at_epochMs),
    lastOpen: reading.valveOpen,
    changesLogged: changesLoggedAfter(model, before, reading),
    lastPressure_bar: pressureGauge_bar ?? before.lastPressure_bar,
    pressureStep_bar: pressureStepAfter(before, pressureGauge_bar),
    open_h: before.open_h + open_h,
    guessedOpen_h: before.guessedOpen_h + guessedOpen_h,
    pressureSum_bar: before.pressureSum_bar + (pressureGauge_bar ?? 0),
    pressureCount: before.pressureCount + Number(pressureGauge_bar !== undefined),
    temperatureSum_degC: before.temperatureSum_degC + (temperature_degC ?? 0),
    temperatureCount: before.temperatureCount + Number(temperature_degC !== undefined),
    massSum_g: before.massSum_g + (vesselMass_g ?? 0),
    massCount: before.massCount + Number(vesselMass_g !== undefined),
    byEye: before.byEye || (reading.byEye === true && pressureGauge_bar !== undefined),
  };
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
      ? gather(model, gathered, {
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
  const judged = judge(model, state, carried, pressure_bar, noise_bar, at_epochMs, gathered.byEye);
  const share_ratio = evidence.share_ratio / (1 + (gathered.pressureStep_bar / evidence.coarseStep_bar) ** 2);
  const forget = Math.exp(-elapsed_h / lagMemory_h);
  const hypotheses = carried.map((hypothesis) => {
    const { priorOdds_ln } = hypothesis;
    let logWeight = priorOdds_ln + forget * (hypothesis.logWeight - priorOdds_ln);
    if (pressure_bar !== undefined && judged.believed) {
      const expected = expectedGauge(model, hypothesis.mean);
      const { logLikelihood } = correct(hypothesis.mean, hypothesis.covariance, componentCount, {
        innovation: pressure_bar - expected.gauge_bar,
        gradient: expected.gradient,
        noiseVariance: noise_bar ** 2,
      });
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

interface Movable extends SupplyHypothesis {
  readonly mean: number[];
  readonly covariance: number[];
}

function copied(hypothesis: SupplyHypothesis): { mean: number[]; covariance: number[] } {
  return { mean: [...hypothesis.mean], covariance: [...hypothesis.covariance] };
}

/**
 * A reading far from what every belief expects is passed over, as a dropout would be. When it keeps saying the same, it is right and
 * the beliefs are wrong: how much has gone is opened up until the reading is an ordinary one.
 */
function judge(
  model: SupplyModel,
  state: SupplyState,
  carried: readonly Movable[],
  pressure_bar: number | undefined,
  noise_bar: number,
  at_epochMs: number,
  byEye: boolean,
): {
  readonly believed: boolean;
  readonly surprise: number;
  readonly refused: SupplyState["refused"];
} {
  const calm = { count: 0, since_epochMs: at_epochMs, innovation_bar: 0 };
  if (pressure_bar === undefined) return { believed: false, surprise: 0, refused: state.refused };
  const innovationOf = (hypothesis: Movable) => {
    const expected = expectedGauge(model, hypothesis.mean);
    const variance = varianceAlong(hypothesis.covariance, componentCount, expected.gradient) + noise_bar ** 2;
    const innovation_bar = pressure_bar - expected.gauge_bar;
    return { innovation_bar, deviations: innovation_bar / Math.sqrt(variance), gradient: expected.gradient };
  };
  // As good as always the likeliest belief expects the reading, and the others need not be asked.
  const likeliest = carried.reduce((best, one) => (one.logWeight > best.logWeight ? one : best));
  const byLikeliest = innovationOf(likeliest);
  if (Math.abs(byLikeliest.deviations) <= gate.deviations) {
    return { believed: true, surprise: byLikeliest.deviations, refused: calm };
  }
  const innovations = carried.map(innovationOf);
  const nearest = innovations.reduce((best, one) =>
    Math.abs(one.deviations) < Math.abs(best.deviations) ? one : best,
  );
  if (Math.abs(nearest.deviations) <= gate.deviations) {
    return { believed: true, surprise: nearest.deviations, refused: calm };
  }
  const { refused } = state;
  const sameSide =
    refused.count > 0 && Math.sign(refused.innovation_bar) === Math.sign(nearest.innovation_bar);
  const since_epochMs = sameSide ? refused.since_epochMs : at_epochMs;
  const count = sameSide ? refused.count + 1 : 1;
  const first = state.pressureRead_epochMs === undefined;
  const lasting = at_epochMs - since_epochMs >= gate.lasting_ms;
  if (!first && !(lasting && count >= (byEye ? gate.byEyeCount : gate.count))) {
    return {
      believed: false,
      surprise: nearest.deviations,
      refused: { count, since_epochMs, innovation_bar: nearest.innovation_bar },
    };
  }
  carried.forEach((hypothesis, k) => {
    const found = innovations[k];
    const slope = found?.gradient[c.removed] ?? 0;
    if (found === undefined || slope === 0) return;
    addVariance(hypothesis.covariance, componentCount, c.removed, (found.innovation_bar / slope) ** 2);
  });
  return { believed: true, surprise: nearest.deviations, refused: calm };
}

/** The scale's own zero is not known: the first weighing fixes it, later ones tell what has gone since, air included. */
function weigh(model: SupplyModel, hypothesis: Movable, mass_g: number, hasScale: boolean): void {
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

function usedWindows(model: SupplyModel, state: SupplyState, at_epochMs: number, open_h: number): WindowUse {
  const { use } = state;
  const total = {
    ...use,
    open_h: use.open_h + open_h,
    scheduled_h: use.scheduled_h + model.spans.openBetween_h(state.at_epochMs, at_epochMs),
  };
  if (at_epochMs - use.since_epochMs < 24 * hour_ms) return total;
  const days = (at_epochMs - use.since_epochMs) / (24 * hour_ms);
  const fresh = { since_epochMs: at_epochMs, open_h: 0, scheduled_h: 0 };
  // A vessel that has not begun to dose says nothing about how it will be used.
  if (total.scheduled_h < 0.5 || (!state.hasDosed && total.open_h === 0)) return { ...use, ...fresh };
  const today = total.open_h / total.scheduled_h;
  const { worth_days, memory_days } = useSpread.windowUse;
  const counted = Math.min(memory_days, use.days + days);
  const gain = Math.min(1, days / (counted + (model.hasWindows ? worth_days : 1)));
  const miss = today - use.mean_ratio;
  return {
    ...fresh,
    mean_ratio: use.mean_ratio + gain * miss,
    variance: use.variance + gain * (miss * miss * days - use.variance),
    days: counted,
  };
}
