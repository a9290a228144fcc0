import { describe, expect, it } from "vitest";
import { clockFinding, timeZoneFinding, type ClockFacts } from "../../../../lib/inspection/clock-findings.js";

const noon_epochMs = Date.UTC(2026, 2, 1, 12);
const facts: ClockFacts = {
  now_epochMs: noon_epochMs,
  timeZone: "Europe/Berlin",
  lastStored_epochMs: noon_epochMs - 1000,
  synchronisation: "synchronised",
  daemon: { kind: "plausible" },
};

describe("the clock", () => {
  it.each<{ because: string; changed: Partial<ClockFacts>; verdict: string; told: string }>([
    {
      because: "a time service keeps it",
      changed: {},
      verdict: "good",
      told: "2026-03-01 13:00, kept right",
    },
    {
      because: "ten minutes behind the store are an ordinary correction",
      changed: { lastStored_epochMs: noon_epochMs + 10 * 60_000 },
      verdict: "good",
      told: "kept right",
    },
    {
      because: "it lies before what is stored",
      changed: { lastStored_epochMs: noon_epochMs + 11 * 60_000 },
      verdict: "mend this first",
      told: "the database holds something from 2026-03-01 13:11",
    },
    {
      because: "no year is that far off",
      changed: { now_epochMs: Date.UTC(2100, 0, 1) },
      verdict: "mend this first",
      told: "beyond the year 2099",
    },
    {
      because: "the daemon does not believe it",
      changed: { daemon: { kind: "implausible", reason: "unsettled" } },
      verdict: "mend this first",
      told: "the daemon does not believe it (unsettled)",
    },
    {
      because: "nothing has set it yet",
      changed: { synchronisation: "not synchronised", lastStored_epochMs: undefined, daemon: undefined },
      verdict: "look at this",
      told: "has not set it since the machine was started",
    },
    {
      because: "the system does not say",
      changed: { synchronisation: "unknown" },
      verdict: "not known",
      told: "compare it with another clock",
    },
  ])("is $verdict where $because", ({ changed, verdict, told }) => {
    const finding = clockFinding({ ...facts, ...changed });
    expect(finding.verdict).toBe(verdict);
    expect(finding.told).toContain(told);
  });
});

describe("the time zone", () => {
  it.each([
    {
      because: "it is the machine's own",
      zone: "Europe/Berlin",
      machine: "Europe/Berlin",
      verdict: "good",
      // The last Sunday of March: Directive 2000/84/EC.
      told: "Europe/Berlin, as on this machine; its clock changes next from 2026-03-29 02:00 to 03:00",
    },
    {
      because: "the machine knows it by another name",
      zone: "Etc/UTC",
      machine: "UTC",
      verdict: "good",
      told: "Etc/UTC, as on this machine; no change of its clock is in sight",
    },
    {
      because: "the machine runs by another one",
      zone: "Europe/Berlin",
      machine: "Etc/UTC",
      verdict: "look at this",
      told: "Europe/Berlin in the config, Etc/UTC on this machine: windows follow the config",
    },
    {
      because: "the machine shows the same only until summer time begins",
      zone: "Europe/Berlin",
      machine: "Africa/Algiers",
      verdict: "look at this",
      told: "Africa/Algiers on this machine",
    },
    {
      because: "nobody knows it",
      zone: "Europe/Berlinn",
      machine: "Etc/UTC",
      verdict: "mend this first",
      told: "Europe/Berlinn is no zone",
    },
  ])("is $verdict where $because", ({ zone, machine, verdict, told }) => {
    const finding = timeZoneFinding({
      now_epochMs: noon_epochMs,
      timeZone: zone,
      machineTimeZone: machine,
    });
    expect(finding.verdict).toBe(verdict);
    expect(finding.told).toContain(told);
  });
});
