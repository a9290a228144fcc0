import { parentPort } from "node:worker_threads";
import type { JobAnswer } from "./job-thread.js";

/** The thread's own program: a job comes in, its result goes out. */
export function answerJobs(work: (job: never) => unknown): void {
  const tell = (answer: JobAnswer<unknown>): void => parentPort?.postMessage(answer);
  parentPort?.on("message", (job: unknown) => {
    try {
      tell({ kind: "done", result: work(job as never) });
    } catch (error) {
      tell({ kind: "failed", reason: error instanceof Error ? error.message : String(error) });
    }
  });
}
