import type { LearntLeadLimits } from "../../lib/tank/learnt-lead.js";
import type { LearntTank } from "../../lib/tank/learnt-tank.js";

/** What a tank has taught, and what is made of it. */
export interface LearntTankStatus extends LearntTank {
  readonly tankId: string;
  readonly usedLead_min: number;
  readonly configuredLead_min: number;
  readonly useLearntLead: LearntLeadLimits | undefined;
}
