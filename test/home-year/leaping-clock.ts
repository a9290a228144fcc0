import type { Clock } from "../../daemon/ports/clock.js";

interface Sleeper {
  readonly due_ms: number;
  readonly wake: () => void;
}

/** Promises that a woken sleeper may have to go through before it waits again. */
const turnsOfPromises = 12;

/** After the end of a life. */
const longestPause_ms = 1000;
const patience_ms = 500;

/**
 * Time that leaps from one instant to another: whoever is due by then wakes once, in the order of their due times, and sees the
 * instant that was leapt to. A loop that sleeps a second so goes round once in a leap, however long that is.
 */
export class LeapingClock implements Clock {
  readonly #startAt_epochMs: number;
  #elapsed_ms = 0;
  #sleepers: Sleeper[] = [];

  constructor(startAt_epochMs: number) {
    this.#startAt_epochMs = startAt_epochMs;
  }

  now_epochMs(): number {
    return this.#startAt_epochMs + this.#elapsed_ms;
  }

  monotonic_ms(): number {
    return this.#elapsed_ms;
  }

  sleep(duration_ms: number, signal?: AbortSignal): Promise<void> {
    if (signal?.aborted === true) return Promise.resolve();
    return new Promise((resolve) => {
      const sleeper: Sleeper = {
        due_ms: this.#elapsed_ms + Math.max(1, duration_ms),
        wake: () => {
          signal?.removeEventListener("abort", onAbort);
          resolve();
        },
      };
      const onAbort = (): void => {
        this.#sleepers = this.#sleepers.filter((other) => other !== sleeper);
        resolve();
      };
      signal?.addEventListener("abort", onAbort, { once: true });
      this.#sleepers.push(sleeper);
    });
  }

  /** Time is another; nobody has woken yet. */
  leapTo(at_epochMs: number): void {
    this.#elapsed_ms = Math.max(this.#elapsed_ms, at_epochMs - this.#startAt_epochMs);
  }

  /** Wakes all that are due; what each does until it waits again is done before the next one wakes. */
  async wakeDue(): Promise<void> {
    const due = this.#sleepers
      .filter(({ due_ms }) => due_ms <= this.#elapsed_ms)
      .sort((one, other) => one.due_ms - other.due_ms);
    if (due.length === 0) return;
    this.#sleepers = this.#sleepers.filter(({ due_ms }) => due_ms > this.#elapsed_ms);
    for (const { wake } of due) {
      wake();
      for (let turn = 0; turn < turnsOfPromises; turn += 1) await Promise.resolve();
    }
  }
}

/** The time as one life of the daemon has it: its civil clock may be wrong, and it ends. */
export class LifeTime implements Clock {
  readonly #true: LeapingClock;
  #isOver = false;
  #afterwards_ms = 0;
  civilOffset_ms = 0;

  constructor(trueTime: LeapingClock) {
    this.#true = trueTime;
  }

  now_epochMs(): number {
    return this.#true.now_epochMs() + this.civilOffset_ms + this.#afterwards_ms;
  }

  monotonic_ms(): number {
    return this.#true.monotonic_ms() + this.#afterwards_ms;
  }

  sleep(duration_ms: number, signal?: AbortSignal): Promise<void> {
    if (!this.#isOver) return this.#true.sleep(duration_ms, signal);
    this.#afterwards_ms += duration_ms;
    // A limit of patience is waited for in earnest, the pause of a loop is not.
    return new Promise((resolve) => {
      if (duration_ms > longestPause_ms) setTimeout(resolve, patience_ms, undefined);
      else setImmediate(resolve);
    });
  }

  /** What is left to be cleared away of this life goes by without a wait. */
  end(): void {
    this.#isOver = true;
  }
}
