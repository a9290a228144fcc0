import { performance } from "node:perf_hooks";
import type { Clock } from "../ports/clock.js";

export interface AcceleratedClockOptions {
  readonly startAt_epochMs: number;
  /** Simulated seconds in a real second. */
  readonly speed: number;
  /** The clock never moves on by more at once, in simulated time: a machine that stalls makes it slow, not leap. */
  readonly longestStep_ms?: number;
}

export interface AcceleratedClock extends Clock {
  /** Before it and after `stop` the time stands still. */
  start(): void;
  /** No timer is left. Whoever still sleeps is woken only by the signal it brought. */
  stop(): void;
  /** Simulated over real time since the start. */
  speedReached(): number;
}

interface Sleeper {
  readonly due_ms: number;
  readonly wake: () => void;
}

/** Real time between two pushes; Node's timers have no finer grain. */
const pump_ms = 1;

/** Where a sleeper of this due time belongs: behind all that are due no later. */
function placeFor(sleepers: readonly Sleeper[], due_ms: number): number {
  let low = 0;
  let high = sleepers.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    const there = sleepers[middle];
    if (there !== undefined && there.due_ms <= due_ms) low = middle + 1;
    else high = middle;
  }
  return low;
}

/**
 * A clock for the demo: days go by in minutes. Sleepers wake in the order in which they are due, each seeing exactly
 * the time that it asked for, and what they started runs on before the next one wakes.
 */
export function createAcceleratedClock(options: AcceleratedClockOptions): AcceleratedClock {
  const { startAt_epochMs, speed, longestStep_ms = 1000 } = options;
  const sleepers: Sleeper[] = [];
  let elapsed_ms = 0;
  let lastPump_ms = 0;
  let realElapsed_ms = 0;
  let timer: NodeJS.Timeout | undefined;
  let turn: NodeJS.Immediate | undefined;
  let running = false;

  const pump = (): void => {
    const real_ms = performance.now();
    const realStep_ms = real_ms - lastPump_ms;
    realElapsed_ms += realStep_ms;
    lastPump_ms = real_ms;
    runUntil(elapsed_ms + Math.min(realStep_ms * speed, longestStep_ms));
  };

  const runUntil = (target_ms: number): void => {
    if (!running) return;
    const next = sleepers[0];
    if (next === undefined || next.due_ms > target_ms) {
      elapsed_ms = target_ms;
      timer = setTimeout(pump, pump_ms);
      return;
    }
    elapsed_ms = Math.max(elapsed_ms, next.due_ms);
    const woken = sleepers.splice(0, placeFor(sleepers, elapsed_ms));
    for (const sleeper of woken) sleeper.wake();
    // A turn of the event loop: promises settle and sockets are read before time goes on.
    turn = setImmediate(() => runUntil(target_ms));
  };

  return {
    now_epochMs: () => startAt_epochMs + Math.floor(elapsed_ms),
    monotonic_ms: () => elapsed_ms,
    sleep(duration_ms, signal) {
      if (signal?.aborted === true) return Promise.resolve();
      return new Promise<void>((resolve) => {
        // At least a millisecond, as with Node's own timers: a loop of empty sleeps must not hold the time up.
        const due_ms = elapsed_ms + Math.max(1, Number.isNaN(duration_ms) ? 1 : duration_ms);
        const onAbort = (): void => {
          const at = sleepers.indexOf(sleeper);
          if (at >= 0) sleepers.splice(at, 1);
          resolve();
        };
        const sleeper: Sleeper = {
          due_ms,
          wake: () => {
            signal?.removeEventListener("abort", onAbort);
            resolve();
          },
        };
        signal?.addEventListener("abort", onAbort, { once: true });
        sleepers.splice(placeFor(sleepers, due_ms), 0, sleeper);
      });
    },
    start() {
      if (running) return;
      running = true;
      lastPump_ms = performance.now();
      timer = setTimeout(pump, pump_ms);
    },
    stop() {
      running = false;
      clearTimeout(timer);
      clearImmediate(turn);
      timer = undefined;
      turn = undefined;
    },
    speedReached: () => (realElapsed_ms > 0 ? elapsed_ms / realElapsed_ms : 0),
  };
}
