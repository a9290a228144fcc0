import { assertInRange } from "../quantities/valid-range.js";
import {
  adviseOnDisagreement,
  comparePairs,
  explainDisagreement,
  type DisagreementAdvice,
  type MethodPair,
} from "./co2-disagreement.js";
import type { Co2Evidence, Co2Method } from "./co2-evidence.js";
import {
  birgeRatio,
  estimateGroup,
  groupWeights,
  isConsistent,
  quantile_ln,
  type GroupEstimate,
  type ProbeSpread,
} from "./evidence-group.js";

export interface MethodWeight {
  readonly method: Co2Method;
  /** How far the central value follows this method; all of them add to 1. 0: left out, as it stands alone. */
  readonly weight_ratio: number;
}

export type Co2Agreement =
  | { readonly kind: "one method" }
  | { readonly kind: "methods agree"; readonly pairs: readonly MethodPair[]; readonly birge_ratio: number }
  | {
      readonly kind: "methods disagree";
      readonly pairs: readonly MethodPair[];
      readonly birge_ratio: number;
      /** Against which all the others agree; empty where it cannot be told who is wrong. */
      readonly standingAlone: readonly Co2Method[];
      /** For the person at the tank, in short. */
      readonly advice: DisagreementAdvice;
      /** The same at length: every pair with its possible causes. */
      readonly explanations: readonly string[];
    };

export interface FusedCo2 {
  readonly co2_mgPerL: number;
  readonly co2Low80_mgPerL: number;
  readonly co2High80_mgPerL: number;
  readonly co2Low95_mgPerL: number;
  readonly co2High95_mgPerL: number;
  /** Centre of the candidate that reads highest; the central value where the methods agree. */
  readonly highestCentre_mgPerL: number;
  /** In the order of the evidences. */
  readonly weights: readonly MethodWeight[];
  readonly agreement: Co2Agreement;
}

const co2Range = { quantity: "co2_mgPerL", unit: "mg/L", minimum: 1e-3, maximum: 1e5 };
const sigmaRange = { quantity: "standard deviation of ln(CO2)", unit: "", minimum: 0, maximum: 5 };
const sharedRange = {
  quantity: "change of ln(CO2) by one pH of the probe",
  unit: "",
  minimum: -5,
  maximum: 5,
};
const probeRange = { quantity: "standard uncertainty of the pH", unit: "", minimum: 0, maximum: 3 };
const countRange = { quantity: "number of evidences", unit: "", minimum: 0, maximum: 8 };

/**
 * How often a method is wrong beyond its stated error, against how often it is not: one time in seven. Judgement; with it the
 * upper end of two that agree reaches a good way towards a third that reads higher.
 */
const wrongAgainstRight_ratio = 1 / 6;

interface Candidate {
  readonly members: readonly number[];
  readonly estimate: GroupEstimate;
  readonly share: number;
}

/** The largest groups that agree within their errors: what is true if the others are wrong. */
function consistentGroups(
  evidences: readonly Co2Evidence[],
  probe: ProbeSpread,
): readonly (readonly number[])[] {
  const groups: (readonly number[])[] = [];
  const subsets = Array.from({ length: 2 ** evidences.length - 1 }, (_, mask) =>
    evidences.flatMap((__, index) => ((mask + 1) & (1 << index) ? [index] : [])),
  ).sort((a, b) => b.length - a.length);
  for (const subset of subsets) {
    const isPart = groups.some((group) => subset.every((index) => group.includes(index)));
    if (!isPart && isConsistent(pick(evidences, subset), probe)) groups.push(subset);
  }
  return groups;
}

const pick = (evidences: readonly Co2Evidence[], members: readonly number[]): readonly Co2Evidence[] =>
  evidences.filter((_, index) => members.includes(index));

function candidatesOf(evidences: readonly Co2Evidence[], probe: ProbeSpread): readonly Candidate[] {
  const groups = consistentGroups(evidences, probe);
  const odds = groups.map((members) => wrongAgainstRight_ratio ** (evidences.length - members.length));
  const sum = odds.reduce((total, value) => total + value, 0);
  return groups.map((members, index) => ({
    members,
    estimate: estimateGroup(pick(evidences, members), probe),
    share: (odds[index] ?? 0) / sum,
  }));
}

