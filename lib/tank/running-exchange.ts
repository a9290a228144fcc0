import { normalQuantile80, normalQuantile90 } from "../numerics/normal-distribution.js";
import { gasExchangeAt_perH } from "./gas-exchange.js";
import { median } from "./relaxation-fit.js";
import type { NightFit } from "./night-fit.js";

export interface DatedNight {
  readonly at_epochMs: number;
  readonly fit: NightFit;
}

/** How the gas exchange changed, and what usually does that. */
export interface ExchangeChange {
  readonly kind: "slower" | "faster";
  /** The first night of the new regime. */
  readonly since_epochMs: number;
  /** New over old. */
  readonly ratio: number;
  readonly usualCauses: string;
}

export interface RunningExchange {
  readonly kind: "estimate";
  readonly k_perH: number;
  /** Of the estimate, and of what the next night may show: the nights' own scatter goes in. */
  readonly kLow80_perH: number;
  readonly kHigh80_perH: number;
  readonly kLow90_perH: number;
  readonly kHigh90_perH: number;
  readonly nextNightSigma_ln: number;
  readonly temperature_degC: number;
  readonly nights: number;
  /** Nights that stand so far off that they do not count. */
  readonly oddNights_epochMs: readonly number[];
  readonly change: ExchangeChange | undefined;
  readonly latest_epochMs: number;
}

export type ExchangeRecord =
  | RunningExchange
  | { readonly kind: "bounded"; readonly kAtMost_perH: number; readonly nights: number }
  | { readonly kind: "none" };

/** Gas exchange is compared and stated at this temperature; nights without a thermometer are taken as they are. */
const reference_degC = 25;
/** Nights that count, at most. */
const longestMemory = 14;
/**
 * People, food and surface differ from night to night: by so much where few nights tell, worth three nights, and never less than
 * the second. Common practice, no source.
 */
const usualScatter = { scatter_ln: 0.08, nights: 3, least_ln: 0.04 };
const oddNightSigmas = 3.5;
/** A change is believed from two nights on, beyond so many standard deviations and so large a factor. */
const changeLimit = { nights: 2, sigmas: 3.5, factor_ln: Math.log(1.2) };

interface Night {
  readonly at_epochMs: number;
  readonly lnK: number;
  readonly sigma_ln: number;
}

interface Mean {
  readonly lnK: number;
  readonly sigma_ln: number;
  readonly scatter_ln: number;
  readonly odd: readonly Night[];
  readonly counted: number;
}

function weightedMean(nights: readonly Night[], scatter_ln: number): { lnK: number; sigma_ln: number } {
  let weights = 0;
  let sum = 0;
  for (const { lnK, sigma_ln } of nights) {
    const weight = 1 / (sigma_ln ** 2 + scatter_ln ** 2);
    weights += weight;
    sum += weight * lnK;
  }
  return { lnK: sum / weights, sigma_ln: Math.sqrt(1 / weights) };
}

/** Mean with the nights' own scatter by the method of DerSimonian and Laird, odd nights set aside. @see [DerSimonianLaird1986] */
function robustMean(nights: readonly Night[]): Mean {
  const centre = median(nights.map(({ lnK }) => lnK));
  const spread_ln = Math.max(
    1.4826 * median(nights.map(({ lnK }) => Math.abs(lnK - centre))),
    usualScatter.scatter_ln,
  );
  const isOdd = ({ lnK, sigma_ln }: Night): boolean =>
    nights.length >= 3 && Math.abs(lnK - centre) > oddNightSigmas * Math.hypot(spread_ln, sigma_ln);
  const even = nights.filter((night) => !isOdd(night));
  const weights = even.map(({ sigma_ln }) => 1 / sigma_ln ** 2);
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const plain = weightedMean(even, 0).lnK;
  const Q = even.reduce((sum, { lnK, sigma_ln }) => sum + ((lnK - plain) / sigma_ln) ** 2, 0);
  const squares = weights.reduce((sum, weight) => sum + weight ** 2, 0);
  const degrees = even.length - 1;
  const shown2 = degrees === 0 ? 0 : Math.max(0, (Q - degrees) / (total - squares / total));
  const scatter2 =
    (degrees * shown2 + usualScatter.nights * usualScatter.scatter_ln ** 2) / (degrees + usualScatter.nights);
  const scatter_ln = Math.max(usualScatter.least_ln, Math.sqrt(scatter2));
  return {
    ...weightedMean(even, scatter_ln),
    scatter_ln,
    odd: nights.filter(isOdd),
    counted: even.length,
  };
}

