import type { ChargeConditions, DrawnCharge } from "../../lib/simulation/drawn-charge.js";
import type { SupplyFault } from "../../lib/simulation/supply-fault.js";

/** A fault of a usual size, to be looked at in a trace: something at an onset, or something about the filling. */
export interface UsualFault {
  readonly conditions?: Partial<ChargeConditions>;
  at?(onset_epochMs: number): SupplyFault;
}

export const usualFaults: Readonly<Record<string, UsualFault>> = {
  "vessel-leak": { at: (onset_epochMs) => ({ kind: "vessel-leak", onset_epochMs, leak_gPerDay: 1 }) },
  "valve-leaks": { at: (onset_epochMs) => ({ kind: "valve-leaks", onset_epochMs, leak_gPerH: 0.25 }) },
  "needle-readjusted": {
    at: (onset_epochMs) => ({ kind: "needle-readjusted", onset_epochMs, opening_ratio: 1.5 }),
  },
  "outlet-blocked": {
    at: (onset_epochMs) => ({ kind: "outlet-blocked", onset_epochMs, opening_ratio: 0.2 }),
  },
  "branch-closed": { at: (onset_epochMs) => ({ kind: "branch-closed", onset_epochMs, share_ratio: 0.5 }) },
  "gauge-step": { at: (onset_epochMs) => ({ kind: "gauge-step", onset_epochMs, step_bar: -0.6 }) },
  refill: { at: (onset_epochMs) => ({ kind: "refill", onset_epochMs }) },
  "short-charge": { conditions: { weighed_ratio: 0.75, settled: false } },
  "heavy-charge": { conditions: { weighed_ratio: 1.3, settled: false } },
};

/** A quarter into the life of the charge as planned. */
export function usualOnset_epochMs(drawn: DrawnCharge): number {
  const quarter_h = Math.round(6 * drawn.planned_days);
  return drawn.dosingFrom_epochMs + quarter_h * 3_600_000;
}
