import type { RefillOpportunity } from "./refill-times.js";
import { addDays } from "../schedule/civil-time.js";
import { startOfDate } from "./dosing-days.js";
import {
  bestBeginning,
  bestOption,
  type FreshCharge,
  type RefillOption,
  type RefillRequest,
  type RefillSetting,
} from "./refill-option.js";

/** An absence that the charge may not outlast. */
export interface AbsenceOutlook {
  readonly from: string;
  readonly to: string;
  /** The last opportunity before it, with the usual filling. */
  readonly before: RefillOption | undefined;
  /** The first opportunity after it, with the usual filling and no refill before. */
  readonly after: RefillOption | undefined;
  /** Whether a fresh charge put in before would last until then, by the median; undefined where its amount is not stated. */
  readonly freshLasts: boolean | undefined;
  /** Reduction of the dose from now on with which the charge lasts until then; undefined where no reduction does it. */
  readonly doseReduction_percent: number | undefined;
}

/** A dose below this share of today's is none. */
const leastDose_ratio = 0.1;

/** The first absence in which the charge may end: with more than the accepted chance it does not last to the return. */
export function absenceOutlook(setting: RefillSetting, usual: FreshCharge): AbsenceOutlook | undefined {
  const { request, opportunities } = setting;
  for (const { from, to } of absencesOf(request)) {
    const leaves_epochMs = startOfDate(from, request.timeZone);
    const returns_epochMs = startOfDate(addDays(to, 1), request.timeZone);
    if (returns_epochMs <= request.now_epochMs) continue;
    const afterIt = opportunities.find((opportunity) => opportunity.first_epochMs >= returns_epochMs);
    const beforeIt = opportunities.filter((opportunity) => opportunity.last_epochMs < leaves_epochMs).at(-1);
    const after = afterIt === undefined ? undefined : bestOption(setting, usual, afterIt);
    if (after !== undefined && after.lossChance_ratio <= request.acceptedLoss_ratio) continue;
    if (after === undefined && !mayEndBefore(setting, returns_epochMs)) continue;
    const before = beforeIt === undefined ? undefined : bestOption(setting, usual, beforeIt);
    const fresh_epochMs = before?.freshRunOut_epochMs;
    return {
      from,
      to,
      before,
      after,
      freshLasts:
        before === undefined || usual.deliverable_g === undefined
          ? undefined
          : fresh_epochMs === undefined || fresh_epochMs >= (after?.begins_epochMs ?? returns_epochMs),
      doseReduction_percent:
        afterIt === undefined ? undefined : doseReduction_percent(setting, usual, afterIt),
    };
  }
  return undefined;
}

function absencesOf({ away }: RefillRequest): readonly { readonly from: string; readonly to: string }[] {
  const spans = away
    .map((days) => (typeof days === "string" ? { from: days, to: days } : days))
    .sort((one, other) => (one.from < other.from ? -1 : 1));
  const joined: { from: string; to: string }[] = [];
  for (const span of spans) {
    const last = joined.at(-1);
    if (last !== undefined && span.from <= addDays(last.to, 1)) {
      joined[joined.length - 1] = { from: last.from, to: span.to > last.to ? span.to : last.to };
    } else joined.push(span);
  }
  return joined;
}

function mayEndBefore({ request, days, draws }: RefillSetting, at_epochMs: number): boolean {
  const open_ms = days.openUntil_ms(at_epochMs);
  const ended = draws.filter((draw) => draw.open_ms < open_ms).length;
  return ended / draws.length > request.acceptedLoss_ratio;
}

function doseReduction_percent(
  setting: RefillSetting,
  fresh: FreshCharge,
  opportunity: RefillOpportunity,
): number | undefined {
  const isSafe = (dose_ratio: number): boolean =>
    bestBeginning(setting, fresh, opportunity, dose_ratio).loss.chance_ratio <=
    setting.request.acceptedLoss_ratio;
  if (!isSafe(leastDose_ratio)) return undefined;
  let [safe, unsafe] = [leastDose_ratio, 1];
  while (unsafe - safe > 0.002) {
    const middle = (safe + unsafe) / 2;
    if (isSafe(middle)) safe = middle;
    else unsafe = middle;
  }
  return Math.ceil(100 * (1 - safe));
}
