import type { LearningJob, LearningResult } from "../../lib/tank/tank-learning-job.js";

/** Does the fits, which take tens of milliseconds and more, where they hold up no control pass. */
export interface LearningRunner {
  /** One job at a time. Undefined is given back where it could not be done; the job is then dropped. */
  run(job: LearningJob, done: (result: LearningResult | undefined) => void): void;
  stop(): Promise<void>;
}
