/**
 * What can go wrong between vessel and tank, from an onset on, until an end where there is one.
 * - vessel-leak: gas gets out of the vessel all the time, in proportion to the absolute pressure
 * - valve-leaks: the closed valve passes this much: stuck open, or a seat with dirt in it
 * - needle-readjusted, outlet-blocked: the open gas path passes this share of what it did
 * - branch-closed: one line of a splitter is shut; its share no longer flows
 * - gauge-step: from now on the gauge shows so much more
 * - refill: the vessel is emptied, filled by the same recipe and closed again
 */
export type SupplyFault = {
  readonly onset_epochMs: number;
  readonly until_epochMs?: number;
} & (
  | { readonly kind: "vessel-leak"; readonly leak_gPerDay: number }
  | { readonly kind: "valve-leaks"; readonly leak_gPerH: number }
  | { readonly kind: "needle-readjusted"; readonly opening_ratio: number }
  | { readonly kind: "outlet-blocked"; readonly opening_ratio: number }
  | { readonly kind: "branch-closed"; readonly share_ratio: number }
  | { readonly kind: "gauge-step"; readonly step_bar: number }
  | { readonly kind: "refill" }
);

/** What the faults of an instant come to. Leaks are those at the onset's pressure. */
export interface SupplyFaultSum {
  readonly vesselLeak_gPerDay: number;
  readonly valveLeak_gPerH: number;
  readonly opening_ratio: number;
  readonly gaugeStep_bar: number;
}

/** The onset belongs to the span, the end does not. Openings multiply, the rest adds. */
export function supplyFaultsAt(faults: readonly SupplyFault[], at_epochMs: number): SupplyFaultSum {
  const sum = { vesselLeak_gPerDay: 0, valveLeak_gPerH: 0, opening_ratio: 1, gaugeStep_bar: 0 };
  for (const fault of faults) {
    if (at_epochMs < fault.onset_epochMs || at_epochMs >= (fault.until_epochMs ?? Infinity)) continue;
    switch (fault.kind) {
      case "vessel-leak":
        sum.vesselLeak_gPerDay += fault.leak_gPerDay;
        break;
      case "valve-leaks":
        sum.valveLeak_gPerH += fault.leak_gPerH;
        break;
      case "needle-readjusted":
      case "outlet-blocked":
        sum.opening_ratio *= fault.opening_ratio;
        break;
      case "branch-closed":
        sum.opening_ratio *= 1 - fault.share_ratio;
        break;
      case "gauge-step":
        sum.gaugeStep_bar += fault.step_bar;
        break;
      case "refill":
        break;
    }
  }
  return sum;
}
