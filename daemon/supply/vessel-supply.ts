import type { Believed } from "../../lib/estimation/supply-belief.js";
import type { SupplyEstimate } from "../../lib/estimation/supply-estimate.js";
import type { PressurisingVerdict } from "../../lib/supply-watch/pressurising-verdict.js";
import type { ChargeInUse } from "./charge-in-use.js";
import type { RefillAdvice } from "./refill-advice.js";
import type { ToldSurge } from "./supply-job.js";
import type { RunOutLimits } from "./supply-memory.js";

export type SupplySource = "sensor" | "by eye" | "nothing yet";

/** What is known of the charge in one vessel. */
export interface VesselSupply {
  readonly vesselId: string;
  /** Undefined where it cannot be worked with. */
  readonly charge: Pick<ChargeInUse, "from" | "closedAt_epochMs" | "supplied"> | undefined;
  /** Undefined until the first estimate has been made. */
  readonly told: ToldSupply | undefined;
  /** Why there is no newer estimate. */
  readonly failure: string | undefined;
}

export interface ToldSupply {
  readonly estimate: SupplyEstimate;
  readonly source: SupplySource;
  /** CO2 that has left since closing, leak included. */
  readonly removed_g: Believed;
  readonly pressureRead_epochMs: number | undefined;
  readonly use: {
    /** Leak included. */
    readonly total_gPerDay: number;
    readonly byTank: readonly { readonly tankId: string; readonly co2_gPerDay: number }[];
  };
  readonly surge: ToldSurge | undefined;
  /** How a fresh charge comes on; undefined: its reaction is over, or nothing was read. */
  readonly pressurising: PressurisingVerdict | undefined;
  readonly limits: RunOutLimits;
  /** When to refill; undefined while nothing can be said. */
  readonly refill: RefillAdvice | undefined;
}
