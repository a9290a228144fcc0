import type { DosingCalendar } from "./dosing-calendar.js";

/** Gas that opens by another calendar than yesterday's opens no sooner than this after the change. A judgement. */
export const leastNotice_min = 60;

/**
 * Whether one calendar may take another's place at this instant: outside the windows of both, with nothing due by either for
 * an hour. A window that was entered neither ends nor moves by it, and gas never opens by surprise.
 * @throws OutOfValidRangeError for an instant outside the years 1900 to 2500
 */
export function mayChangeCalendar(
  before: DosingCalendar,
  after: DosingCalendar,
  now_epochMs: number,
): boolean {
  return [before, after].every((calendar) => {
    const state = calendar.stateAt(now_epochMs);
    if (state.kind === "open") return false;
    return state.opens_epochMs === undefined || state.opens_epochMs - now_epochMs >= leastNotice_min * 60_000;
  });
}
