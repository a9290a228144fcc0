import { readFile } from "node:fs/promises";
import { createApp, type App } from "../app.js";
import { configChanges } from "../config/config-changes.js";
import { loadSite } from "../config/load-site.js";
import { createSynchronisationProbe } from "../system/clock-synchronisation.js";
import { createServiceManager } from "../system/service-manager.js";
import { createPinoLogger } from "../system/pino-logger.js";
import { systemClock } from "../system/system-clock.js";
import { terminalLine } from "../system/terminal-lines.js";
import { untilSignal } from "./signals.js";

/** Runs the daemon on a config until a signal; SIGHUP reads the config again. @returns the exit code. */
export async function runCommand(path: string): Promise<number> {
  const loaded = await loadSite(path);
  if (loaded.kind === "faulty") {
    loaded.faults.forEach((fault) => process.stderr.write(`${fault}\n`));
    return 1;
  }
  const logger = createPinoLogger({
    level: loaded.config.log.level,
    monotonic_ms: () => systemClock.monotonic_ms(),
    ...(process.stdout.isTTY
      ? {
          destination: {
            write: (line: string) => void process.stdout.write(`${terminalLine(line.trimEnd())}\n`),
          },
        }
      : {}),
  });
  if (loaded.warnings.length > 0) {
    logger.info({ count: loaded.warnings.length }, "something in the config is odd: `check` says what");
  }
  const app = createApp({
    config: loaded.config,
    access: loaded.access,
    alertSecrets: loaded.alertSecrets,
    ...(loaded.pageToken === undefined ? {} : { pageToken: loaded.pageToken }),
    clock: systemClock,
    machineClock: systemClock,
    logger,
    random: Math.random,
    synchronisation: createSynchronisationProbe(() => systemClock.monotonic_ms()),
    relaysCountAsCommissioned: false,
    service: () => serviceManager.view(),
  });
  const serviceManager = createServiceManager(
    { clock: systemClock, logger },
    process.env,
    () => app.status()?.at_monotonicMs,
  );
  let current = loaded.config;
  const ended = untilSignal();
  let reloading: Promise<void> = Promise.resolve();
  process.on("SIGHUP", () => {
    // One after the other: of two files the later one has to win.
    reloading = reloading.then(() => reload(app));
  });
  try {
    await app.start();
  } catch (error) {
    process.stderr.write(
      `fizzward cannot start: ${error instanceof Error ? error.message : String(error)}\n`,
    );
    await app.stop();
    return 1;
  }
  logger.info({ site: loaded.config.site.id, config: path }, "fizzward runs");
  serviceManager.ready();
  const signal = await ended;
  serviceManager.ending();
  logger.info({ signal }, "closing every valve before the end");
  await app.stop();
  logger.info({}, "ended");
  return 0;

  async function reload(running: App): Promise<void> {
    const unfinished = await unfinishedBecause(path);
    const next = await loadSite(path);
    const refusal =
      unfinished ??
      (next.kind === "faulty" ? next.faults.join("; ") : running.reload(next.config, next.alertSecrets));
    if (refusal !== undefined || next.kind === "faulty") {
      logger.error({ config: path, reason: refusal }, "the config was read again and changes nothing");
      running.reloadRefused(refusal ?? "it has faults");
      return;
    }
    const changed = configChanges(current, next.config);
    current = next.config;
    logger.info({ config: path, changed }, "the config was read again");
  }
}

const settled_ms = 1000;

/** An editor may still be writing: half a config can be a valid one, without its guards. */
async function unfinishedBecause(path: string): Promise<string | undefined> {
  try {
    const before = await readFile(path, "utf8");
    await systemClock.sleep(settled_ms);
    const after = await readFile(path, "utf8");
    if (before !== after) return "the file is still being written; send the signal again when it is done";
    return after.endsWith("\n")
      ? undefined
      : "the file does not end with a line end, so half of it may be missing";
  } catch (error) {
    return error instanceof Error ? error.message : String(error);
  }
}
