import { normalSpread } from "../numerics/normal-spread.js";
import { median } from "./relaxation-fit.js";
import { hoursUntilCo2_h } from "./gas-exchange.js";
import { fitBegins_h } from "./night-fit.js";

/** A tank in the dark without gas, as its nights taught it; all on one scale. */
export interface EveningKnowledge {
  readonly k_perH: number;
  readonly kSigma_ln: number;
  readonly settledCo2_mgPerL: number;
  readonly settledSigma_ln: number;
  /** Where the fits of the last nights begin. */
  readonly starts_mgPerL: readonly number[];
}

/** How long after the dark has begun without gas the CO2 is below the wanted band. */
export type FallOffer =
  | {
      readonly kind: "falls";
      /** 0: it is below already when the dark begins. */
      readonly after_h: number;
      readonly afterLow80_h: number;
      /** Undefined where it may come to rest inside the band. */
      readonly afterHigh80_h: number | undefined;
      readonly lowEdge_mgPerL: number;
    }
  | { readonly kind: "stays"; readonly settledCo2_mgPerL: number; readonly lowEdge_mgPerL: number }
  | { readonly kind: "not known"; readonly because: string };

const nightsThatCount = 7;
/** Evenings begin at different CO2: of a single one by so much, and never less than the second. Judgement. */
const startSigma = { ofOne_ln: 0.2, least_ln: 0.05 };

/**
 * Hours from the beginning of the dark, with gas off, until the CO2 falls below the lower edge of the wanted band:
 * t = ln((Cstart - Csettled) / (Cedge - Csettled)) / k from where the fits begin, spread by what k, start and rest may be.
 * @param lowEdge_mgPerL on the scale of the knowledge
 */
export function eveningFall(known: EveningKnowledge, lowEdge_mgPerL: number): FallOffer {
  const starts_ln = known.starts_mgPerL.slice(-nightsThatCount).map(Math.log);
  if (starts_ln.length === 0)
    return { kind: "not known", because: "no night has been watched to its end yet" };
  const start_ln = median(starts_ln);
  const spread_ln = startSpread_ln(starts_ln);
  const after_h = ([k = 0, settled = 0, start = 0]: readonly number[]): number => {
    const way = {
      k_perH: known.k_perH * Math.exp(known.kSigma_ln * k),
      settledCo2_mgPerL: known.settledCo2_mgPerL * Math.exp(known.settledSigma_ln * settled),
      startCo2_mgPerL: Math.exp(start_ln + spread_ln * start),
    };
    return way.startCo2_mgPerL <= lowEdge_mgPerL ? 0 : fitBegins_h + hoursUntilCo2_h(way, lowEdge_mgPerL);
  };
  const central_h = after_h([]);
  if (!Number.isFinite(central_h)) {
    return { kind: "stays", settledCo2_mgPerL: known.settledCo2_mgPerL, lowEdge_mgPerL };
  }
  const spread = normalSpread(3, after_h);
  const high_h = spread.quantile(0.9);
  return {
    kind: "falls",
    after_h: central_h,
    afterLow80_h: spread.quantile(0.1),
    afterHigh80_h: Number.isFinite(high_h) ? high_h : undefined,
    lowEdge_mgPerL,
  };
}

function startSpread_ln(starts_ln: readonly number[]): number {
  if (starts_ln.length < 2) return startSigma.ofOne_ln;
  const mean_ln = starts_ln.reduce((sum, value) => sum + value, 0) / starts_ln.length;
  const squares = starts_ln.reduce((sum, value) => sum + (value - mean_ln) ** 2, 0);
  return Math.max(startSigma.least_ln, Math.sqrt(squares / (starts_ln.length - 1)));
}
