import { mkdir, readdir, rm } from "node:fs/promises";
import { join } from "node:path";
import { schedule } from "node-cron";
import type { AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import { addDays, wallClockAt } from "../../lib/schedule/civil-time.js";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { BackupOutcome, SiteStore } from "../ports/site-store.js";
import { newestCopy, nightlyCopy, surplusCopies, type NightlyCopy } from "../store/backup-files.js";

export interface NightlyBackupRules {
  readonly folder: string;
  /** Copies without readings that are kept; 0: none are made. */
  readonly nights: number;
  readonly whole: "monthly" | "nightly";
  readonly timeZone: string;
}

export interface NightlyBackup {
  /** Makes tonight's copy now. One at a time. */
  run(): Promise<void>;
  /** Makes a whole copy now, at a person's wish, in place of an earlier one of this day. */
  copyWhole(): Promise<BackupOutcome>;
  /** Looks at the start whether the last night was slept through, and then makes its copy soon. */
  start(): Promise<void>;
  conditions(): readonly AlarmCondition[];
  stop(): Promise<void>;
}

/** At night, when a vessel of a usual home is shut, and beside the hourly housekeeping. */
const atNight = "40 3 * * *";
/** After a start the disk has other things to do. */
const afterStart_ms = 600_000;

/** Copies the store each night, checks the copy, and keeps the newest few. Never on the control path. */
export function createNightlyBackup(
  ports: {
    readonly store: Pick<SiteStore, "backupTo">;
    readonly clock: Pick<Clock, "now_epochMs" | "sleep">;
    readonly logger: Logger;
    /** Names carry dates: without one that can be believed no copy is made, and none deleted. */
    readonly isClockPlausible: () => boolean;
  },
  rules: NightlyBackupRules,
): NightlyBackup {
  const ended = new AbortController();
  let failed: string | undefined;
  let running: Promise<void> | undefined;
  /** Copies follow each other: two at once would write one file. */
  let latest: Promise<unknown> = Promise.resolve();
  const task =
    rules.nights === 0
      ? undefined
      : schedule(atNight, () => run(), { timezone: rules.timeZone, noOverlap: true });

  return {
    run,
    copyWhole: () => copy(() => nightlyCopy(today(), [], rules.whole)),
    start: async () => {
      if (rules.nights === 0) return;
      const names = await readdir(rules.folder).catch((): string[] => []);
      const newest = newestCopy(names, today())?.date;
      if (newest !== undefined && newest >= addDays(today(), -1)) return;
      void ports.clock.sleep(afterStart_ms, ended.signal).then(async () => {
        if (!ended.signal.aborted) await run();
      });
    },
    conditions: () => (failed === undefined ? [] : [failedBackup(failed)]),
    stop: async () => {
      ended.abort();
      await task?.destroy();
      await latest;
    },
  };

  function run(): Promise<void> {
    running ??= tonight().finally(() => {
      running = undefined;
    });
    return running;
  }

  async function tonight(): Promise<void> {
    if (!ports.isClockPlausible()) {
      ports.logger.warn({}, "no backup was made, since the date is not known for sure");
      return;
    }
    const outcome = await copy((names) => nightlyCopy(today(), names, rules.whole));
    failed = outcome.kind === "failed" ? outcome.reason : undefined;
  }

  function copy(choose: (names: readonly string[]) => NightlyCopy): Promise<BackupOutcome> {
    const mine = latest.then(() => copiedAndTold(choose));
    latest = mine;
    return mine;
  }

  async function copiedAndTold(choose: (names: readonly string[]) => NightlyCopy): Promise<BackupOutcome> {
    const outcome = await copied(choose);
    if (outcome.kind === "failed") {
      ports.logger.error({ reason: outcome.reason }, "a backup failed");
    } else {
      ports.logger.info(
        { file: outcome.file, size_bytes: outcome.size_bytes },
        "a backup was made and checked",
      );
    }
    return outcome;
  }

  async function copied(choose: (names: readonly string[]) => NightlyCopy): Promise<BackupOutcome> {
    try {
      await mkdir(rules.folder, { recursive: true, mode: 0o700 });
      const { name, content } = choose(await readdir(rules.folder));
      const outcome = await ports.store.backupTo(join(rules.folder, name), content);
      if (outcome.kind === "failed") return outcome;
      // By a date that is not believed nothing is old; and by any date the copy just made stays.
      const names = ports.isClockPlausible() ? await readdir(rules.folder) : [];
      for (const surplus of surplusCopies(names, rules)) {
        if (surplus === name) continue;
        await rm(join(rules.folder, surplus), { force: true });
      }
      return outcome;
    } catch (error) {
      return { kind: "failed", reason: error instanceof Error ? error.message : String(error) };
    }
  }

  function today(): string {
    return wallClockAt(ports.clock.now_epochMs(), rules.timeZone).date;
  }
}

function failedBackup(reason: string): AlarmCondition {
  return {
    alarmId: "backup",
    priority: "low",
    subjects: [],
    cause: `the nightly backup failed: ${reason}`,
    consequence:
      "Were the disk lost now, journal, charges and trips since the last copy would be lost with it.",
    whatToDo:
      "Look after the folder store.backup.folder: is it there, may the daemon write into it, is there room?",
    allowableResponse_min: 2880,
    onDelay_s: 0,
    offDelay_s: 0,
    suppressedBy: [],
    latch: "none",
  };
}
