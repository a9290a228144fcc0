/** Does work that takes tens of milliseconds and more where it holds up no control pass. */
export interface JobRunner<Job, Result> {
  /** One job at a time. Undefined is given back where it could not be done. */
  run(job: Job, done: (result: Result | undefined) => void): void;
  stop(): Promise<void>;
}
