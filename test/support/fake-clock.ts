import type { Clock } from "../../daemon/ports/clock.js";

interface Timer {
  readonly due_monotonicMs: number;
  readonly run: () => void;
}

/** Promises that a woken sleeper may have to go through before it waits again; measured chains have two or three. */
const turnsOfPromises = 12;

/** Time that moves only when a test says so. Civil and monotonic time go on together until `setCivilTime`. */
export class FakeClock implements Clock {
  #civilOffset_ms: number;
  #elapsed_ms = 0;
  readonly #timers: Timer[] = [];

  constructor(startAt_epochMs: number) {
    this.#civilOffset_ms = startAt_epochMs;
  }

  now_epochMs(): number {
    return this.#civilOffset_ms + this.#elapsed_ms;
  }

  monotonic_ms(): number {
    return this.#elapsed_ms;
  }

  /** Somebody sets the clock: civil time jumps, no duration changes. */
  setCivilTime(now_epochMs: number): void {
    this.#civilOffset_ms = now_epochMs - this.#elapsed_ms;
  }

  /** Calls back once so much time has gone by, whatever the civil clock does; returns how to call it off. */
  after(duration_ms: number, run: () => void): () => void {
    const timer = { due_monotonicMs: this.#elapsed_ms + Math.max(0, duration_ms), run };
    const later = this.#timers.findIndex((other) => other.due_monotonicMs > timer.due_monotonicMs);
    this.#timers.splice(later < 0 ? this.#timers.length : later, 0, timer);
    return () => {
      const at = this.#timers.indexOf(timer);
      if (at >= 0) this.#timers.splice(at, 1);
    };
  }

  sleep(duration_ms: number, signal?: AbortSignal): Promise<void> {
    if (signal?.aborted === true) return Promise.resolve();
    return new Promise((resolve) => {
      const wake = (): void => {
        callOff();
        // A signal that lives long must not collect the listeners of all that slept by it.
        signal?.removeEventListener("abort", wake);
        resolve();
      };
      const callOff = this.after(duration_ms, wake);
      signal?.addEventListener("abort", wake);
    });
  }

  /** Lets time go by. Timers run in order, each at its own instant; what they woke runs before the next one. */
  async advance(duration_ms: number): Promise<void> {
    const target_ms = this.#elapsed_ms + duration_ms;
    await settled();
    for (let next = this.#takeDue(target_ms); next !== undefined; next = this.#takeDue(target_ms)) {
      next.run();
      await settled();
    }
    this.#elapsed_ms = target_ms;
  }

  /** As `advance`, at once and without waiting for promises: only for a test in which nobody sleeps. */
  advanceWithoutWaiting(duration_ms: number): void {
    const target_ms = this.#elapsed_ms + duration_ms;
    for (let next = this.#takeDue(target_ms); next !== undefined; next = this.#takeDue(target_ms)) next.run();
    this.#elapsed_ms = target_ms;
  }

  #takeDue(until_ms: number): Timer | undefined {
    const next = this.#timers[0];
    if (next === undefined || next.due_monotonicMs > until_ms) return undefined;
    this.#timers.shift();
    this.#elapsed_ms = Math.max(this.#elapsed_ms, next.due_monotonicMs);
    return next;
  }
}

async function settled(): Promise<void> {
  for (let turn = 0; turn < turnsOfPromises; turn += 1) await Promise.resolve();
}
