import { Worker } from "node:worker_threads";
import type { JobRunner } from "../ports/job-runner.js";
import type { LogFields, Logger } from "../ports/logger.js";

export interface JobThreadOptions<Job> {
  /** The compiled program of the thread, which `answerJobs` makes. */
  readonly workerUrl: URL;
  readonly logger: Logger;
  /** What the log says when a job fails. */
  readonly failed: string;
  readonly fieldsOf: (job: Job) => LogFields;
  /** A thread that has not been asked for so long ends, and gives its memory back; Infinity: it stays. */
  readonly idle_ms: number;
  /** A job that takes longer has run away. */
  readonly patience_ms: number;
}

export type JobAnswer<Result> =
  { readonly kind: "done"; readonly result: Result } | { readonly kind: "failed"; readonly reason: string };

/** A thread for jobs, begun when the first is asked for, and anew when it has failed. */
export function createJobThread<Job, Result>(options: JobThreadOptions<Job>): JobRunner<Job, Result> {
  const { workerUrl, logger } = options;
  let worker: Worker | undefined;
  let timer: NodeJS.Timeout | undefined;
  let answer: ((result: Result | undefined, failure?: string) => void) | undefined;

  return { run, stop: () => end(undefined) };

  function run(job: Job, done: (result: Result | undefined, failure?: string) => void): void {
    answer = (result, failure) => {
      answer = undefined;
      if (failure !== undefined) logger.error({ reason: failure, ...options.fieldsOf(job) }, options.failed);
      try {
        done(result, failure);
      } catch (error) {
        // Thrown on from an event of the thread it would end the daemon.
        logger.error({ reason: error instanceof Error ? error.message : String(error) }, options.failed);
      }
    };
    worker ??= begin();
    endAfter(options.patience_ms);
    worker.postMessage(job);
  }

  function begin(): Worker {
    // Options meant for the program's own start (loaders, inspection) are not for the thread.
    const begun = new Worker(workerUrl, { execArgv: [] });
    // A daemon that ends does not wait for a job.
    begun.unref();
    begun.on("message", (message: JobAnswer<Result>) => {
      if (begun !== worker) return;
      endAfter(options.idle_ms);
      if (message.kind === "done") answer?.(message.result);
      else answer?.(undefined, message.reason);
    });
    begun.on("error", (error) => forget(begun, error.message));
    begun.on("exit", (code) => forget(begun, `its thread ended with code ${code}`));
    return begun;
  }

  function forget(ended: Worker, reason: string): void {
    if (ended !== worker) return;
    worker = undefined;
    clearTimeout(timer);
    answer?.(undefined, reason);
  }

  function endAfter(wait_ms: number): void {
    clearTimeout(timer);
    if (wait_ms === Infinity) return;
    timer = setTimeout(() => void end("it took too long"), wait_ms);
    timer.unref();
  }

  /** @param failure undefined where nobody needs to know: the daemon ends */
  async function end(failure: string | undefined): Promise<void> {
    const ending = worker;
    clearTimeout(timer);
    worker = undefined;
    answer?.(undefined, failure);
    await ending?.terminate();
  }
}
