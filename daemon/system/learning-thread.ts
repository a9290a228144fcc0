import { Worker } from "node:worker_threads";
import type { LearningResult } from "../../lib/tank/tank-learning-job.js";
import type { LearningRunner } from "../ports/learning-runner.js";
import type { Logger } from "../ports/logger.js";

// Node runs the compiled thread; where this file itself is run from its source, as tests do, that lies in dist/.
const workerUrl = import.meta.url.endsWith(".ts")
  ? new URL("../../dist/daemon/system/learning-worker.js", import.meta.url)
  : new URL("./learning-worker.js", import.meta.url);

/** A thread that has not been asked for so long ends, and gives its memory back. */
const idle_ms = 60_000;
/** A fit that takes longer than this has run away. */
const patience_ms = 60_000;

type FromWorker =
  | { readonly kind: "done"; readonly result: LearningResult }
  | { readonly kind: "failed"; readonly reason: string };

/** A thread for the fits, begun when the first is asked for. */
export function createLearningThread({ logger }: { readonly logger: Logger }): LearningRunner {
  let worker: Worker | undefined;
  let timer: NodeJS.Timeout | undefined;
  let answer: ((result: LearningResult | undefined, failure?: string) => void) | undefined;

  return { run, stop };

  function run(
    job: Parameters<LearningRunner["run"]>[0],
    done: (result: LearningResult | undefined) => void,
  ): void {
    answer = (result, failure) => {
      answer = undefined;
      if (failure !== undefined) logger.error({ reason: failure, fit: job.kind }, "a fit of a tank failed");
      done(result);
    };
    worker ??= begin();
    endAfter(patience_ms);
    worker.postMessage(job);
  }

  function begin(): Worker {
    // Options meant for the program's own start (loaders, inspection) are not for the thread.
    const begun = new Worker(workerUrl, { execArgv: [] });
    // A daemon that ends does not wait for a fit.
    begun.unref();
    begun.on("message", (message: FromWorker) => {
      if (begun !== worker) return;
      endAfter(idle_ms);
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
    timer = setTimeout(() => void end(), wait_ms);
    timer.unref();
  }

  async function end(): Promise<void> {
    const ending = worker;
    clearTimeout(timer);
    worker = undefined;
    answer?.(undefined, "it took too long, or the daemon ends");
    await ending?.terminate();
  }

  function stop(): Promise<void> {
    return end();
  }
}
