import type { JobRunner } from "../ports/job-runner.js";
import type { Logger } from "../ports/logger.js";
import type { PageJob, PageResult } from "../page/page-job.js";
import { compiledWorker } from "./compiled-worker.js";
import { createJobThread } from "./job-thread.js";

/** A thread for what the page asks: nobody at a browser holds up what is left in a vessel. */
export function createPageThread({ logger }: { readonly logger: Logger }): JobRunner<PageJob, PageResult> {
  return createJobThread({
    workerUrl: compiledWorker("page-worker"),
    logger,
    failed: "what the page asked could not be worked out",
    fieldsOf: ({ kind }) => ({ job: kind }),
    idle_ms: 120_000,
    patience_ms: 30_000,
  });
}
