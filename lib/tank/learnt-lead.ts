import { assertInRange } from "../quantities/valid-range.js";
import { leadStep_min } from "./tank-learning-job.js";
import type { LeadOffer } from "./learnt-outlook.js";
import type { UsedLead } from "./tank-learning-state.js";

/** Within what a keeper lets the lead be learnt. */
export interface LearntLeadLimits {
  readonly atLeast_min: number;
  readonly atMost_min: number;
}

/** So far it moves in a day, so that animals and keeper see each change before the next. Judgement. */
export const leadMovesAtMost_min = 10;
const day_ms = 24 * 3_600_000;
/** One night may be an odd one. */
const leastNights = 2;

/**
 * The lead to use: it begins from the config's and goes towards the offered one by 10 min a day at most, within the keeper's
 * limits and in whole steps of 5 min. Only a number moves it: one whose interval is open, or that rests on a single night,
 * does not. A lead that the keeper changes in the config begins anew.
 * @param limits undefined: the keeper lets nothing be learnt, and the config's lead holds
 * @throws OutOfValidRangeError for limits outside 0 to 240 min
 */
export function nextUsedLead(
  used: UsedLead | undefined,
  configured_min: number,
  limits: LearntLeadLimits | undefined,
  offer: { readonly lead: LeadOffer; readonly nights: number } | undefined,
  now_epochMs: number,
): UsedLead {
  const begun: UsedLead =
    used?.configured_min === configured_min && limits !== undefined
      ? used
      : { lead_min: configured_min, configured_min, moved_epochMs: undefined };
  if (limits === undefined) return begun;
  const range = { quantity: "limit of the lead", unit: "min", minimum: 0, maximum: 240 };
  assertInRange(limits.atLeast_min, range);
  assertInRange(limits.atMost_min, range);
  const within = (lead_min: number): number =>
    Math.min(limits.atMost_min, Math.max(limits.atLeast_min, lead_min));
  const current =
    within(begun.lead_min) === begun.lead_min ? begun : { ...begun, lead_min: within(begun.lead_min) };
  const lead = offer?.lead;
  if (lead?.kind !== "reached" || lead.leadHigh80_min === undefined) return current;
  if ((offer?.nights ?? 0) < leastNights) return current;
  const sinceMove_ms = now_epochMs - (current.moved_epochMs ?? Number.NEGATIVE_INFINITY);
  // A clock that was set back does not hold the lead for longer than a day.
  if (sinceMove_ms >= 0 && sinceMove_ms < day_ms) return current;
  const wanted_min = within(Math.round(lead.lead_min / leadStep_min) * leadStep_min);
  const move_min = Math.max(
    -leadMovesAtMost_min,
    Math.min(leadMovesAtMost_min, wanted_min - current.lead_min),
  );
  if (move_min === 0) return current;
  return { ...current, lead_min: current.lead_min + move_min, moved_epochMs: now_epochMs };
}
