import type { Finding } from "./finding.js";

export interface DiskFacts {
  readonly folder: string;
  readonly free_bytes: number;
  /** How fast the database has grown, before old readings are thinned out; undefined while that is not known. */
  readonly growth_bytesPerDay: number | undefined;
}

/** Below that a database may not even finish what it has begun. A judgement. */
const leastFree_bytes = 50e6;
/** So long it ought to last, and so long at least. Judgements. */
const enough_days = 90;
const least_days = 7;

/** Whether the disk lasts. */
export function diskFinding({ folder, free_bytes, growth_bytesPerDay }: DiskFacts): Finding {
  const subject = "disk";
  const free = `${sizeText(free_bytes)} free at ${folder}`;
  const days = growth_bytesPerDay === undefined ? undefined : free_bytes / growth_bytesPerDay;
  const rate =
    growth_bytesPerDay === undefined
      ? "how fast the database grows is not known yet"
      : `the database grows by ${sizeText(growth_bytesPerDay)} a day before old readings are thinned out, so it lasts ${daysText(days ?? 0)} at least`;
  const told = `${free}; ${rate}`;
  if (free_bytes < leastFree_bytes || (days !== undefined && days < least_days)) {
    return {
      subject,
      verdict: "mend this first",
      told: `${told}. Free space: a store that fails closes every valve`,
    };
  }
  if (days !== undefined && days < enough_days) {
    return { subject, verdict: "look at this", told: `${told}. Shorten store.retention, or free space` };
  }
  return { subject, verdict: "good", told };
}

export type DatabaseFacts =
  | { readonly kind: "none"; readonly file: string }
  | { readonly kind: "unreadable"; readonly file: string; readonly reason: string }
  | {
      readonly kind: "read";
      readonly file: string;
      readonly size_bytes: number;
      /** "ok", or what SQLite found. */
      readonly integrity: string;
      readonly schemaVersion: number;
      readonly newestSchemaVersion: number;
      readonly isCopyPutBack: boolean;
      /** What was written and is not in the file itself yet; no fault while the daemon runs. */
      readonly log_bytes: number;
      readonly logDamage: string | undefined;
    };

/** The daemon's store, as a look without writing finds it. */
export function databaseFinding(
  facts: DatabaseFacts,
  daemon: "runs" | "does not run" | "not known",
): Finding {
  const subject = "database";
  const found = (verdict: Finding["verdict"], told: string): Finding => ({
    subject,
    verdict,
    told: `${facts.file}: ${told}`,
  });
  switch (facts.kind) {
    case "none":
      return daemon === "runs"
        ? found("mend this first", "it is not there, though the daemon runs; look at the alarm `store`")
        : found("look at this", "it is not there; the daemon makes it at its first start");
    case "unreadable":
      // Who may not ask the daemon may not be meant to read its files either.
      return daemon === "not known"
        ? found(
            "not known",
            `it cannot be read: ${facts.reason}; run this as root or as the daemon's own user`,
          )
        : found("mend this first", `it cannot be read: ${facts.reason}`);
    case "read": {
      const { integrity, schemaVersion, newestSchemaVersion, log_bytes } = facts;
      if (integrity !== "ok") {
        return found(
          "mend this first",
          `it is damaged (${integrity}): end the daemon and put a copy back, as deploy/docs/backup.md says`,
        );
      }
      if (schemaVersion > newestSchemaVersion) {
        return found(
          "mend this first",
          `its form is version ${schemaVersion}, this program knows ${newestSchemaVersion}: install the newer program again`,
        );
      }
      if (facts.logDamage !== undefined && daemon === "does not run") {
        return found(
          "mend this first",
          `${facts.logDamage}; the next start keeps a copy of it and goes on without`,
        );
      }
      if (facts.isCopyPutBack) {
        return found(
          "look at this",
          "it is a copy that was put back: what came after it is missing. Look at vessel, valve and tank, then re-arm each valve",
        );
      }
      if (schemaVersion < newestSchemaVersion) {
        return found(
          "look at this",
          `its form is version ${schemaVersion}; the next start copies it and brings it to ${newestSchemaVersion}`,
        );
      }
      if (log_bytes > 0 && daemon === "does not run") {
        return found(
          "look at this",
          `the daemon was ended hard and left ${sizeText(log_bytes)} in the log beside it; the next start takes that in. Take the log along when you move the file`,
        );
      }
      return found("good", `sound, ${sizeText(facts.size_bytes)}, form ${schemaVersion}`);
    }
  }
}

export type BackupFacts =
  | { readonly kind: "not wanted" }
  | { readonly kind: "none"; readonly folder: string }
  | { readonly kind: "unreadable"; readonly folder: string; readonly reason: string }
  | {
      readonly kind: "found";
      readonly file: string;
      readonly age_days: number;
      readonly damage: string | undefined;
      readonly isMarkedAsCopy: boolean;
    };

/** Nightly copies: one night may be slept through. */
const oldest_days = 2;

export function backupFinding(facts: BackupFacts): Finding {
  const subject = "backup";
  const now = "make one with the command backup while the daemon runs";
  switch (facts.kind) {
    case "not wanted":
      return { subject, verdict: "look at this", told: "store.backup.nights is 0, so no copy is made" };
    case "none":
      return { subject, verdict: "look at this", told: `${facts.folder} holds no copy; ${now}` };
    case "unreadable":
      return { subject, verdict: "look at this", told: `${facts.folder} cannot be read: ${facts.reason}` };
    case "found": {
      const { file, age_days, damage, isMarkedAsCopy } = facts;
      if (damage !== undefined) {
        return {
          subject,
          verdict: "mend this first",
          told: `${file} is damaged (${damage}): look after the disk, then ${now}`,
        };
      }
      if (!isMarkedAsCopy) {
        return {
          subject,
          verdict: "look at this",
          told: `${file} is sound, but does not bear the mark of a copy, so the daemon would not know one that is put back; ${now}`,
        };
      }
      const age = age_days === 0 ? "of today" : age_days === 1 ? "of yesterday" : `${age_days} days old`;
      return age_days > oldest_days
        ? {
            subject,
            verdict: "look at this",
            told: `${file} is sound, but ${age}; look for the alarm \`backup\`, or ${now}`,
          }
        : { subject, verdict: "good", told: `${file} is sound and ${age}` };
    }
  }
}

function daysText(days: number): string {
  return days > 3650 ? "more than ten years" : `${Math.floor(days)} days`;
}

function sizeText(size_bytes: number): string {
  if (size_bytes >= 1e9) return `${(size_bytes / 1e9).toFixed(1)} GB`;
  return size_bytes >= 1e6 ? `${(size_bytes / 1e6).toFixed(1)} MB` : `${Math.ceil(size_bytes / 1000)} kB`;
}
