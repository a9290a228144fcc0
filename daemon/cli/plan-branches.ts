import type { ChargePlan } from "../../lib/charge-plan/plan-charge.js";
import type { Bounded } from "../../lib/charge-plan/plan-request.js";
import { absoluteFromGauge_bar } from "../../lib/quantities/units.js";
import {
  branchScenario,
  branchSentences,
  usualBackPressure_bar,
  type Branch,
  type BranchesOutlook,
} from "../../lib/refill/branch-scenario.js";
import { depletionCurve } from "../../lib/vessel/depletion.js";
import type { VesselConfig } from "../config/config-schema.js";

/** Up to so many tanks are shown, and never fewer than there are. */
const leastShown = 3;
const mostShown = 16;

/**
 * Life of a planned charge with one tank after another on it, and whether the working pressure suffices for every line. Tanks
 * beyond those of the plan are taken like them.
 * @returns undefined where no daily use was stated
 */
export function planBranches(
  { lasts, delivery, charge }: Pick<ChargePlan, "lasts" | "delivery" | "charge">,
  vessel: Pick<VesselConfig, "workingPressureGauge_bar" | "endOfCharge">,
  room_degC: number,
): readonly BranchesOutlook[] | undefined {
  if (lasts === undefined) return undefined;
  const backPressureGauge_bar = usualBackPressure_bar.ceramicDiffuser;
  const stated = lasts.tanks.map(({ tank, use_gPerDay }): Branch => ({
    tank,
    use_gPerDay,
    backPressureGauge_bar,
  }));
  const [first = { tank: "tank 1", use_gPerDay: lasts.use_gPerDay, backPressureGauge_bar }, ...others] =
    stated;
  const further = Array.from({ length: Math.max(0, leastShown - 1 - others.length) }, (_, k): Branch => ({
    tank: `further tank ${String(others.length + k + 2)}`,
    backPressureGauge_bar,
  }));
  const { workingPressureGauge_bar, endOfCharge } = vessel;
  return branchScenario({
    branches: [first, ...[...others, ...further].slice(0, mostShown - 1)],
    workingPressureGauge_bar,
    needleValves: "each branch",
    deliverableAbove: (gauge_bar) =>
      gauge_bar <= workingPressureGauge_bar
        ? delivery.deliverable_g
        : times(
            delivery.deliverable_g,
            leavesAbove(charge, room_degC, gauge_bar + endOfCharge.margin_bar) /
              leavesAbove(charge, room_degC, workingPressureGauge_bar + endOfCharge.margin_bar),
          ),
  });
}

/** For the keeper. */
export function planBranchLines(outlooks: readonly BranchesOutlook[]): readonly string[] {
  return [
    ...branchSentences(outlooks),
    `Taken: ${String(usualBackPressure_bar.ceramicDiffuser)} bar of diffuser, check valve and water in each line, and a needle valve in every line. ` +
      "Common practice, no source: three equal tanks empty a charge about three times as fast as one.",
  ];
}

function leavesAbove(charge: ChargePlan["charge"], temperature_degC: number, inletGauge_bar: number): number {
  const curve = depletionCurve(charge, { temperature_degC, withdrawal: "headspace" });
  const answer = curve.remainingAt(absoluteFromGauge_bar(inletGauge_bar));
  if (answer.kind === "above-full") return 0;
  return curve.co2Available_mol - (answer.kind === "spent" ? 0 : answer.co2Remaining_mol);
}

function times({ value, low, high }: Bounded, factor: number): Bounded {
  return { value: value * factor, low: low * factor, high: high * factor };
}
