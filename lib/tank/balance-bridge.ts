import { normalQuantile80 } from "../numerics/normal-distribution.js";
import { normalSpread, type NormalSpread } from "../numerics/normal-spread.js";
import type { LightUptake } from "./light-uptake.js";
import type { NightKnowledge } from "./morning-rise.js";
import type { Aeration } from "./tank-learning-state.js";

/** Gas and light of a stretch in which the probe said nothing. */
export interface BridgedSpan {
  readonly until_epochMs: number;
  readonly gas: "on" | "off" | "not known";
  readonly lightsAreOn: boolean;
  readonly aeration: Aeration;
}

/** The last estimate while the probe spoke, on the scale of what was learnt. */
export interface TrustedCo2 {
  readonly at_epochMs: number;
  readonly co2_mgPerL: number;
  readonly co2Sigma_ln: number;
}

/** What nights and mornings taught, all on one scale. */
export interface BridgeKnowledge {
  readonly nights: Readonly<Record<Aeration, NightKnowledge | undefined>>;
  /** Undefined before a morning taught it. */
  readonly dose: { readonly dose_mgPerLPerH: number; readonly doseSigma_ln: number } | undefined;
  readonly uptake: LightUptake | undefined;
}

export type BridgedCo2 =
  | {
      readonly kind: "by balance";
      readonly silentSince_epochMs: number;
      readonly co2_mgPerL: number;
      readonly co2Low80_mgPerL: number;
      readonly co2High80_mgPerL: number;
    }
  | { readonly kind: "cannot be told"; readonly silentSince_epochMs: number; readonly because: string };

/** Longer, and food, animals and a hand in the tank may have done anything. Judgement. */
export const bridgedAtMost_h = 6;
/** What a stirred body with constant terms is off by, for each hour. Judgement. */
const modelSigma_lnPerH = 0.05;
/** What plants take in light where the tank has not taught it: 0.25 to 1.5 mg/L an hour. Common practice, no source. */
const usualUptake = { uptake_mgPerLPerH: 0.6, uptakeSigma_ln: 0.7 };
/** Below this no life leaves a tank. Judgement. */
const least_mgPerL = 0.3;
const hour_ms = 3_600_000;

/**
 * CO2 of a tank whose probe is silent, from its last estimate by dC/dt = dose - k (C - Csettled) - uptake, with a spread that
 * grows by what is not known of each. It bridges a silence for the eye; it is no reading, and nothing may be opened on it.
 * Where it is not known whether gas flowed, the lower end is that without and the upper that with it.
 * @param spans  without a gap from the last estimate on, in order
 */
export function bridgedCo2(
  last: TrustedCo2,
  spans: readonly BridgedSpan[],
  known: BridgeKnowledge,
): BridgedCo2 {
  const silentSince_epochMs = last.at_epochMs;
  const silent_h = ((spans.at(-1)?.until_epochMs ?? silentSince_epochMs) - silentSince_epochMs) / hour_ms;
  const cannotBeTold = (because: string): BridgedCo2 => ({
    kind: "cannot be told",
    silentSince_epochMs,
    because,
  });
  if (silent_h > bridgedAtMost_h)
    return cannotBeTold(`the probe is silent for more than ${bridgedAtMost_h} h`);
  if (spans.some(({ aeration }) => known.nights[aeration] === undefined)) {
    return cannotBeTold("no night has taught yet how fast the tank loses CO2");
  }
  if (known.dose === undefined && spans.some(({ gas }) => gas !== "off")) {
    return cannotBeTold("gas flowed, or may have, and no morning has taught yet how much it brings");
  }
  const without = spreadOf(last, spans, known, silent_h, "off");
  const isKnown = spans.every(({ gas }) => gas !== "not known");
  const withGas = isKnown ? without : spreadOf(last, spans, known, silent_h, "on");
  return {
    kind: "by balance",
    silentSince_epochMs,
    co2_mgPerL: Math.sqrt(without.quantile(0.5) * withGas.quantile(0.5)),
    co2Low80_mgPerL: without.quantile(0.1),
    co2High80_mgPerL: withGas.quantile(0.9),
  };
}

function spreadOf(
  last: TrustedCo2,
  spans: readonly BridgedSpan[],
  { nights, dose, uptake }: BridgeKnowledge,
  silent_h: number,
  unknownGas: "on" | "off",
): NormalSpread {
  const taken = uptakeOf(uptake);
  return normalSpread(6, ([start = 0, a = 0, b = 0, c = 0, d = 0, model = 0]) => {
    const dosed_mgPerLPerH = dose === undefined ? 0 : dose.dose_mgPerLPerH * Math.exp(dose.doseSigma_ln * c);
    const taken_mgPerLPerH = taken.uptake_mgPerLPerH * Math.exp(taken.uptakeSigma_ln * d);
    let co2_mgPerL = last.co2_mgPerL * Math.exp(last.co2Sigma_ln * start);
    let from_epochMs = last.at_epochMs;
    for (const { until_epochMs, gas, lightsAreOn, aeration } of spans) {
      const night = nights[aeration];
      if (night === undefined) continue;
      const k_perH = night.k_perH * Math.exp(night.kSigma_ln * a);
      const settled_mgPerL = night.settledCo2_mgPerL * Math.exp(night.settledSigma_ln * b);
      const flows = (gas === "not known" ? unknownGas : gas) === "on";
      const gain_mgPerLPerH = (flows ? dosed_mgPerLPerH : 0) - (lightsAreOn ? taken_mgPerLPerH : 0);
      const rest_mgPerL = settled_mgPerL + gain_mgPerLPerH / k_perH;
      const left_ratio = Math.exp((-k_perH * (until_epochMs - from_epochMs)) / hour_ms);
      co2_mgPerL = Math.max(least_mgPerL, rest_mgPerL + (co2_mgPerL - rest_mgPerL) * left_ratio);
      from_epochMs = until_epochMs;
    }
    return co2_mgPerL * Math.exp(modelSigma_lnPerH * silent_h * model);
  });
}

function uptakeOf(uptake: LightUptake | undefined): typeof usualUptake {
  if (uptake?.kind !== "estimate") return usualUptake;
  const { uptakeLow80_mgPerLPerH, uptakeHigh80_mgPerLPerH, uptake_mgPerLPerH } = uptake;
  const width_ln = Math.log(uptakeHigh80_mgPerLPerH / Math.max(uptakeLow80_mgPerLPerH, 0.01));
  return { uptake_mgPerLPerH, uptakeSigma_ln: width_ln / (2 * normalQuantile80) };
}
