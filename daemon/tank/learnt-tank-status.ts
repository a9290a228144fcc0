import type { LearntLeadLimits } from "../../lib/tank/learnt-lead.js";
import type { LeadInUse } from "../../lib/tank/tank-learning-state.js";
import type { LearntTank } from "../../lib/tank/learnt-tank.js";

/** What a tank has taught, and what is made of it. */
export interface LearntTankStatus extends LearntTank {
  readonly tankId: string;
  readonly usedLead_min: number;
  /** Of windows that begin sooner than after a night; a pause that is not here has the config's. */
  readonly leadsAfterPauses?: readonly LeadInUse[];
  readonly configuredLead_min: number;
  readonly useLearntLead: LearntLeadLimits | undefined;
}
