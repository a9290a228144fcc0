import { schedule } from "node-cron";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { SiteStore } from "../ports/site-store.js";

/** Rolls up and ages the history once an hour. Never on the control path; a run does not overlap the next. */
export function scheduleHousekeeping(ports: {
  readonly store: SiteStore;
  readonly clock: Clock;
  readonly logger: Logger;
}): () => Promise<void> {
  const task = schedule(
    "17 * * * *",
    async () => {
      const outcome = await ports.store.runHousekeeping(ports.clock.now_epochMs());
      if (outcome.kind === "failed") ports.logger.error({ reason: outcome.reason }, "housekeeping failed");
    },
    { noOverlap: true },
  );
  return async () => {
    await task.destroy();
  };
}
