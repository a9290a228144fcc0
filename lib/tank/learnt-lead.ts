import { assertInRange } from "../quantities/valid-range.js";
import { leadStep_min } from "./tank-learning-job.js";
import type { LeadOffer } from "./learnt-outlook.js";
import { leadAfterPause_h } from "./lead-after-pause.js";
import type { LeadInUse, UsedLead } from "./tank-learning-state.js";

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

/** What nights and mornings offer, and from how many nights. */
export interface OfferedLead {
  readonly lead: LeadOffer;
  readonly nights: number;
}

/**
 * The leads to use: after a night, and after each shorter pause of the week, after which some gas is left and less lead is
 * honest; that one is never longer than after a night. Each begins from the config's and goes towards the offered one by 10 min a day at most, within the keeper's
 * limits and in whole steps of 5 min. Only a number moves it: one whose interval is open, or that rests on a single night,
 * does not. A lead that the keeper changes in the config begins anew.
 * @param shortPauses_min  of the windows that do not begin after a night
 * @param limits undefined: the keeper lets nothing be learnt, and the config's lead holds
 * @throws OutOfValidRangeError for limits outside 0 to 240 min
 */
export function nextUsedLead(
  used: UsedLead | undefined,
  configured_min: number,
  limits: LearntLeadLimits | undefined,
  offer: OfferedLead | undefined,
  now_epochMs: number,
  shortPauses_min: readonly number[] = [],
): UsedLead {
  const known: UsedLead =
    used?.configured_min === configured_min && limits !== undefined
      ? used
      : { lead_min: configured_min, configured_min, moved_epochMs: undefined };
  const begun = withPauses(known, shortPauses_min);
  if (limits === undefined) return begun;
  const range = { quantity: "limit of the lead", unit: "min", minimum: 0, maximum: 240 };
  assertInRange(limits.atLeast_min, range);
  assertInRange(limits.atMost_min, range);
  const within = (lead_min: number): number =>
    Math.min(limits.atMost_min, Math.max(limits.atLeast_min, lead_min));
  const current = leadsWithin(begun, limits);
  const lead = offer?.lead;
  if (lead?.kind !== "reached" || lead.leadHigh80_min === undefined) return current;
  if ((offer?.nights ?? 0) < leastNights) return current;
  const sinceMove_ms = now_epochMs - (current.moved_epochMs ?? Number.NEGATIVE_INFINITY);
  // A clock that was set back does not hold the lead for longer than a day.
  if (sinceMove_ms >= 0 && sinceMove_ms < day_ms) return current;
  const wholeSteps_min = (lead_min: number): number =>
    within(Math.round(lead_min / leadStep_min) * leadStep_min);
  const wanted_min = wholeSteps_min(lead.lead_min);
  const afterPauses = current.afterPauses?.map(({ pause_min, lead_min }): LeadInUse => {
    if (lead.pausing === undefined) return { pause_min, lead_min };
    const honest_min = 60 * leadAfterPause_h(lead.pausing, pause_min / 60);
    // Within a step the tank is as empty as after a night.
    const isLikeNight = honest_min > lead.lead_min - leadStep_min;
    const wantedHere_min = isLikeNight ? wanted_min : wholeSteps_min(Math.min(wanted_min, honest_min));
    return { pause_min, lead_min: moved_min(lead_min, wantedHere_min) };
  });
  const lead_min = moved_min(current.lead_min, wanted_min);
  const next = { ...current, lead_min, ...(afterPauses === undefined ? {} : { afterPauses }) };
  return isSameLead(next, current) ? current : { ...next, moved_epochMs: now_epochMs };
}

function moved_min(lead_min: number, wanted_min: number): number {
  return lead_min + Math.max(-leadMovesAtMost_min, Math.min(leadMovesAtMost_min, wanted_min - lead_min));
}

/** A pause that was not there before begins from the config's lead. */
function withPauses(used: UsedLead, pauses_min: readonly number[]): UsedLead {
  if (pauses_min.length === 0) {
    if (used.afterPauses === undefined) return used;
    return {
      lead_min: used.lead_min,
      configured_min: used.configured_min,
      moved_epochMs: used.moved_epochMs,
    };
  }
  const leadAfter = (pause_min: number): number =>
    used.afterPauses?.find((known) => known.pause_min === pause_min)?.lead_min ?? used.configured_min;
  return {
    ...used,
    afterPauses: pauses_min.map((pause_min) => ({ pause_min, lead_min: leadAfter(pause_min) })),
  };
}

/** Other limits of the keeper count at once. */
export function leadsWithin(used: UsedLead, { atLeast_min, atMost_min }: LearntLeadLimits): UsedLead {
  const within = (lead_min: number): number => Math.min(atMost_min, Math.max(atLeast_min, lead_min));
  const afterPauses = used.afterPauses?.map((one) => ({ ...one, lead_min: within(one.lead_min) }));
  const next = {
    ...used,
    lead_min: within(used.lead_min),
    ...(afterPauses === undefined ? {} : { afterPauses }),
  };
  return isSameLead(next, used) ? used : next;
}

/** Whether gas opens as before by two leads. */
export function isSameLead(one: UsedLead, other: UsedLead): boolean {
  const key = ({ lead_min, afterPauses = [] }: UsedLead): string => JSON.stringify([lead_min, afterPauses]);
  return key(one) === key(other);
}
