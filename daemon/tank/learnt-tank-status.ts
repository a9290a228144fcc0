import type { DoseEfficiency } from "../../lib/tank/morning-rise.js";
import type { SuppliedGas } from "../../lib/tank/supplied-gas.js";
import type { BridgedCo2 } from "../../lib/tank/balance-bridge.js";
import type { LearntLeadLimits } from "../../lib/tank/learnt-lead.js";
import type { LeadInUse } from "../../lib/tank/tank-learning-state.js";
import type { LearntTank } from "../../lib/tank/learnt-tank.js";

/** How much gas goes to a tank while its valve is open, and what share of it the water takes. */
export interface GasUse {
  readonly by: SuppliedGas["by"];
  readonly flow_mgPerMin: number;
  readonly flowLow80_mgPerMin: number;
  readonly flowHigh80_mgPerMin: number;
  /** Undefined before a morning has taught the tank's dose. */
  readonly efficiency: DoseEfficiency | undefined;
}

/** What a tank has taught, and what is made of it. */
export interface LearntTankStatus extends LearntTank {
  readonly tankId: string;
  /** CO2 by balance while the probe is silent: for the eye alone, no guard and no reason to open. */
  readonly inSilence?: BridgedCo2 | undefined;
  /** Undefined while nothing tells how much gas flows. */
  readonly gasUse?: GasUse | undefined;
  readonly usedLead_min: number;
  /** Of windows that begin sooner than after a night; a pause that is not here has the config's. */
  readonly leadsAfterPauses?: readonly LeadInUse[];
  readonly configuredLead_min: number;
  readonly useLearntLead: LearntLeadLimits | undefined;
}
