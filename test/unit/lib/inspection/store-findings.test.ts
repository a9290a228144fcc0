import { describe, expect, it } from "vitest";
import {
  backupFinding,
  databaseFinding,
  diskFinding,
  type BackupFacts,
  type DatabaseFacts,
} from "../../../../lib/inspection/store-findings.js";

describe("the disk", () => {
  it.each([
    {
      free_bytes: 4e9,
      growth: 1e6,
      verdict: "good",
      told: "4.0 GB free at /data; the database grows by 1.0 MB a day",
    },
    { free_bytes: 4e9, growth: 10, verdict: "good", told: "more than ten years at least" },
    {
      free_bytes: 4e9,
      growth: undefined,
      verdict: "good",
      told: "how fast the database grows is not known yet",
    },
    { free_bytes: 80e6, growth: 1e6, verdict: "look at this", told: "lasts 80 days at least" },
    { free_bytes: 60e6, growth: 10e6, verdict: "mend this first", told: "lasts 6 days at least" },
    {
      free_bytes: 49e6,
      growth: undefined,
      verdict: "mend this first",
      told: "a store that fails closes every valve",
    },
  ])("with $free_bytes B free and $growth B a day is $verdict", ({ free_bytes, growth, verdict, told }) => {
    const finding = diskFinding({ folder: "/data", free_bytes, growth_bytesPerDay: growth });
    expect(finding.verdict).toBe(verdict);
    expect(finding.told).toContain(told);
  });
});

const sound: Extract<DatabaseFacts, { kind: "read" }> = {
  kind: "read",
  file: "/data/site.db",
  size_bytes: 2.5e6,
  integrity: "ok",
  schemaVersion: 3,
  newestSchemaVersion: 3,
  isCopyPutBack: false,
  log_bytes: 0,
  logDamage: undefined,
};

describe("the database", () => {
  it.each<{
    because: string;
    facts: DatabaseFacts;
    daemon?: "runs" | "does not run" | "not known";
    verdict: string;
    told: string;
  }>([
    { because: "it is sound", facts: sound, verdict: "good", told: "sound, 2.5 MB, form 3" },
    {
      because: "a running daemon has a log beside it",
      facts: { ...sound, log_bytes: 4e6, logDamage: "torn" },
      daemon: "runs",
      verdict: "good",
      told: "sound",
    },
    {
      because: "it is damaged",
      facts: { ...sound, integrity: "row 3 missing from index" },
      verdict: "mend this first",
      told: "it is damaged (row 3 missing from index)",
    },
    {
      because: "a newer program wrote it",
      facts: { ...sound, schemaVersion: 4 },
      verdict: "mend this first",
      told: "version 4, this program knows 3",
    },
    {
      because: "an older program wrote it",
      facts: { ...sound, schemaVersion: 2 },
      verdict: "look at this",
      told: "the next start copies it and brings it to 3",
    },
    {
      because: "it is a copy",
      facts: { ...sound, isCopyPutBack: true },
      verdict: "look at this",
      told: "then re-arm each valve",
    },
    {
      because: "the daemon was ended hard",
      facts: { ...sound, log_bytes: 12_000 },
      daemon: "does not run",
      verdict: "look at this",
      told: "left 12 kB in the log beside it",
    },
    {
      because: "the log is damaged",
      facts: { ...sound, log_bytes: 12_000, logDamage: "the head of the log beside the database is damaged" },
      daemon: "does not run",
      verdict: "mend this first",
      told: "the head of the log beside the database is damaged",
    },
    {
      because: "it is to come",
      facts: { kind: "none", file: "/data/site.db" },
      daemon: "does not run",
      verdict: "look at this",
      told: "makes it at its first start",
    },
    {
      because: "it is gone under a daemon that runs",
      facts: { kind: "none", file: "/data/site.db" },
      verdict: "mend this first",
      told: "though the daemon runs",
    },
    {
      because: "another user looks",
      facts: { kind: "unreadable", file: "/data/site.db", reason: "permission denied" },
      daemon: "not known",
      verdict: "not known",
      told: "run this as root or as the daemon's own user",
    },
    {
      because: "nobody may read it",
      facts: { kind: "unreadable", file: "/data/site.db", reason: "permission denied" },
      verdict: "mend this first",
      told: "it cannot be read: permission denied",
    },
  ])("is $verdict where $because", ({ facts, daemon = "runs", verdict, told }) => {
    const finding = databaseFinding(facts, daemon);
    expect(finding.verdict).toBe(verdict);
    expect(finding.told).toContain(told);
  });
});

const copy: BackupFacts = {
  kind: "found",
  file: "/data/backup/night-2026-03-01.db",
  age_days: 0,
  damage: undefined,
  isMarkedAsCopy: true,
};

describe("the newest copy", () => {
  it.each<{ because: string; facts: BackupFacts; verdict: string; told: string }>([
    {
      because: "it is fresh",
      facts: copy,
      verdict: "good",
      told: "night-2026-03-01.db is sound and of today",
    },
    {
      because: "one night was slept through",
      facts: { ...copy, age_days: 2 },
      verdict: "good",
      told: "2 days old",
    },
    {
      because: "it is old",
      facts: { ...copy, age_days: 3 },
      verdict: "look at this",
      told: "but 3 days old",
    },
    {
      because: "it is damaged",
      facts: { ...copy, damage: "malformed" },
      verdict: "mend this first",
      told: "is damaged (malformed)",
    },
    {
      because: "it is no copy of ours",
      facts: { ...copy, isMarkedAsCopy: false },
      verdict: "look at this",
      told: "does not bear the mark of a copy",
    },
    {
      because: "there is none",
      facts: { kind: "none", folder: "/b" },
      verdict: "look at this",
      told: "no copy",
    },
    {
      because: "none is wanted",
      facts: { kind: "not wanted" },
      verdict: "look at this",
      told: "nights is 0",
    },
    {
      because: "its folder is shut",
      facts: { kind: "unreadable", folder: "/b", reason: "permission denied" },
      verdict: "look at this",
      told: "/b cannot be read: permission denied",
    },
  ])("is $verdict where $because", ({ facts, verdict, told }) => {
    const finding = backupFinding(facts);
    expect(finding.verdict).toBe(verdict);
    expect(finding.told).toContain(told);
  });
});
