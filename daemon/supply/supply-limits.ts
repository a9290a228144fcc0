import type { SupplyEstimate } from "../../lib/estimation/supply-estimate.js";
import type { RunOutLimits } from "./supply-memory.js";

/** Days before the median run-out at which a keeper is told. */
export interface ToldAhead {
  readonly toldAhead_days: number;
  readonly urgentAhead_days: number;
}

/** Above a limit by so much of it, the limit is left. */
const deadband_ratio = 0.2;

/** Which limits days left are below; each is left only with its deadband, so that an estimate that wavers does not flap. */
export function steppedLimits(
  before: RunOutLimits,
  estimate: SupplyEstimate,
  { toldAhead_days, urgentAhead_days }: ToldAhead,
): RunOutLimits {
  // While it reacts, how much there will be is not known well enough.
  if (estimate.phase === "settling") return { isLow: false, isVeryLow: false };
  const isBelow = (limit_days: number, wasBelow: boolean): boolean =>
    estimate.dosingLeft_days < limit_days * (wasBelow ? 1 + deadband_ratio : 1);
  return {
    isLow: isBelow(toldAhead_days, before.isLow),
    isVeryLow: isBelow(urgentAhead_days, before.isVeryLow),
  };
}
