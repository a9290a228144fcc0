import { checkRepeatedDays } from "./check-repeated-days.js";
import { isCivilDate, isTimeOfDay, minuteOfDay } from "../../lib/schedule/civil-time.js";
import type { KeyPath } from "./config-faults.js";
import type { CheckContext } from "./config-view.js";
import { refillDefaults } from "./refill-schema.js";

/** Whether a refill fits into the time that is left for it. */
export function checkRefill(context: CheckContext, vessel: KeyPath): void {
  const { view } = context;
  const path = [...vessel, "refill"];
  checkRepeatedDays(context, path);
  checkAhead(context, path);
  const timeAt = (key: "from" | "until"): string | undefined =>
    view.has([...path, key]) ? view.text([...path, key]) : refillDefaults[key];
  const from = timeAt("from");
  const until = timeAt("until");
  const handling_min = view.number([...path, "handling_min"], refillDefaults.handling_min);
  if (from === undefined || until === undefined || handling_min === undefined) return;
  if (!isTimeOfDay(from) || !isTimeOfDay(until)) return;
  const left_min = minuteOfDay(until) - minuteOfDay(from);
  const place = [...path, view.has([...path, "until"]) ? "until" : "from"];
  if (left_min <= 0) {
    context.fault(place, {
      what: `ends the time for a refill (${until}) before it begins (${from})`,
      allowed: "until later than from, on the same day",
      todo: "exchange the two times, or correct one",
    });
  } else if (left_min < handling_min) {
    context.fault(place, {
      what: `leaves ${left_min} min from ${from} to ${until}, less than the handling_min of ${handling_min}`,
      allowed: `at least ${handling_min} min from from to until`,
      todo: "allow more time, or make handling_min what a refill really takes you",
    });
  }
}

function checkAhead(context: CheckContext, refill: KeyPath): void {
  const { view } = context;
  const told_days = view.number([...refill, "toldAhead_days"], refillDefaults.toldAhead_days);
  const urgent_days = view.number([...refill, "urgentAhead_days"], refillDefaults.urgentAhead_days);
  if (told_days === undefined || urgent_days === undefined || urgent_days < told_days) return;
  const key = view.has([...refill, "urgentAhead_days"]) ? "urgentAhead_days" : "toldAhead_days";
  context.fault([...refill, key], {
    what: `makes the urgent alarm (${urgent_days} days ahead) come no later than the first (${told_days} days ahead)`,
    allowed: "urgentAhead_days less than toldAhead_days",
    todo: "exchange the two, or correct one",
  });
}

/** Spans of dates that end before they begin. */
export function checkAway(context: CheckContext): void {
  const { view } = context;
  for (let index = 0; index < view.length(["site", "away"]); index += 1) {
    const path = ["site", "away", index];
    const from = view.text([...path, "from"]);
    const to = view.text([...path, "to"]);
    if (from === undefined || to === undefined || from <= to) continue;
    if (!isCivilDate(from) || !isCivilDate(to)) continue;
    context.fault(path, {
      what: `ends (${to}) before it begins (${from})`,
      allowed: "from on or before to",
      todo: "exchange the two dates",
    });
  }
}
