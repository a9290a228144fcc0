import { existsSync } from "node:fs";
import type { Synchronisation } from "../../lib/schedule/clock-plausibility.js";

/** Files by which time services say that they have set the clock since the start. */
const signs = ["/run/systemd/timesync/synchronized", "/run/chrony/synchronized"];

/** What the operating system says; "unknown" where no sign is found, which is not a no. Asked at most once a minute. */
export function createSynchronisationProbe(monotonic_ms: () => number): () => Synchronisation {
  let asked_monotonicMs = Number.NEGATIVE_INFINITY;
  let answer: Synchronisation = "unknown";
  return () => {
    const now_monotonicMs = monotonic_ms();
    if (now_monotonicMs - asked_monotonicMs > 60_000) {
      asked_monotonicMs = now_monotonicMs;
      answer = signs.some((sign) => existsSync(sign)) ? "synchronised" : "unknown";
    }
    return answer;
  };
}
