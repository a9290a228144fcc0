import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { SqliteSiteStore, type SqliteSiteStoreOptions } from "../../daemon/store/sqlite-site-store.js";
import type { Clock } from "../../daemon/ports/clock.js";
import { CollectingLogger } from "./collecting-logger.js";
import { machineClock } from "./machine-clock.js";

export const retention = { raw_days: 14, oneMinute_days: 90, fifteenMinute_days: 1825 };

export interface StoreBench {
  readonly folder: string;
  readonly file: string;
  readonly logger: CollectingLogger;
  make(options?: Partial<SqliteSiteStoreOptions>, clock?: Clock): SqliteSiteStore;
  /** Stops every store that was made and removes the folder. */
  clear(): Promise<void>;
}

/** A folder for one test and stores in it that react within tenths of a second. */
export const storeBench = (folder = mkdtempSync(join(tmpdir(), "fizzward-store-"))): StoreBench => {
  const file = join(folder, "site.db");
  const logger = new CollectingLogger();
  const made: SqliteSiteStore[] = [];
  return {
    folder,
    file,
    logger,
    make(options = {}, clock = machineClock) {
      const store = new SqliteSiteStore(
        {
          file,
          batch_s: 60,
          retention,
          ...options,
          timing: {
            tick_ms: 20,
            firstRetry_ms: 50,
            longestRetry_ms: 200,
            busyTimeout_ms: 500,
            ...options.timing,
          },
        },
        { clock, logger },
      );
      made.push(store);
      return store;
    },
    async clear() {
      await Promise.all(made.map((store) => store.stop()));
      rmSync(folder, { recursive: true, force: true });
    },
  };
};

/** Looks again and again until it is so; fails with the last thing seen. */
export const until = async (
  isSo: () => boolean | Promise<boolean>,
  what: string,
  limit_ms = 10_000,
): Promise<void> => {
  const begun_ms = performance.now();
  while (!(await isSo())) {
    if (performance.now() - begun_ms > limit_ms) throw new Error(`${what}: not within ${limit_ms} ms`);
    await machineClock.sleep(10);
  }
};
