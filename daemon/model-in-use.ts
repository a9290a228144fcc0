import { mayChangeCalendar } from "../lib/schedule/calendar-change.js";
import type { SiteEvent } from "./ports/site-store.js";
import { withLeads, type SiteModel } from "./site-model.js";
import type { TankLearner } from "./tank/tank-learner.js";

/** The site as it is worked with: the config's, with the leads that were learnt. */
export interface ModelInUse {
  current(): SiteModel;
  /** Takes another config. */
  replace(configured: SiteModel): void;
  /** A learnt lead takes the other's place only where no window is open by either, or near. */
  moveLeads(now_epochMs: number): void;
}

export function createModelInUse(
  ports: {
    readonly learner: Pick<TankLearner, "reconcile" | "usedLead" | "movedLead" | "takeLead">;
    readonly record: (event: SiteEvent) => void;
  },
  initial: SiteModel,
): ModelInUse {
  const { learner, record } = ports;
  let configured = initial;
  let model = withLeadsOf(configured);

  return {
    current: () => model,
    replace(next) {
      configured = next;
      model = withLeadsOf(configured);
    },
    moveLeads(now_epochMs) {
      for (const tank of model.tanks.values()) {
        const { tankId } = tank;
        const moved = learner.movedLead(tank, now_epochMs);
        if (moved === undefined) continue;
        const next = withLeads(configured, (id) => (id === tankId ? moved : learner.usedLead(id)));
        if (!mayMove(tankId, next, now_epochMs)) continue;
        const before_min = learner.usedLead(tankId)?.lead_min ?? tank.dosing.lead_min;
        learner.takeLead(tankId, moved);
        model = next;
        record({
          at_epochMs: now_epochMs,
          area: "lead",
          subject: tankId,
          what: `lead ${moved.lead_min} min`,
          reason: `learnt from its nights and mornings; it was ${before_min} min`,
          details: { ...moved },
        });
      }
    },
  };

  function withLeadsOf(site: SiteModel): SiteModel {
    learner.reconcile(site);
    return withLeads(site, (tankId) => learner.usedLead(tankId));
  }

  function mayMove(tankId: string, next: SiteModel, now_epochMs: number): boolean {
    return [...model.valves].every(([valveId, { calendar, rules }]) => {
      const after = next.valves.get(valveId)?.calendar;
      return (
        !rules.tankIds.includes(tankId) ||
        after === undefined ||
        mayChangeCalendar(calendar, after, now_epochMs)
      );
    });
  }
}
