import { whiten } from "../numerics/cholesky.js";
import { fitLeastSquares } from "../numerics/least-squares.js";
import { normalQuantile80 } from "../numerics/normal-distribution.js";
import { binReadings, noiseFactor, usualSlowNoise } from "./relaxation-fit.js";
import type { Co2Reading, SlowNoise } from "./relaxation-fit.js";

/** From the opening to the lights: only then is the dose alone, without the plants' uptake. */
export interface MorningRecord {
  readonly openedAt_epochMs: number;
  readonly until_epochMs: number;
  readonly readings: readonly Co2Reading[];
}

/** What the nights say, as medians and standard deviations of logarithms; the settled CO2 on the readings' scale. */
export interface NightKnowledge {
  readonly k_perH: number;
  readonly kSigma_ln: number;
  readonly settledCo2_mgPerL: number;
  readonly settledSigma_ln: number;
}

export type MorningRise =
  | {
      readonly kind: "fitted";
      /** What the gas adds to the tank, on the scale of the readings. */
      readonly dose_mgPerLPerH: number;
      readonly doseSigma_ln: number;
      /** Correlation of ln(dose) with ln k: a quicker exchange needs a larger dose for the same rise. */
      readonly doseWithK: number;
      /** The same with ln of the settled CO2: the higher the rest, the smaller the dose. */
      readonly doseWithSettled: number;
      readonly doseLow80_mgPerLPerH: number;
      readonly doseHigh80_mgPerLPerH: number;
      readonly span_h: number;
    }
  | {
      readonly kind: "rejected";
      readonly reason: "too short" | "too few readings" | "no rise" | "no steady rise";
      readonly because: string;
    };

const millisecondsPerHour = 3_600_000;
/** Tube and diffuser fill, the layers mix and the probe follows. */
const settling_ms = 0.5 * millisecondsPerHour;
const least = { span_h: 0.45, bins: 3, misfit_ratio: 5 };
const bin_h = 1 / 6;
/** What a stirred body is off by against layers and a lagging probe, as the simulated mornings show. */
const modelSigma_ln = 0.04;

/**
 * Effective dose from the rise between opening and lights: dC/dt = dose - k (C - Csettled). k and the settled CO2 come
 * from the nights and keep their uncertainty.
 * @see [Marquardt1963]
 */
