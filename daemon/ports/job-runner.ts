/** Does work that takes tens of milliseconds and more where it holds up no control pass. */
export interface JobRunner<Job, Result> {
  /** One job at a time. Undefined, with the reason, is given back where it could not be done. */
  run(job: Job, done: (result: Result | undefined, failure?: string) => void): void;
  stop(): Promise<void>;
}
