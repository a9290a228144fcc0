import { clockChanges, isTimeZone, wallClockAt } from "../schedule/civil-time.js";
import {
  tooLate_epochMs,
  toleranceBefore_ms,
  type ClockVerdict,
  type Synchronisation,
} from "../schedule/clock-plausibility.js";
import type { Finding } from "./finding.js";

export interface ClockFacts {
  readonly now_epochMs: number;
  readonly timeZone: string;
  /** The latest instant in the store; undefined where there is none, or it cannot be read. */
  readonly lastStored_epochMs: number | undefined;
  readonly synchronisation: Synchronisation;
  /** What the running daemon makes of it. */
  readonly daemon: ClockVerdict | undefined;
}

/** Whether windows may be computed from this machine's clock. */
export function clockFinding(facts: ClockFacts): Finding {
  const { now_epochMs, lastStored_epochMs, synchronisation, daemon, timeZone } = facts;
  const subject = "clock";
  const local = (at_epochMs: number): string => {
    const { date, timeOfDay } = wallClockAt(at_epochMs, timeZone);
    return `${date} ${timeOfDay.slice(0, 5)}`;
  };
  if (now_epochMs >= tooLate_epochMs) {
    return { subject, verdict: "mend this first", told: "it is beyond the year 2099: set it" };
  }
  const now = local(now_epochMs);
  if (lastStored_epochMs !== undefined && now_epochMs < lastStored_epochMs - toleranceBefore_ms) {
    return {
      subject,
      verdict: "mend this first",
      told: `it says ${now}, and the database holds something from ${local(lastStored_epochMs)}: set it; where it is right all the same, tell the daemon with accept-clock`,
    };
  }
  if (daemon?.kind === "implausible") {
    return {
      subject,
      verdict: "mend this first",
      told: `it says ${now}; the daemon does not believe it (${daemon.reason}): set it, or compare it with another clock and tell the daemon with accept-clock`,
    };
  }
  switch (synchronisation) {
    case "synchronised":
      return { subject, verdict: "good", told: `${now}, kept right by a time service` };
    case "not synchronised":
      return {
        subject,
        verdict: "look at this",
        told: `${now}, and the time service has not set it since the machine was started: compare it with another clock`,
      };
    case "unknown":
      return {
        subject,
        verdict: "not known",
        told: `${now}; whether a time service keeps it right cannot be told here: compare it with another clock`,
      };
  }
}

export interface TimeZoneFacts {
  readonly now_epochMs: number;
  readonly timeZone: string;
  readonly machineTimeZone: string;
}

/** So far ahead a change of the clock is looked for: each zone that has any has one within a year. */
const ahead_ms = 400 * 86_400_000;

/** The zone by which lights and windows go. */
export function timeZoneFinding({ now_epochMs, timeZone, machineTimeZone }: TimeZoneFacts): Finding {
  const subject = "time zone";
  if (!isTimeZone(timeZone)) {
    return { subject, verdict: "mend this first", told: `${timeZone} is no zone that this machine knows` };
  }
  const [change] = clockChanges(timeZone, now_epochMs, now_epochMs + ahead_ms);
  const next =
    change === undefined
      ? "no change of its clock is in sight"
      : `its clock changes next from ${change.wallClockBefore} to ${change.wallClockAfter.slice(11)}`;
  return isTimeZone(machineTimeZone) && goAlike(timeZone, machineTimeZone, now_epochMs)
    ? { subject, verdict: "good", told: `${timeZone}, as on this machine; ${next}` }
    : {
        subject,
        verdict: "look at this",
        told: `${timeZone} in the config, ${machineTimeZone} on this machine: windows follow the config; ${next}`,
      };
}

/** One zone has several names: what counts is that its clock shows the same now and in the year ahead. */
function goAlike(one: string, other: string, now_epochMs: number): boolean {
  const shown = (timeZone: string): string =>
    JSON.stringify([
      wallClockAt(now_epochMs, timeZone),
      clockChanges(timeZone, now_epochMs, now_epochMs + ahead_ms),
    ]);
  return one === other || shown(one) === shown(other);
}
