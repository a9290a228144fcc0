import { drawNormal } from "../../lib/simulation/random-source.js";
import { advanceTank } from "../../lib/simulation/simulated-tank.js";
import type { SimulatedTankState } from "../../lib/simulation/simulated-tank.js";
import { closedProof } from "../../lib/tank/closed-proof.js";
import type { ClosedProof } from "../../lib/tank/closed-proof.js";
import { gasExchangeAt_perH } from "../../lib/tank/gas-exchange.js";
import { leadTime } from "../../lib/tank/lead-time.js";
import { fitMorningRise } from "../../lib/tank/morning-rise.js";
import { fitNight } from "../../lib/tank/night-fit.js";
import type { NightFit } from "../../lib/tank/night-fit.js";
import { runningExchange } from "../../lib/tank/running-exchange.js";
import {
  drawNight,
  holdingDose_mgPerLPerH,
  minuteInjection_mol,
  nightStart_epochMs,
  readingFactor,
  runMorning,
  runNight,
} from "./simulated-nights.js";

const hour_ms = 3_600_000;

/** One simulated night against its fit. */
export interface NightRow {
  readonly seed: number;
  /** The true k times the night. */
  readonly nightOverK_ratio: number;
  readonly kind: NightFit["kind"];
  /** Fitted k over true k, less one; of a night without a number NaN. */
  readonly error_ratio: number;
  readonly held80: boolean;
  /** By the 90 % interval, or by the bounds. */
  readonly held90: boolean;
}

export function nightRow(seed: number): NightRow {
  const { night, random } = drawNight(seed);
  const { readings, truth } = runNight(night, random);
  const until_epochMs = nightStart_epochMs + night.night_h * hour_ms;
  const fit = fitNight({
    from_epochMs: nightStart_epochMs,
    until_epochMs,
    readings,
    waterChanges_epochMs: [],
  });
  const row = { seed, nightOverK_ratio: truth.k_perH * truth.night_h, kind: fit.kind };
  const within = (low: number, high: number): boolean => truth.k_perH >= low && truth.k_perH <= high;
  switch (fit.kind) {
    case "fitted":
      return {
        ...row,
        error_ratio: fit.k_perH / truth.k_perH - 1,
        held80: within(fit.kLow80_perH, fit.kHigh80_perH),
        held90: within(fit.kLow90_perH, fit.kHigh90_perH),
      };
    case "bounded":
      return { ...row, error_ratio: NaN, held80: false, held90: within(fit.kAtLeast_perH, fit.kAtMost_perH) };
    case "rejected":
      return { ...row, error_ratio: NaN, held80: false, held90: false };
  }
}

export interface NightSummary {
  readonly nights: number;
  readonly numbers: number;
  readonly bounds: number;
  readonly rejected: number;
  readonly within15: number;
  readonly within35: number;
  readonly held80: number;
  readonly held90: number;
  readonly boundsHeld: number;
  /** 95 % of the numbers are at most so far off. */
  readonly error95_ratio: number;
}

export function summarise(rows: readonly NightRow[]): NightSummary {
  const numbers = rows.filter(({ kind }) => kind === "fitted");
  const bounds = rows.filter(({ kind }) => kind === "bounded");
  const errors = numbers.map(({ error_ratio }) => Math.abs(error_ratio)).sort((a, b) => a - b);
  const share = (count: number, of: number): number => (of === 0 ? NaN : count / of);
  return {
    nights: rows.length,
    numbers: numbers.length,
    bounds: bounds.length,
    rejected: rows.length - numbers.length - bounds.length,
    within15: share(errors.filter((error) => error <= 0.15).length, errors.length),
    within35: share(errors.filter((error) => error <= 0.35).length, errors.length),
    held80: share(numbers.filter(({ held80 }) => held80).length, numbers.length),
    held90: share(numbers.filter(({ held90 }) => held90).length, numbers.length),
    boundsHeld: share(bounds.filter(({ held90 }) => held90).length, bounds.length),
    error95_ratio: errors[Math.min(errors.length - 1, Math.floor(0.95 * errors.length))] ?? NaN,
  };
}

/** A tank learnt from three nights and one morning, and how long it then really takes to the target. */
export interface LeadRow {
  /** Learnt over true dose, both on the readings' scale, as a logarithm; over its stated sigma. */
  readonly doseError_ln: number;
  readonly doseSigma_ln: number;
  readonly lead_h: number;
  readonly leadLow80_h: number;
  readonly leadHigh80_h: number;
  readonly trueLead_h: number;
}

/** As lib/tank/running-exchange.ts expects it. */
const nightScatter_ln = 0.08;

