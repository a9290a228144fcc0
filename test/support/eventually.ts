import { performance } from "node:perf_hooks";
import { setTimeout as sleep } from "node:timers/promises";

/**
 * Looks again until `look` returns without throwing; then its result. Once the time is over, what it threw last.
 * For real processes and real time, in a test and in a command.
 */
export async function eventually<T>(
  look: () => T | Promise<T>,
  { timeout_ms, interval_ms = 20 }: { readonly timeout_ms: number; readonly interval_ms?: number },
): Promise<T> {
  const end_ms = performance.now() + timeout_ms;
  for (;;) {
    try {
      return await look();
    } catch (error) {
      if (performance.now() >= end_ms) throw error;
      await sleep(interval_ms);
    }
  }
}
