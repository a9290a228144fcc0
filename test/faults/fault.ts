import type { FaultSite, FaultSiteOptions } from "./fault-site.js";

/**
 * closed: no gas flows from the limit on. provably safe: gas may go on as wanted, and what has to close it during the fault does so
 * within the limit. told: no machine can close it; a person is told within the limit.
 */
export type Verdict = "closed" | "provably safe" | "told";

/** What one run of a fault showed. */
export interface Finding {
  /** What happened to the valve, in a few words. */
  readonly valve: string;
  /** From the fault on to what the verdict promises. */
  readonly took_ms: number;
  /** Ids of the alarms, or what the broker tells when the daemon cannot. */
  readonly alarms: readonly string[];
  readonly lost: string;
  /** What else was not as promised. */
  readonly miss?: string;
}

/** One fault, and what is promised of it. */
export interface Fault {
  readonly name: string;
  readonly verdict: Verdict;
  /** On an idle machine and on a busy one alike. */
  readonly limit_s: number;
  /** The beginning of the id of the alarm that has to stand; "none" where nobody needs to act. */
  readonly alarm: string;
  /** Why it is safe, how it was driven where that was not the real thing, or what a person has to do. */
  readonly because: string;
  readonly site?: FaultSiteOptions;
  run(site: FaultSite, limit_ms: number): Promise<Finding>;
}
