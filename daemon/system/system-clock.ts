import { performance } from "node:perf_hooks";
import { setTimeout as delay } from "node:timers/promises";
import type { Clock } from "../ports/clock.js";

export const systemClock: Clock = {
  now_epochMs: () => Date.now(),
  monotonic_ms: () => performance.now(),
  sleep: async (duration_ms, signal) => {
    if (signal?.aborted === true) return;
    await delay(duration_ms, undefined, signal === undefined ? {} : { signal }).catch((error: unknown) => {
      if (!(error instanceof Error && error.name === "AbortError")) throw error;
    });
  },
};
