import { schedule } from "node-cron";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { SiteStore } from "../ports/site-store.js";

interface HousekeepingPorts {
  readonly store: Pick<SiteStore, "runHousekeeping" | "latestKnown_epochMs">;
  readonly clock: Pick<Clock, "now_epochMs">;
  readonly logger: Logger;
  readonly isClockPlausible: () => boolean;
}

/**
 * From one run to the next time moves on by this at most. A clock that is years ahead for an hour dates readings ahead too, so
 * that the whole history would look old; and a house that stood empty for months is made up for within days.
 */
const longestStep_ms = 86_400_000;

/** Rolls up and ages the history once an hour. Never on the control path; a run does not overlap the next. */
export function scheduleHousekeeping(ports: HousekeepingPorts): () => Promise<void> {
  const run = createHousekeeping(ports);
  const task = schedule("17 * * * *", run, { noOverlap: true });
  return async () => {
    await task.destroy();
  };
}

/** One run each time that it is called, none by a clock that is not believed. */
export function createHousekeeping({
  store,
  clock,
  logger,
  isClockPlausible,
}: HousekeepingPorts): () => Promise<void> {
  let reached_epochMs = store.latestKnown_epochMs() ?? clock.now_epochMs();
  return async () => {
    if (!isClockPlausible()) return;
    reached_epochMs = Math.min(clock.now_epochMs(), reached_epochMs + longestStep_ms);
    const outcome = await store.runHousekeeping(reached_epochMs);
    if (outcome.kind === "failed") logger.error({ reason: outcome.reason }, "housekeeping failed");
  };
}
