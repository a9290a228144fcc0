import type { JobRunner } from "../ports/job-runner.js";
import type { Logger } from "../ports/logger.js";
import type { SupplyJob, SupplyResult } from "../supply/supply-job.js";
import { compiledWorker } from "./compiled-worker.js";
import { createJobThread } from "./job-thread.js";

/** A thread for what is left in the vessels. It stays, with the tables that it has made. */
export function createSupplyThread({
  logger,
}: {
  readonly logger: Logger;
}): JobRunner<SupplyJob, SupplyResult> {
  return createJobThread({
    workerUrl: compiledWorker("supply-worker"),
    logger,
    failed: "what is left in a vessel could not be estimated",
    fieldsOf: ({ vesselId }) => ({ vessel: vesselId }),
    idle_ms: Infinity,
    patience_ms: 120_000,
  });
}
