import type { StoreFault } from "./store-fault.js";
import type { StoreTiming } from "./store-timing.js";

export interface Outage {
  readonly fault: StoreFault;
  readonly since_monotonicMs: number;
}

/** The time in which the store cannot write: its first fault, its latest reason, and when to try again. */
export class StoreOutages {
  readonly #timing: Pick<StoreTiming, "firstRetry_ms" | "longestRetry_ms">;
  #current: Outage | undefined;
  #retryAt_monotonicMs = 0;
  #retry_ms: number;

  constructor(timing: Pick<StoreTiming, "firstRetry_ms" | "longestRetry_ms">) {
    this.#timing = timing;
    this.#retry_ms = timing.firstRetry_ms;
  }

  get current(): Outage | undefined {
    return this.#current;
  }

  /** True where an outage begins with this fault. */
  add(fault: StoreFault, now_monotonicMs: number): boolean {
    const before = this.#current;
    // Once only a reopening can help, later and milder faults do not change that.
    const needsReopen = fault.needsReopen || (before?.fault.needsReopen ?? false);
    const since_monotonicMs = before?.since_monotonicMs ?? now_monotonicMs;
    this.#current = { fault: { ...fault, needsReopen }, since_monotonicMs };
    return before === undefined;
  }

  /** Each wait is twice the one before. */
  waitForRetry(now_monotonicMs: number): void {
    this.#retryAt_monotonicMs = now_monotonicMs + this.#retry_ms;
    this.#retry_ms = Math.min(this.#retry_ms * 2, this.#timing.longestRetry_ms);
  }

  isRetryDue(now_monotonicMs: number): boolean {
    return now_monotonicMs >= this.#retryAt_monotonicMs;
  }

  end(): void {
    this.#current = undefined;
    this.#retry_ms = this.#timing.firstRetry_ms;
  }
}
