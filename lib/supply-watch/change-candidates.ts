import type { FlowChange } from "./flow-change.js";
import type { ClosedStep } from "./closed-loss.js";

/** One cause that would look so on the gauge. */
export interface Candidate {
  readonly cause:
    | "needle-opened"
    | "needle-closed"
    | "outlet-blocked"
    | "branch-closed"
    | "branch-opened"
    | "leak-behind-valve"
    | "gauge-offset"
    | "gas-let-out"
    | "gas-came"
    | "not-told";
  readonly text: string;
  /** Share of the odds, 0 to 1; they sum to 1. */
  readonly odds: number;
  /** What would tell it from the others. */
  readonly separatedBy: string;
}

/** How often each happens against the others, before the size of the change is looked at. Judgements, no source. */
const usual = {
  needle: 0.45,
  blocked: 0.2,
  branch: 0.2,
  leakBehind: 0.15,
  notTold: 0.1,
} as const;

const separating = {
  needle:
    "a look at the needle valve's mark; the bubble count changes as much in every line, the outlet pressure does not",
  blocked:
    "a bubble count that falls in every line while the outlet pressure stays or rises; a clean filter brings it back",
  branch: "the bubble counts of the lines one by one, and the CO2 of each tank",
  leakBehind:
    "a bubble count and a tank that have not changed while the vessel, or a scale under it, loses more",
} as const;

function normalised(candidates: readonly Candidate[]): readonly Candidate[] {
  const total = candidates.reduce((sum, { odds }) => sum + odds, 0);
  return candidates
    .map((candidate) => ({ ...candidate, odds: candidate.odds / total }))
    .sort((a, b) => b.odds - a.odds);
}

/** Density of a normal distribution in natural logarithms, up to the same constant for all. */
function near(ratio_ln: number, around_ln: number, deviation_ln: number): number {
  return Math.exp(-0.5 * ((ratio_ln - around_ln) / deviation_ln) ** 2) / deviation_ln;
}

/**
 * Causes of a flow that has changed, with their odds by size alone: a closed line of a splitter takes one of its shares, a blockage
 * most of the flow, a hand on the needle anything. Vessel pressure cannot tell more; what could is named with each.
 * @param branches lines behind the valve, 1 or more
 */
export function flowCandidates(change: FlowChange, branches: number): readonly Candidate[] {
  const { flow_ratio, deviation_ln } = change;
  const size_ln = Math.log(flow_ratio);
  const wide = (spread: number): number => Math.hypot(spread, deviation_ln);
  const shares = Array.from({ length: Math.max(0, branches - 1) }, (_, k) => (k + 1) / branches);
  const branchFit = shares.reduce(
    (sum, share) =>
      sum + near(size_ln, flow_ratio < 1 ? Math.log(share) : -Math.log(share), wide(0.12)) / shares.length,
    0,
  );
  const candidates: Candidate[] = [
    {
      cause: flow_ratio < 1 ? "needle-closed" : "needle-opened",
      text: flow_ratio < 1 ? "the needle valve was closed further" : "the needle valve was opened further",
      odds: usual.needle * near(size_ln, 0, wide(0.7)),
      separatedBy: separating.needle,
    },
    {
      cause: "not-told",
      text: "something that vessel pressure does not tell",
      odds: usual.notTold * near(size_ln, 0, wide(1)),
      separatedBy: "tank's rise, bubble count, scale and outlet pressure together",
    },
  ];
  if (shares.length > 0) {
    candidates.push({
      cause: flow_ratio < 1 ? "branch-closed" : "branch-opened",
      text: flow_ratio < 1 ? "a line of the splitter was closed" : "a line of the splitter was opened",
      odds: usual.branch * branchFit,
      separatedBy: separating.branch,
    });
  }
  candidates.push(
    flow_ratio < 1
      ? {
          cause: "outlet-blocked",
          text: "the outlet, its filter or the diffuser is blocked",
          odds: usual.blocked * near(size_ln, -1.6, wide(0.8)),
          separatedBy: separating.blocked,
        }
      : {
          cause: "leak-behind-valve",
          text: "gas gets out behind the valve",
          odds: usual.leakBehind * near(size_ln, 0.5, wide(0.6)),
          separatedBy: separating.leakBehind,
        },
  );
  return normalised(candidates);
}

/** Causes of a step of the gauge while the valve is closed. Gas cannot come by itself; it can be let out. */
export function stepCandidates(step: ClosedStep, settled: boolean): readonly Candidate[] {
  const falls = step.step_bar < 0;
  const separatedBy = "a second gauge, a scale under the vessel, and whether somebody was at the vessel";
  return normalised([
    {
      cause: "gauge-offset",
      text: "the gauge or its sensor shows another zero",
      odds: falls ? 0.6 : settled ? 0.85 : 0.4,
      separatedBy,
    },
    falls
      ? { cause: "gas-let-out", text: "gas was let out within minutes", odds: 0.35, separatedBy }
      : {
          cause: "gas-came",
          text: "crystals met the liquor, or the vessel was warmed at once",
          odds: settled ? 0.1 : 0.6,
          separatedBy,
        },
    { cause: "not-told", text: "something that the gauge does not tell", odds: 0.05, separatedBy },
  ]);
}