/** @returns undefined where the nights gave no number or the morning no dose */
export function leadRow(seed: number): LeadRow | undefined {
  const { night, random } = drawNight(seed);
  const dose_mgPerLPerH = holdingDose_mgPerLPerH(night);
  // People, food and surface differ from night to night.
  const another = (): typeof night => ({
    ...night,
    tank: {
      ...night.tank,
      gasExchange_perH: night.tank.gasExchange_perH * Math.exp(nightScatter_ln * drawNormal(random)),
    },
  });
  const nights = [0, 1, 2].map((index) => {
    const { readings } = runNight(another(), random);
    const fit = fitNight({
      from_epochMs: nightStart_epochMs,
      until_epochMs: nightStart_epochMs + night.night_h * hour_ms,
      readings,
      waterChanges_epochMs: [],
    });
    return { at_epochMs: nightStart_epochMs + index * 24 * hour_ms, fit };
  });
  const running = runningExchange(nights);
  const last = nights.flatMap(({ fit }) => (fit.kind === "fitted" ? [fit] : [])).at(-1);
  if (running.kind !== "estimate" || last === undefined) return undefined;
  const known = {
    k_perH: gasExchangeAt_perH(running.k_perH, {
      temperature_degC: running.temperature_degC,
      to_degC: last.temperature_degC ?? running.temperature_degC,
    }),
    kSigma_ln: running.nextNightSigma_ln,
    settledCo2_mgPerL: last.settledCo2_mgPerL,
    settledSigma_ln: last.settledSigma_ln,
  };
  const lead_h = 2;
  const today = another();
  const { readings } = runMorning(today, random, { lead_h, dose_mgPerLPerH });
  const until_epochMs = nightStart_epochMs + lead_h * hour_ms;
  const rise = fitMorningRise({ openedAt_epochMs: nightStart_epochMs, until_epochMs, readings }, known);
  if (rise.kind !== "fitted") return undefined;
  const factor = readingFactor(night);
  const target_mgPerL = 0.6 * (dose_mgPerLPerH / night.tank.gasExchange_perH);
  const start_mgPerL = 0.1 * target_mgPerL + last.settledCo2_mgPerL / factor;
  const lead = leadTime(
    {
      ...known,
      dose_mgPerLPerH: rise.dose_mgPerLPerH,
      doseSigma_ln: rise.doseSigma_ln,
      doseWithK: rise.doseWithK,
      doseWithSettled: rise.doseWithSettled,
    },
    { kind: "CO2", co2_mgPerL: target_mgPerL * factor },
    start_mgPerL * factor,
  );
  if (lead.kind !== "reached") return undefined;
  let state: SimulatedTankState = {
    co2_mgPerL: start_mgPerL,
    temperature_degC: night.tank.heater.set_degC,
    heaterOn: false,
  };
  let minutes = 0;
  while (state.co2_mgPerL < target_mgPerL && minutes < 6000) {
    state = advanceTank(today.tank, state, {
      duration_s: 60,
      injectedCo2_mol: minuteInjection_mol(night.tank, dose_mgPerLPerH),
      lightsOn: false,
      aerating: false,
      room_degC: night.room_degC,
      roomCo2_ppm: night.room.morning_ppm,
    });
    minutes += 1;
  }
  return {
    doseError_ln: Math.log(rise.dose_mgPerLPerH / (dose_mgPerLPerH * factor)),
    doseSigma_ln: rise.doseSigma_ln,
    lead_h: lead.lead_h,
    leadLow80_h: lead.leadLow80_h,
    leadHigh80_h: lead.leadHigh80_h,
    trueLead_h: minutes / 60,
  };
}

/** A night under watch, looked at every three quarters of an hour until it is told. */
export interface WatchRow {
  readonly k_perH: number;
  readonly kind: ClosedProof["kind"];
  readonly told_h: number;
}

export function watchRow(seed: number, leak_ratio: number): WatchRow {
  const { night, random } = drawNight(seed);
  const { readings, truth } = runNight(night, random, leak_ratio);
  const factor = readingFactor(night);
  const rest_mgPerL = truth.airCo2_mgPerL + truth.respiration_mgPerLPerH / truth.k_perH;
  // What earlier nights would have taught, with the errors that they have.
  const known = {
    k_perH: truth.k_perH * Math.exp(0.1 * drawNormal(random)),
    kSigma_ln: 0.1,
    settledCo2_mgPerL: rest_mgPerL * factor * Math.exp(0.2 * drawNormal(random)),
    settledSigma_ln: 0.2,
    dose_mgPerLPerH:
      seed % 2 === 0
        ? undefined
        : holdingDose_mgPerLPerH(night) * factor * Math.exp(0.1 * drawNormal(random)),
  };
  const until_epochMs = nightStart_epochMs + night.night_h * hour_ms;
  let told_h = 1.25;
  for (; ; told_h += 0.75) {
    const now_epochMs = Math.min(until_epochMs, nightStart_epochMs + told_h * hour_ms);
    const { kind } = closedProof(
      { from_epochMs: nightStart_epochMs, now_epochMs, until_epochMs, readings },
      known,
    );
    if (kind === "gas stopped" || kind === "gas did not stop" || now_epochMs === until_epochMs) {
      return { k_perH: truth.k_perH, kind, told_h };
    }
  }
}

export function seeds(first: number, count: number): readonly number[] {
  return Array.from({ length: count }, (_, index) => first + index);
}
