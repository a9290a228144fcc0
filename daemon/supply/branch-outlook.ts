import { believedDeliverable, supplyBelief } from "../../lib/estimation/supply-belief.js";
import { createSupplyModel, type SupplyModel } from "../../lib/estimation/supply-model.js";
import type { SupplyState } from "../../lib/estimation/supply-state.js";
import type { SuppliedCharge } from "../../lib/estimation/supply-trace.js";
import { normalQuantile95 } from "../../lib/numerics/normal-distribution.js";
import {
  branchScenario,
  branchSentences,
  type Branch,
  type BranchesOutlook,
} from "../../lib/refill/branch-scenario.js";
import type { SiteModel } from "../site-model.js";
import type { SupplyValve } from "./supply-job.js";
import type { ToldSupply } from "./vessel-supply.js";

/** What is believed of a charge that is in use. */
export interface FollowedSupply {
  readonly charge: SuppliedCharge;
  readonly state: SupplyState;
  readonly told: ToldSupply;
  /** Its valves with their windows, as the estimate was made with them. */
  readonly valves: readonly SupplyValve[];
}

export interface BranchQuestion {
  /** Tanks on the splitter: those of the config first, then others like them. 1 to 16. */
  readonly tanks: number;
  /** What diffuser, check valve and depth of water need in each line, bar gauge. */
  readonly backPressureGauge_bar: number;
  readonly needleValves: "each branch" | "before the splitter";
}

export interface BranchAnswer {
  readonly outlooks: readonly BranchesOutlook[];
  readonly sentences: readonly string[];
}

/**
 * Life of what is left in a vessel with 1, 2 ... N tanks on it, and whether the working pressure suffices.
 * @returns undefined while no use of any tank is known
 * @throws OutOfValidRangeError as branchScenario; NoConvergenceError as createSupplyModel
 */
export function branchOutlook(
  vesselId: string,
  { charge, state, told }: FollowedSupply,
  site: Pick<SiteModel, "valves" | "vessels">,
  question: BranchQuestion,
): BranchAnswer | undefined {
  const branches = branchesOf(vesselId, told, site, question);
  const [first, ...others] = branches;
  if (first === undefined || branches.every(({ use_gPerDay }) => use_gPerDay === undefined)) return undefined;
  const model = createSupplyModel(charge);
  const margin_bar = site.vessels.get(vesselId)?.endOfCharge.margin_bar ?? 0;
  const belief = supplyBelief(state);
  const outlooks = branchScenario({
    branches: [first, ...others],
    workingPressureGauge_bar: charge.workingPressureGauge_bar - margin_bar,
    needleValves: question.needleValves,
    // Below its margin a regulator no longer holds what it is set to.
    deliverableAbove: (inletGauge_bar) => deliverableAbove(model, belief, inletGauge_bar + margin_bar),
  });
  const lines = question.needleValves === "each branch" ? "every line" : "one place, before the splitter";
  return {
    outlooks,
    sentences: [
      ...branchSentences(outlooks),
      `Taken: ${question.backPressureGauge_bar} bar of diffuser, check valve and water in each line, and a needle valve in ${lines}.`,
      "Common practice, no source: three tanks empty a charge about three times as fast as one.",
    ],
  };
}

function deliverableAbove(
  model: SupplyModel,
  belief: ReturnType<typeof supplyBelief>,
  inletGauge_bar: number,
): { readonly value: number; readonly low: number; readonly high: number } {
  const at = { ...model, charge: { ...model.charge, workingPressureGauge_bar: inletGauge_bar } };
  const { value, deviation } = believedDeliverable(at, belief);
  return {
    value: Math.max(0, value),
    low: Math.max(0, value - normalQuantile95 * deviation),
    high: Math.max(0, value + normalQuantile95 * deviation),
  };
}

function branchesOf(
  vesselId: string,
  { use, estimate }: ToldSupply,
  site: Pick<SiteModel, "valves">,
  { tanks, backPressureGauge_bar }: BranchQuestion,
): readonly Branch[] {
  const fed = [...site.valves.values()]
    .filter((valve) => valve.vesselId === vesselId)
    .flatMap(({ rules }) => rules.tankIds);
  const { value: flow_gPerH, deviation } = estimate.flow_gPerH;
  const away_ratio = flow_gPerH > 0 ? Math.min(0.95, (normalQuantile95 * deviation) / flow_gPerH) : 0.95;
  return Array.from({ length: tanks }, (_, k): Branch => {
    const tank = fed[k] ?? `further tank ${k + 1}`;
    const used = use.byTank.find(({ tankId }) => tankId === tank)?.co2_gPerDay ?? 0;
    if (!(used > 0)) return { tank, backPressureGauge_bar };
    const use_gPerDay = { value: used, low: used * (1 - away_ratio), high: used * (1 + away_ratio) };
    return { tank, backPressureGauge_bar, use_gPerDay };
  });
}