function mixtureOf(candidates: readonly Candidate[]): GroupEstimate {
  return {
    cumulative: (lnCo2) =>
      candidates.reduce((sum, { share, estimate }) => sum + share * estimate.cumulative(lnCo2), 0),
    low_ln: Math.min(...candidates.map(({ estimate }) => estimate.low_ln)),
    high_ln: Math.max(...candidates.map(({ estimate }) => estimate.high_ln)),
  };
}

function assertEvidence(evidence: Co2Evidence): void {
  assertInRange(evidence.co2_mgPerL, co2Range);
  assertInRange(evidence.ownSigma_ln, sigmaRange);
  assertInRange(evidence.probeOffset_lnPerPh, sharedRange);
  assertInRange(evidence.probeReading_lnPerPh, sharedRange);
}

/**
 * One estimate of a tank's free CO2 from all methods, mg/L, with 80 and 95 % intervals.
 * ln(CO2) is estimated by least squares with correlated errors, so that two readings of one probe do not count as two
 * witnesses; bounds cut it softly. Where the methods disagree beyond their stated errors (chi-square, 95 %), every largest group
 * that agrees is a candidate. The central value is that of the candidate that leaves out the fewest methods, the middle of
 * several; the interval spans these and the mixture of all, weighed one to six for each method left out. So no single method
 * that disagrees pulls the upper end down.
 * @param evidences  up to 8; none gives undefined, one gives itself.
 * @param probe  standard uncertainties of the tank's pH probe, 0 to 3 pH.
 * @throws OutOfValidRangeError for a number that is none or outside of its range.
 * @see [Aitken1936] for the weights, [Birge1932] for the ratio
 */
export function fuseCo2(evidences: readonly Co2Evidence[], probe: ProbeSpread): FusedCo2 | undefined {
  assertInRange(evidences.length, countRange);
  assertInRange(probe.offsetPhSigma, probeRange);
  assertInRange(probe.readingPhSigma, probeRange);
  evidences.forEach(assertEvidence);
  if (evidences.length === 0) return undefined;

  const candidates = candidatesOf(evidences, probe);
  const mixture = mixtureOf(candidates);
  const mostMembers = Math.max(...candidates.map(({ members }) => members.length));
  const likeliest = candidates.filter(({ members }) => members.length === mostMembers);
  const spanned = [mixture, ...likeliest.map(({ estimate }) => estimate)];
  const lowest = (share: number): number =>
    Math.exp(Math.min(...spanned.map((one) => quantile_ln(one, share))));
  const highest = (share: number): number =>
    Math.exp(Math.max(...spanned.map((one) => quantile_ln(one, share))));

  const weights = evidences.map(() => 0);
  let centre_ln = 0;
  for (const { members, estimate } of likeliest) {
    centre_ln += quantile_ln(estimate, 0.5) / likeliest.length;
    groupWeights(pick(evidences, members), probe).forEach((weight, place) => {
      const index = members[place] ?? 0;
      weights[index] = (weights[index] ?? 0) + weight / likeliest.length;
    });
  }
  return {
    co2_mgPerL: Math.exp(centre_ln),
    co2Low80_mgPerL: lowest(0.1),
    co2High80_mgPerL: highest(0.9),
    co2Low95_mgPerL: lowest(0.025),
    co2High95_mgPerL: highest(0.975),
    highestCentre_mgPerL: Math.exp(Math.max(...candidates.map(({ estimate }) => quantile_ln(estimate, 0.5)))),
    weights: evidences.map(({ method }, index) => ({ method, weight_ratio: weights[index] ?? 0 })),
    agreement: agreementOf(evidences, probe, candidates, likeliest),
  };
}

function agreementOf(
  evidences: readonly Co2Evidence[],
  probe: ProbeSpread,
  candidates: readonly Candidate[],
  likeliest: readonly Candidate[],
): Co2Agreement {
  if (evidences.length === 1) return { kind: "one method" };
  const pairs = comparePairs(evidences, probe);
  const birge_ratio = birgeRatio(evidences, probe);
  if (candidates.length === 1) return { kind: "methods agree", pairs, birge_ratio };
  const [only, ...others] = likeliest;
  const outside =
    only !== undefined && others.length === 0 && only.members.length >= 2
      ? evidences.filter((_, index) => !only.members.includes(index))
      : [];
  return {
    kind: "methods disagree",
    pairs,
    birge_ratio,
    standingAlone: outside.map(({ method }) => method),
    advice: adviseOnDisagreement(evidences, probe, outside),
    explanations: explainDisagreement(evidences, probe, outside),
  };
}
