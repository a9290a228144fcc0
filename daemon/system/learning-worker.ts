import { parentPort } from "node:worker_threads";
import { runLearningJob, type LearningJob } from "../../lib/tank/tank-learning-job.js";

/** The thread's own program: a job comes in, its result goes out. */
parentPort?.on("message", (job: LearningJob) => {
  try {
    parentPort?.postMessage({ kind: "done", result: runLearningJob(job) });
  } catch (error) {
    parentPort?.postMessage({
      kind: "failed",
      reason: error instanceof Error ? error.message : String(error),
    });
  }
});
