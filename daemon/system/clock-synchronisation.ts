import { execFile } from "node:child_process";
import { existsSync } from "node:fs";
import type { Synchronisation } from "../../lib/schedule/clock-plausibility.js";

/**
 * Runtime folder of the time service systemd-timesyncd, there while it runs, and the file it makes in it once it has
 * set the clock since the start of the machine (manual page systemd-timesyncd.service(8), "Files").
 */
const service = "/run/systemd/timesync";
const sign = "/run/systemd/timesync/synchronized";

/**
 * What the operating system says; "unknown" where that time service does not run, which is not a no. Asked at most once
 * a minute.
 */
export function createSynchronisationProbe(
  monotonic_ms: () => number,
  exists: (path: string) => boolean = existsSync,
): () => Synchronisation {
  let asked_monotonicMs = Number.NEGATIVE_INFINITY;
  let answer: Synchronisation = "unknown";
  return () => {
    const now_monotonicMs = monotonic_ms();
    if (now_monotonicMs - asked_monotonicMs > 60_000) {
      asked_monotonicMs = now_monotonicMs;
      if (exists(sign)) answer = "synchronised";
      else answer = exists(service) ? "not synchronised" : "unknown";
    }
    return answer;
  };
}

/** The same, asked once, and where that time service does not run of the kernel, which others tell too (timedatectl(1)). */
export async function systemSynchronisation(
  exists: (path: string) => boolean = existsSync,
  ask: () => Promise<string | undefined> = askTimedatectl,
): Promise<Synchronisation> {
  const known = createSynchronisationProbe(() => 0, exists)();
  if (known !== "unknown") return known;
  const told = (await ask())?.trim();
  if (told === "yes") return "synchronised";
  return told === "no" ? "not synchronised" : "unknown";
}

function askTimedatectl(): Promise<string | undefined> {
  return new Promise((resolve) => {
    execFile(
      "timedatectl",
      ["show", "--property=NTPSynchronized", "--value"],
      { timeout: 2000 },
      (error, output) => resolve(error === null ? output : undefined),
    );
  });
}
