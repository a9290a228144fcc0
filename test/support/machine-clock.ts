import { setTimeout as sleepFor } from "node:timers/promises";
import type { Clock } from "../../daemon/ports/clock.js";

/** The real clock, for tests that wait for a real disk. */
export const machineClock: Clock = {
  now_epochMs: () => Date.now(),
  monotonic_ms: () => performance.now(),
  sleep: (duration_ms, signal) =>
    sleepFor(duration_ms, undefined, signal === undefined ? {} : { signal }).catch(() => undefined),
};
