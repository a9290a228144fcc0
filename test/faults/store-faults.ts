import Database from "better-sqlite3";
import { execFileSync } from "node:child_process";
import {
  mkdtempSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
  openSync,
  writeSync,
  closeSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { kill } from "../support/daemon-process.js";
import { eventually } from "../support/eventually.js";
import type { Fault, Finding } from "./fault.js";
import { closes, staysInCommand, watched } from "./fault-courses.js";
import { steady, type FaultSite } from "./fault-site.js";

/** The store may fail for a minute before gas is held off. */
const storeLimit_s = 60 + 20;

/** The disk fails while gas flows: a small file system of its own under the database. */
function diskFault(name: string, because: string, act: (disk: string) => void): Fault {
  const disks = new WeakMap<FaultSite, string>();
  return closes({
    name,
    limit_s: storeLimit_s,
    alarm: "store",
    because,
    prepare: (site) => {
      const disk = mkdtempSync(join(tmpdir(), "fizzward-disk-"));
      execFileSync("mount", ["-t", "tmpfs", "-o", "size=2m", "tmpfs", disk]);
      site.endsWithSite(() => {
        execFileSync("umount", ["-l", disk]);
        rmSync(disk, { recursive: true, force: true });
      });
      disks.set(site, disk);
      return Promise.resolve({ storeFile: `${disk}/site.db` });
    },
    act: (site) => act(disks.get(site) ?? ""),
    lost: () => "what was measured meanwhile",
  });
}

/** The daemon is killed, its database is harmed, and it is started again. */
function harmedBetween(
  plan: Pick<Fault, "name" | "because" | "alarm"> & {
    /** The daemon is told to end, so that its log is in the file; otherwise it is killed. */
    readonly endsInOrder?: boolean;
    readonly harm: (file: string) => void;
    /** Whether gas may flow again, since nothing that matters was lost. */
    readonly opens: boolean;
    readonly lost: string;
  },
): Fault {
  const { harm, opens, lost, endsInOrder = false, ...rest } = plan;
  return {
    ...rest,
    verdict: opens ? "provably safe" : "closed",
    limit_s: 20,
    run: async (site): Promise<Finding> => {
      await site.dose();
      const { daemon: pid } = site.daemon.processIds();
      kill(pid, endsInOrder ? "SIGTERM" : "SIGKILL");
      await site.daemon.exitCode(20_000);
      if (Number.isNaN(await site.closedAfter_ms(performance.now(), 5000))) throw new Error("not closed");
      harm(join(site.folder, "site.db"));
      await site.start();
      const from_ms = performance.now();
      if (!opens) {
        const { finding } = await watched(site, plan.alarm, from_ms, 12_000);
        return { ...finding, lost };
      }
      while (!site.gasFlows() && performance.now() - from_ms < 15_000) {
        await new Promise((resolve) => setTimeout(resolve, 50));
      }
      const opened = site.gasFlows();
      const trip_ms = performance.now();
      site.senses(steady("5.5"));
      const took_ms = await site.closedAfter_ms(trip_ms, 20_000);
      await site.alarmAfter_ms(plan.alarm, trip_ms, 10_000);
      return {
        valve: "closed until the restart, then as wanted, then closed by the trip",
        took_ms,
        alarms: await site.alarms(),
        lost,
        ...(opened ? {} : { miss: "it did not dose again" }),
      };
    },
  };
}

function scribble(file: string, at_bytes: number, length_bytes: number): void {
  const descriptor = openSync(file, "r+");
  writeSync(descriptor, Buffer.alloc(length_bytes, 0x5a), 0, length_bytes, at_bytes);
  closeSync(descriptor);
}

/** The disk and the database. */
export const storeFaults: readonly Fault[] = [
  diskFault(
    "the disk is full",
    "a file system of 2 MB, filled up; gas is held off when the store has failed for a minute",
    (disk) => {
      let size_bytes = 2 * 1024 * 1024;
      for (let part = 0; size_bytes >= 1024; part += 1) {
        try {
          writeFileSync(join(disk, `ballast-${part}`), Buffer.alloc(size_bytes));
        } catch {
          size_bytes /= 2;
        }
      }
    },
  ),
  closes({
    name: "the database is locked by another program",
    limit_s: storeLimit_s,
    alarm: "store",
    because: "gas is held off when the store has failed for a minute",
    act: (site) => {
      const locking = new Database(join(site.folder, "site.db"));
      locking.pragma("busy_timeout = 5000");
      locking.exec("BEGIN EXCLUSIVE");
      site.endsWithSite(() => locking.close());
    },
    lost: () => "what was measured meanwhile, unless the lock ends before memory is full",
  }),
  staysInCommand({
    name: "the database is deleted under the running daemon",
    because: "it looks for its file every 5 s and writes out again what it held",
    act: async (site) => {
      const file = join(site.folder, "site.db");
      for (const suffix of ["", "-wal", "-shm"]) rmSync(`${file}${suffix}`, { force: true });
      await eventually(() => statSync(file), { timeout_ms: 15_000 });
      return () => undefined;
    },
  }),
  {
    name: "the file system is read-only when the daemon starts",
    verdict: "closed",
    limit_s: 10,
    alarm: "it does not start: exit code 1",
    because: "the daemon says so and ends; the service manager and the broker tell",
    run: async (site, limit_ms) => {
      const disk = mkdtempSync(join(tmpdir(), "fizzward-disk-"));
      execFileSync("mount", ["-t", "tmpfs", "-o", "ro", "tmpfs", disk]);
      site.endsWithSite(() => {
        execFileSync("umount", ["-l", disk]);
        rmSync(disk, { recursive: true, force: true });
      });
      site.senses(steady("6.8"));
      const from_ms = performance.now();
      const daemon = await site.start({ waits: false, config: { storeFile: `${disk}/site.db` } });
      const code = await daemon.exitCode(limit_ms + 10_000);
      const took_ms = performance.now() - from_ms;
      const says = daemon.output().includes("fizzward cannot start");
      return {
        valve: site.relay.changes.length === 0 ? "never opened" : "opened",
        took_ms: site.relay.changes.length === 0 ? took_ms : Number.NaN,
        alarms: [`it does not start: exit code ${String(code)}`],
        lost: "nothing",
        ...(says ? {} : { miss: "it does not say why" }),
      };
    },
  },
  harmedBetween({
    name: "the write-ahead log is corrupted before a restart",
    because: "what the damaged log held is gone, and whether it held a trip is not known",
    alarm: "trip/",
    opens: false,
    lost: "what was not yet in the main file",
    harm: (file) => {
      const size_bytes = statSync(`${file}-wal`).size;
      scribble(`${file}-wal`, 0, Math.min(size_bytes, 4096));
    },
  }),
  harmedBetween({
    name: "the database is truncated before a restart",
    because: "earlier trips are not known: every valve counts as tripped until a person re-arms it",
    alarm: "trip/",
    opens: false,
    lost: "the history; the damaged file is set aside",
    endsInOrder: true,
    harm: (file) => truncateSync(file, 5000),
  }),
  harmedBetween({
    name: "the database is deleted before a restart",
    because:
      "the daemon begins anew, as on its first day: whoever may delete its files may make it forget a trip; a relay has to be tried again unless the config accepts it untried",
    alarm: "trip/tank/loach/",
    opens: true,
    lost: "the history",
    harm: (file) => {
      for (const suffix of ["", "-wal", "-shm"]) rmSync(`${file}${suffix}`, { force: true });
    },
  }),
];
