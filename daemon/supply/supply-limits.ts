import type { SupplyEstimate } from "../../lib/estimation/supply-estimate.js";
import type { RunOutLimits } from "./supply-memory.js";

/** Days before the median run-out at which a keeper is told, and the deadband above them. Judgements. */
export const runOutLimits = {
  low_days: 3,
  lowDeadband_days: 0.5,
  veryLow_days: 1,
  veryLowDeadband_days: 0.25,
} as const;

/** Which limits days left are below; each is left only with its deadband, so that an estimate that wavers does not flap. */
export function steppedLimits(before: RunOutLimits, estimate: SupplyEstimate): RunOutLimits {
  // While it reacts, how much there will be is not known well enough.
  if (estimate.phase === "settling") return { isLow: false, isVeryLow: false };
  const { dosingLeft_days } = estimate;
  const { low_days, lowDeadband_days, veryLow_days, veryLowDeadband_days } = runOutLimits;
  return {
    isLow: dosingLeft_days < low_days + (before.isLow ? lowDeadband_days : 0),
    isVeryLow: dosingLeft_days < veryLow_days + (before.isVeryLow ? veryLowDeadband_days : 0),
  };
}
