import type { SupplyEstimate } from "../../lib/estimation/supply-estimate.js";
import type { ToldSupply } from "../supply/vessel-supply.js";
import type { SupplyLeft } from "./page-contract.js";

export function supplyLeft(
  estimate: Pick<SupplyEstimate, "charge_g" | "remaining" | "deliverable"> | undefined,
): SupplyLeft | undefined {
  if (estimate === undefined || !(estimate.charge_g > 0)) return undefined;
  const { remaining, deliverable, charge_g } = estimate;
  return {
    remaining_ratio: remaining.value_g / charge_g,
    remainingLow80_ratio: remaining.low80_g / charge_g,
    remainingHigh80_ratio: remaining.high80_g / charge_g,
    dosable_ratio: Math.min(deliverable.value_g, remaining.value_g) / charge_g,
  };
}

/** What the gauge should show by the estimate; undefined while the charge reacts, when nobody can say. */
export function expectedGauge_bar(told: Pick<ToldSupply, "surge"> | undefined): number | undefined {
  return told?.surge?.outlook.inletGauge_bar;
}
