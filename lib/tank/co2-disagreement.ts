import type { Co2Evidence, Co2Method } from "./co2-evidence.js";
import { differenceSigma_ln, gap_ln, type ProbeSpread } from "./evidence-group.js";
import { normalQuantile95 } from "../numerics/normal-distribution.js";

/** Two methods held against each other. */
export interface MethodPair {
  readonly higher: Co2Method;
  readonly lower: Co2Method;
  /** How many times the lower one's CO2 the higher one gives; 1 where a bound is kept. */
  readonly factor_ratio: number;
  /** The same against the errors of both, what they share in the probe taken out; beyond 2 they disagree. */
  readonly standardDeviations: number;
  readonly disagree: boolean;
}

const methodWords: Record<Co2Method, string> = {
  "carbonate hardness": "KH reading",
  "pH drop": "pH drop",
  "drop checker": "drop checker",
};

/** What makes one method read high or low, whatever it is held against. Common practice, no source, but for the chemistry. */
const readsHigh: Record<Co2Method, string> = {
  "carbonate hardness":
    "an old KH test, from when the KH was higher, or acids and buffers other than CO2 in the water (tannins, phosphate)",
  "pH drop":
    "acid that the water has gained since its baseline (nitrification, tannins, a water change with softer water)",
  "drop checker": "a drop checker that lags behind a fall, or whose old liquid has lost KH",
};
const readsLow: Record<Co2Method, string> = {
  "carbonate hardness": "an old KH test, from when the KH was lower",
  "pH drop":
    "a baseline from water that had not lost all its CO2, a pH buffer in the water (phosphate), or KH that has risen since",
  "drop checker": "a drop checker that lags behind a rise, or whose liquid has gained KH by drying",
};

/** Two methods agree in sharing the probe; against a method without it, the probe is one more suspect. */
function probeSuspect(higher: Co2Evidence, lower: Co2Evidence): readonly string[] {
  const offset_lnPerPh = higher.probeOffset_lnPerPh - lower.probeOffset_lnPerPh;
  if (Math.abs(offset_lnPerPh) < 0.5) return [];
  return [`a pH probe that reads too ${offset_lnPerPh < 0 ? "low" : "high"}: check it in a buffer`];
}

function compare(first: Co2Evidence, second: Co2Evidence, probe: ProbeSpread): MethodPair {
  const gap = gap_ln(first, second);
  const standardDeviations = Math.abs(gap) / differenceSigma_ln(first, second, probe);
  const [higher, lower] = gap >= 0 ? [first, second] : [second, first];
  return {
    higher: higher.method,
    lower: lower.method,
    factor_ratio: Math.exp(Math.abs(gap)),
    standardDeviations,
    disagree: standardDeviations > normalQuantile95,
  };
}

/** Every method against every other. */
export function comparePairs(evidences: readonly Co2Evidence[], probe: ProbeSpread): readonly MethodPair[] {
  return evidences.flatMap((first, index) =>
    evidences.slice(index + 1).map((second) => compare(first, second, probe)),
  );
}

function explainPair(higher: Co2Evidence, lower: Co2Evidence, pair: MethodPair): string {
  const factor = pair.factor_ratio.toFixed(1);
  if (higher.method === lower.method) {
    return `Two findings by ${methodWords[higher.method]} disagree by a factor ${factor}: repeat it.`;
  }
  const suspects = [readsHigh[higher.method], readsLow[lower.method], ...probeSuspect(higher, lower)];
  return `${capital(methodWords[higher.method])} and ${methodWords[lower.method]} disagree by a factor ${factor}, the ${methodWords[higher.method]} higher: ${suspects.join("; or ")}.`;
}

const capital = (words: string): string => words.charAt(0).toUpperCase() + words.slice(1);

/** What a person can do about each, the quickest and likeliest first. Common practice, no source. */
const toDo: Record<Co2Method, string> = {
  "carbonate hardness": "test the KH again",
  "pH drop": "measure the degassed pH again",
  "drop checker": "renew the drop checker's liquid and look at it again after some hours",
};

export interface DisagreementAdvice {
  readonly whatToDo: string;
  /** One sentence with its numbers. */
  readonly why: string;
}

/**
 * For the person at the tank: what to do first, and which two methods are furthest apart.
 * @param standingAlone  methods against which all others agree; they are doubted first.
 */
export function adviseOnDisagreement(
  evidences: readonly Co2Evidence[],
  probe: ProbeSpread,
  standingAlone: readonly Co2Evidence[],
): DisagreementAdvice {
  const [widest] = heldPairs(evidences, probe);
  if (widest === undefined) return { whatToDo: "", why: "" };
  const { higher, lower, pair } = widest;
  const doubted = [...new Set([...standingAlone, higher, lower].map(({ method }) => method))];
  const steps = [
    ...doubted.sort((a, b) => rank(a, standingAlone) - rank(b, standingAlone)).map((method) => toDo[method]),
    ...(probeSuspect(higher, lower).length === 0 ? [] : ["check the pH probe in a buffer"]),
  ];
  const figures = `${figureOf(higher)} against ${figureOf(lower)} mg/L`;
  return {
    whatToDo: `First ${steps.join("; then ")}. Until then go by the higher figure.`,
    why: `${capital(methodWords[higher.method])} and ${methodWords[lower.method]} disagree by a factor ${pair.factor_ratio.toFixed(1)}: ${figures}.`,
  };
}

const quickest: readonly Co2Method[] = ["carbonate hardness", "pH drop", "drop checker"];

function rank(method: Co2Method, standingAlone: readonly Co2Evidence[]): number {
  const isAlone = standingAlone.some((evidence) => evidence.method === method);
  return quickest.indexOf(method) - (isAlone ? quickest.length : 0);
}

function figureOf({ reach, co2_mgPerL }: Co2Evidence): string {
  return `${reach === "about" ? "" : `${reach} `}${String(Number(co2_mgPerL.toPrecision(2)))}`;
}

/** Every two methods, the furthest apart first. */
function heldPairs(
  evidences: readonly Co2Evidence[],
  probe: ProbeSpread,
): readonly { readonly higher: Co2Evidence; readonly lower: Co2Evidence; readonly pair: MethodPair }[] {
  return evidences
    .flatMap((first, index) =>
      evidences.slice(index + 1).map((second) => {
        const [higher, lower] = gap_ln(first, second) >= 0 ? [first, second] : [second, first];
        return { higher, lower, pair: compare(first, second, probe) };
      }),
    )
    .sort((a, b) => b.pair.standardDeviations - a.pair.standardDeviations);
}

/**
 * In words, why the methods may disagree: the pairs that do, the widest first, or the widest pair where only all together do.
 * @param standingAlone  methods against which all others agree.
 */
export function explainDisagreement(
  evidences: readonly Co2Evidence[],
  probe: ProbeSpread,
  standingAlone: readonly Co2Evidence[],
): readonly string[] {
  const held = heldPairs(evidences, probe);
  const apart = held.filter(({ pair }) => pair.disagree);
  const told = apart.length > 0 ? apart : held.slice(0, 1);
  const alone = standingAlone.map(
    ({ method }) => `The ${methodWords[method]} stands alone: the other methods agree among themselves.`,
  );
  return [...alone, ...told.map(({ higher, lower, pair }) => explainPair(higher, lower, pair))];
}
