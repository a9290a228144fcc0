import { believedDeliverable, supplyBelief } from "../../lib/estimation/supply-belief.js";
import type { SupplyEstimate } from "../../lib/estimation/supply-estimate.js";
import { firstSupplyState } from "../../lib/estimation/supply-filter.js";
import { chargeOf, type SupplyModel } from "../../lib/estimation/supply-model.js";
import { freshReadyAfter } from "../../lib/refill/fresh-ready.js";
import type { FreshCharge, RefillRequest } from "../../lib/refill/refill-option.js";
import { refillOutlook, type FillingOutlook, type RefillOutlook } from "../../lib/refill/refill-outlook.js";
import { refillSaid } from "../../lib/refill/refill-sentences.js";
import type { DosingCalendar } from "../../lib/schedule/dosing-calendar.js";
import { plainText } from "../../lib/told/plain-text.js";
import type { Said } from "../../lib/told/said.js";

/** How the keeper refills, as the config says. */
export interface RefillWishes extends Pick<
  RefillRequest,
  "habits" | "away" | "acceptedLoss_ratio" | "hasSpareVessel"
> {
  readonly closedWith: "water" | "ice";
}

/** When to refill with the same weights again. */
export interface RefillAdvice {
  readonly at_epochMs: number;
  readonly daysLeft: RefillOutlook["daysLeft"];
  readonly usual: FillingOutlook;
  readonly sentences: readonly string[];
  /** The same with amounts and dates as such. */
  readonly said: readonly Said[];
}

const day_ms = 86_400_000;

/**
 * Undefined while nothing can be said: the charge has not settled, or no fresh one of its kind would settle in the room.
 * @throws as refillOutlook and freshReadyAfter
 */
export function refillAdvice(
  model: SupplyModel,
  estimate: SupplyEstimate,
  calendars: readonly DosingCalendar[],
  wishes: RefillWishes,
): RefillAdvice | undefined {
  if (estimate.phase === "settling" || calendars.length === 0) return undefined;
  const { charge } = model;
  const kinds = wishes.closedWith === "ice" ? (["ice", "water"] as const) : (["water", "ice"] as const);
  const [usual, ...others] = kinds.flatMap((kind): readonly FreshCharge[] => {
    const ready = freshReadyAfter(chargeOf(charge), kind, Math.round(estimate.contents_degC.value));
    return ready === undefined ? [] : [{ closedWith: kind, ready, deliverable_g: freshDeliverable_g(model) }];
  });
  if (usual?.closedWith !== wishes.closedWith) return undefined;
  const request: RefillRequest = {
    now_epochMs: estimate.at_epochMs,
    timeZone: charge.timeZone,
    calendars,
    runOut: estimate.runOut,
    deliverable: estimate.deliverable,
    fresh: [usual, ...others],
    habits: wishes.habits,
    away: wishes.away,
    acceptedLoss_ratio: wishes.acceptedLoss_ratio,
    hasSpareVessel: wishes.hasSpareVessel,
  };
  const outlook = refillOutlook(request);
  const told = refillSaid(outlook, request);
  return {
    at_epochMs: estimate.at_epochMs,
    daysLeft: outlook.daysLeft,
    usual: outlook.fillings[0],
    sentences: told.map((sentence) => plainText(sentence, charge.timeZone)),
    said: told,
  };
}

/** What the same charge gives once it has settled. */
function freshDeliverable_g(model: SupplyModel): number {
  const settled = firstSupplyState(model, {
    at_epochMs: model.charge.closedAt_epochMs + 6 * day_ms,
    valveOpen: false,
  });
  return Math.max(0, believedDeliverable(model, supplyBelief(settled)).value);
}