/** The row of two or more last nights that stands off all that was before most surely, each of them by half of the change at least. */
function changeIn(
  nights: readonly Night[],
): { readonly first: number; readonly ratio_ln: number } | undefined {
  let surest: { readonly first: number; readonly ratio_ln: number } | undefined;
  let surestSigmas = changeLimit.sigmas;
  for (let first = 3; first <= nights.length - changeLimit.nights; first += 1) {
    const before = robustMean(nights.slice(0, first));
    const after = nights.slice(first);
    const mean = weightedMean(after, before.scatter_ln);
    const ratio_ln = mean.lnK - before.lnK;
    const sigmas = Math.abs(ratio_ln) / Math.hypot(mean.sigma_ln, before.sigma_ln);
    const all = after.every(({ lnK }) => (lnK - before.lnK) / ratio_ln > 0.5);
    if (all && Math.abs(ratio_ln) > changeLimit.factor_ln && sigmas > surestSigmas) {
      surest = { first, ratio_ln };
      surestSigmas = sigmas;
    }
  }
  return surest;
}

const usualCauses = {
  slower: "a film on the surface, a lid, a lower water return or a clogged filter",
  faster: "more movement of the surface: a new or cleaned filter, an air stone, a lower water level",
} as const;

/**
 * Gas exchange over the last nights, 1/h at 25 degC, with intervals that hold for the next night too. A single odd night
 * is set aside; two in a row are a change, which is named, and only nights from then on count.
 * @param nights in any order; nights whose fit was rejected are passed over
 * @see [DerSimonianLaird1986]
 */
export function runningExchange(nights: readonly DatedNight[]): ExchangeRecord {
  const ordered = [...nights].sort((a, b) => a.at_epochMs - b.at_epochMs);
  const fitted = ordered
    .flatMap(({ at_epochMs, fit }): Night[] => {
      if (fit.kind !== "fitted") return [];
      const k_perH =
        fit.temperature_degC === undefined
          ? fit.k_perH
          : gasExchangeAt_perH(fit.k_perH, {
              temperature_degC: fit.temperature_degC,
              to_degC: reference_degC,
            });
      return [{ at_epochMs, lnK: Math.log(k_perH), sigma_ln: fit.kSigma_ln }];
    })
    .slice(-longestMemory);
  const latest = fitted.at(-1);
  if (latest === undefined) {
    const bounds = ordered
      .flatMap(({ fit }) => (fit.kind === "bounded" ? [fit.kAtMost_perH] : []))
      .slice(-longestMemory);
    return bounds.length === 0
      ? { kind: "none" }
      : { kind: "bounded", kAtMost_perH: median(bounds), nights: bounds.length };
  }
  const changed = changeIn(fitted);
  const mean = robustMean(changed === undefined ? fitted : fitted.slice(changed.first));
  const next_ln = Math.hypot(mean.sigma_ln, mean.scatter_ln);
  const at = (sigmas: number): number => Math.exp(mean.lnK + sigmas * next_ln);
  return {
    kind: "estimate",
    k_perH: Math.exp(mean.lnK),
    kLow80_perH: at(-normalQuantile80),
    kHigh80_perH: at(normalQuantile80),
    kLow90_perH: at(-normalQuantile90),
    kHigh90_perH: at(normalQuantile90),
    nextNightSigma_ln: next_ln,
    temperature_degC: reference_degC,
    nights: mean.counted,
    oddNights_epochMs: mean.odd.map(({ at_epochMs }) => at_epochMs),
    change:
      changed === undefined
        ? undefined
        : {
            kind: changed.ratio_ln < 0 ? "slower" : "faster",
            since_epochMs: fitted[changed.first]?.at_epochMs ?? latest.at_epochMs,
            ratio: Math.exp(changed.ratio_ln),
            usualCauses: usualCauses[changed.ratio_ln < 0 ? "slower" : "faster"],
          },
    latest_epochMs: latest.at_epochMs,
  };
}
