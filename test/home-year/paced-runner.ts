import type { JobRunner } from "../../daemon/ports/job-runner.js";

/** Does its work at once, and answers after a fixed simulated time, as a thread on a slow machine. */
export class PacedRunner<Work, Result> implements JobRunner<Work, Result> {
  readonly #worker: JobRunner<Work, Result>;
  readonly #now_ms: () => number;
  readonly #takes_ms: number;
  #answer: { readonly due_ms: number; readonly give: () => void } | undefined;

  constructor(worker: JobRunner<Work, Result>, now_ms: () => number, takes_ms: number) {
    this.#worker = worker;
    this.#now_ms = now_ms;
    this.#takes_ms = takes_ms;
  }

  run(job: Work, done: (result: Result | undefined, failure?: string) => void): void {
    const due_ms = this.#now_ms() + this.#takes_ms;
    this.#worker.run(job, (result, failure) => {
      this.#answer = { due_ms, give: () => done(result, failure) };
    });
  }

  answerDue(): void {
    const answer = this.#answer;
    if (answer === undefined || answer.due_ms > this.#now_ms()) return;
    this.#answer = undefined;
    answer.give();
  }

  stop(): Promise<void> {
    this.#answer = undefined;
    return this.#worker.stop();
  }
}
