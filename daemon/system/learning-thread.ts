import type { LearningRunner } from "../tank/tank-learner.js";
import type { Logger } from "../ports/logger.js";
import { createJobThread } from "./job-thread.js";
import { compiledWorker } from "./compiled-worker.js";

/** A thread for the fits of the tanks. */
export function createLearningThread({ logger }: { readonly logger: Logger }): LearningRunner {
  return createJobThread({
    workerUrl: compiledWorker("learning-worker"),
    logger,
    failed: "a fit of a tank failed",
    fieldsOf: ({ kind }) => ({ job: kind }),
    idle_ms: 60_000,
    patience_ms: 60_000,
  });
}
