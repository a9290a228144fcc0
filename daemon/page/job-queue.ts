import type { JobRunner } from "../ports/job-runner.js";

/** Whoever asks while so many wait asks again later. */
const mostWaiting = 8;

export class TooManyAskError extends Error {
  override readonly name = "TooManyAskError";
  constructor() {
    super("too many ask at once; try again in a moment");
  }
}

/** One job after the other, and few that wait. */
export interface JobQueue<Job, Result> {
  /** @throws TooManyAskError where too many wait; an Error with the reason where the job could not be done */
  ask(job: Job): Promise<Result>;
}

export function createJobQueue<Job, Result>(
  runner: Pick<JobRunner<Job, Result>, "run">,
): JobQueue<Job, Result> {
  let waiting = 0;
  let last: Promise<unknown> = Promise.resolve();
  return {
    ask: (job) => {
      if (waiting >= mostWaiting) return Promise.reject(new TooManyAskError());
      waiting += 1;
      const answer = last.then(
        () =>
          new Promise<Result>((resolve, reject) =>
            runner.run(job, (result, failure) => {
              if (result === undefined) reject(new Error(failure ?? "it could not be worked out"));
              else resolve(result);
            }),
          ),
      );
      last = answer.then(
        () => (waiting -= 1),
        () => (waiting -= 1),
      );
      return answer;
    },
  };
}
