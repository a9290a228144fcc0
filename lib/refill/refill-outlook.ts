import { assertInRange } from "../quantities/valid-range.js";
import { absenceOutlook, type AbsenceOutlook } from "./absence-outlook.js";
import { dosingDays, dosingDaysLeft, type DosingDaysLeft } from "./dosing-days.js";
import { runOutDrawsOf } from "./outlook-draws.js";
import {
  bestOption,
  leastLossBy,
  type FreshCharge,
  type RefillOption,
  type RefillRequest,
  type RefillSetting,
} from "./refill-option.js";
import { refillOpportunities } from "./refill-times.js";

/**
 * - wait: later opportunities are as safe as they need to be
 * - refill-next: the next opportunity is the last sensible one
 * - costs-days: every opportunity costs a dosing day with more than the accepted chance
 * - no-opportunity: in the time that was looked at nobody is there to refill
 */
export type RefillVerdict = "wait" | "refill-next" | "costs-days" | "no-opportunity";

/** The outlook for one way to fill. */
export interface FillingOutlook {
  readonly closedWith: "water" | "ice";
  readonly verdict: RefillVerdict;
  readonly next: RefillOption | undefined;
  /** The last with at most the accepted chance of losing a day; undefined where none is so safe. */
  readonly lastSensible: RefillOption | undefined;
  /** The last at which a day is more likely kept than lost. */
  readonly latestPossible: RefillOption | undefined;
  /** Where nothing is safe enough: the one that costs least. */
  readonly leastLoss: RefillOption | undefined;
  /** What waiting from the next to the last sensible opportunity saves. */
  readonly waitingSaves_g: number;
  /** Whether that is more than a twentieth of what is left. */
  readonly isWorthWaiting: boolean;
  /** true: later opportunities than those looked at may be sensible too. */
  readonly isBeyondOutlook: boolean;
}

export interface RefillOutlook {
  readonly daysLeft: DosingDaysLeft;
  /** In the order of the request. */
  readonly fillings: readonly [FillingOutlook, ...(readonly FillingOutlook[])];
  readonly absence: AbsenceOutlook | undefined;
}

const day_ms = 86_400_000;
/** No refill is planned further ahead than this; a calendar changes. */
const outlook_days = 200;
const afterRunOut_days = 60;
const latestChance_ratio = 0.5;
const worthWaiting_ratio = 0.05;

/**
 * When to refill so that no dosing day is lost: by the run-out's interval, the ready time of the fresh charge, the dosing
 * calendar and the hours at which somebody is there. A day counts as lost when it misses more than a tenth of its open time.
 * What is drawn off is taken as even over the open time, and leaks as part of it. Looks 200 days ahead at most.
 * @throws OutOfValidRangeError for an accepted chance outside 0.01 to 0.5, and as readyDrawsOf_ms, refillOpportunities
 * @throws UnknownNameError as dosingDays, refillOpportunities [IANAtz]
 */
export function refillOutlook(request: RefillRequest): RefillOutlook {
  const { now_epochMs, timeZone, runOut, away, habits } = request;
  assertInRange(request.acceptedLoss_ratio, {
    quantity: "accepted chance of losing a dosing day",
    unit: "",
    minimum: 0.01,
    maximum: 0.5,
  });
  const end_epochMs = now_epochMs + outlook_days * day_ms;
  // The run-out's upper tail, then long enough for an absence and what follows it.
  const tail_ms = 2 * Math.max(0, runOut.high80_epochMs - runOut.median_epochMs);
  const to_epochMs = Math.min(
    end_epochMs,
    Math.max(now_epochMs, runOut.median_epochMs) + tail_ms + afterRunOut_days * day_ms,
  );
  const days = dosingDays(request.calendars, timeZone, {
    from_epochMs: now_epochMs,
    to_epochMs: to_epochMs + afterRunOut_days * day_ms,
  });
  const setting: RefillSetting = {
    request,
    days,
    draws: runOutDrawsOf(runOut, request.deliverable, days),
    opportunities: refillOpportunities(habits, away, timeZone, { from_epochMs: now_epochMs, to_epochMs }),
  };
  const [usual, ...others] = request.fresh;
  return {
    daysLeft: dosingDaysLeft(days, runOut),
    fillings: [fillingOutlook(setting, usual), ...others.map((fresh) => fillingOutlook(setting, fresh))],
    absence: absenceOutlook(setting, usual),
  };
}

function fillingOutlook(setting: RefillSetting, fresh: FreshCharge): FillingOutlook {
  const { request } = setting;
  const options = optionsOf(setting, fresh);
  const next = options[0];
  const lastSensible = options
    .filter((option) => option.lossChance_ratio <= request.acceptedLoss_ratio)
    .at(-1);
  const latestPossible = options.filter((option) => option.lossChance_ratio <= latestChance_ratio).at(-1);
  const leastLoss =
    lastSensible === undefined
      ? leastOf(options, fresh.deliverable_g ?? request.deliverable.value_g)
      : undefined;
  const saves_g =
    next === undefined || lastSensible === undefined
      ? 0
      : Math.max(0, next.unused.value_g - lastSensible.unused.value_g);
  return {
    closedWith: fresh.closedWith,
    verdict: verdictOf(next, lastSensible),
    next,
    lastSensible,
    latestPossible,
    leastLoss,
    waitingSaves_g: saves_g,
    isWorthWaiting: saves_g > worthWaiting_ratio * request.deliverable.value_g,
    isBeyondOutlook: lastSensible !== undefined && lastSensible.date === setting.opportunities.at(-1)?.date,
  };
}

/**
 * The opportunities up to where every later one is known to be neither sensible nor possible, nor to cost less: the days that are
 * missed until then are lost whatever the fresh charge does.
 */
function optionsOf(setting: RefillSetting, fresh: FreshCharge): readonly RefillOption[] {
  const options: RefillOption[] = [];
  const { acceptedLoss_ratio } = setting.request;
  let hasSensible = false;
  let leastExpected_days = Infinity;
  for (const opportunity of setting.opportunities) {
    if (options.length > 0) {
      const least = leastLossBy(setting, opportunity.first_epochMs);
      const costsMore = hasSensible || least.expected_days > leastExpected_days;
      if (least.chance_ratio > Math.max(latestChance_ratio, acceptedLoss_ratio) && costsMore) break;
    }
    const option = bestOption(setting, fresh, opportunity);
    options.push(option);
    hasSensible ||= option.lossChance_ratio <= acceptedLoss_ratio;
    leastExpected_days = Math.min(leastExpected_days, option.expectedLost_days);
  }
  return options;
}

function verdictOf(next: RefillOption | undefined, lastSensible: RefillOption | undefined): RefillVerdict {
  if (next === undefined) return "no-opportunity";
  if (lastSensible === undefined) return "costs-days";
  return lastSensible === next ? "refill-next" : "wait";
}

/**
 * What costs least where every opportunity costs something, among equals the latest. Gas that is thrown out counts with what the next
 * refill costs, which it brings nearer by its share of a charge: a charge changed early costs its day the sooner again.
 */
function leastOf(options: readonly RefillOption[], charge_g: number): RefillOption | undefined {
  const least_days = Math.min(...options.map(({ expectedLost_days }) => expectedLost_days));
  const cost_days = ({ expectedLost_days, unused }: RefillOption): number =>
    expectedLost_days + (charge_g > 0 ? (least_days * unused.value_g) / charge_g : 0);
  return options.reduce<RefillOption | undefined>(
    (best, option) => (best === undefined || cost_days(option) <= cost_days(best) ? option : best),
    undefined,
  );
}