export function fitMorningRise(
  morning: MorningRecord,
  nights: NightKnowledge,
  slow: SlowNoise = usualSlowNoise,
): MorningRise {
  const from_epochMs = morning.openedAt_epochMs + settling_ms;
  const span_h = (morning.until_epochMs - from_epochMs) / millisecondsPerHour;
  if (span_h < least.span_h) {
    return {
      kind: "rejected",
      reason: "too short",
      because: `the gas opens ${((morning.until_epochMs - morning.openedAt_epochMs) / millisecondsPerHour).toFixed(1)} h before the lights; one hour is needed`,
    };
  }
  const { bins } = binReadings(
    morning.readings,
    { from_epochMs, until_epochMs: morning.until_epochMs },
    bin_h,
  );
  const first = bins[0];
  if (first === undefined || bins.length < least.bins) {
    return {
      kind: "rejected",
      reason: "too few readings",
      because: `readings in ${bins.length} spans of ten minutes; ${least.bins} are needed`,
    };
  }
  const factor = noiseFactor(bins, slow);
  const lnK0 = Math.log(nights.k_perH);
  const lnSettled0 = Math.log(nights.settledCo2_mgPerL);
  const kSigma = Math.max(nights.kSigma_ln, 1e-3);
  const settledSigma = Math.max(nights.settledSigma_ln, 1e-3);
  const fit = fitLeastSquares({
    start: [lnK0 + lnSettled0, first.lnCo2, lnK0, lnSettled0],
    minimum: [Math.log(1e-3), Math.log(0.02), lnK0 - 4 * kSigma, lnSettled0 - 4 * settledSigma],
    maximum: [Math.log(500), Math.log(1000), lnK0 + 4 * kSigma, lnSettled0 + 4 * settledSigma],
    residuals: ([lnDose = 0, lnStart = 0, lnK = 0, lnSettled = 0]) => {
      const k_perH = Math.exp(lnK);
      const plateau_mgPerL = Math.exp(lnSettled) + Math.exp(lnDose) / k_perH;
      const raw = bins.map((bin) => {
        const decay = Math.exp(-k_perH * (bin.exchangeTime_h - first.exchangeTime_h));
        return bin.lnCo2 - Math.log(plateau_mgPerL + (Math.exp(lnStart) - plateau_mgPerL) * decay);
      });
      return [...whiten(factor, raw), (lnK - lnK0) / kSigma, (lnSettled - lnSettled0) / settledSigma];
    },
  });
  const dose = fit.kind === "fitted" ? fit.parameters[0] : undefined;
  const misfit_ratio = fit.kind === "fitted" ? fit.sumOfSquares / Math.max(1, bins.length - 1) : Infinity;
  if (dose === undefined || misfit_ratio > least.misfit_ratio) {
    return {
      kind: "rejected",
      reason: "no steady rise",
      because: "the CO2 does not rise as by one steady dose: flow that changes, or plants in light already",
    };
  }
  // Half of the dose or more in doubt: it cannot be told from none.
  if (dose.atBound || dose.sigma > 0.6) {
    return {
      kind: "rejected",
      reason: "no rise",
      because: "the rise is too small against the readings' noise",
    };
  }
  const dose_mgPerLPerH = Math.exp(dose.value);
  const doseSigma_ln = Math.hypot(dose.sigma, modelSigma_ln);
  const correlation = fit.kind === "fitted" ? (fit.correlation[0] ?? []) : [];
  const share = dose.sigma / doseSigma_ln;
  return {
    kind: "fitted",
    dose_mgPerLPerH,
    doseSigma_ln,
    doseWithK: share * (correlation[2] ?? 0),
    doseWithSettled: share * (correlation[3] ?? 0),
    doseLow80_mgPerLPerH: dose_mgPerLPerH * Math.exp(-normalQuantile80 * doseSigma_ln),
    doseHigh80_mgPerLPerH: dose_mgPerLPerH * Math.exp(normalQuantile80 * doseSigma_ln),
    span_h,
  };
}

/** Gas that flows to the tank, as a median and the standard deviation of its logarithm. */
export interface GasFlow {
  readonly flow_gPerH: number;
  readonly flowSigma_ln: number;
}

export interface DoseEfficiency {
  /** Share of the gas that dissolves and stays. */
  readonly efficiency_ratio: number;
  readonly efficiencyLow80_ratio: number;
  readonly efficiencyHigh80_ratio: number;
  readonly efficiencySigma_ln: number;
  /** The whole interval lies above 1: flow, volume, hardness test or probe is wrong. */
  readonly impossible: boolean;
}

/**
 * Share of the flow that dissolves: dose x volume / flow. The readings' common factor does not cancel here.
 * @param tank.factorSigma_ln of all readings together: hardness test and probe offset
 */
export function doseEfficiency(
  rise: Pick<Extract<MorningRise, { kind: "fitted" }>, "dose_mgPerLPerH" | "doseSigma_ln">,
  flow: GasFlow,
  tank: { readonly volume_L: number; readonly volumeSigma_ln: number; readonly factorSigma_ln: number },
): DoseEfficiency {
  const efficiency_ratio = (rise.dose_mgPerLPerH * tank.volume_L) / (flow.flow_gPerH * 1000);
  const sigma_ln = Math.hypot(rise.doseSigma_ln, flow.flowSigma_ln, tank.volumeSigma_ln, tank.factorSigma_ln);
  const low_ratio = efficiency_ratio * Math.exp(-normalQuantile80 * sigma_ln);
  return {
    efficiency_ratio,
    efficiencyLow80_ratio: low_ratio,
    efficiencyHigh80_ratio: efficiency_ratio * Math.exp(normalQuantile80 * sigma_ln),
    efficiencySigma_ln: sigma_ln,
    impossible: low_ratio > 1,
  };
}
