/**
 * A process of its own that runs the daemon's own composition and measures each pass: `node loaded-daemon.js CONFIG`. When its
 * parent asks, it tells what it measured, and ends.
 */
import { readFileSync } from "node:fs";
import { createApp } from "../../daemon/app.js";
import { parseConfig } from "../../daemon/config/load-config.js";
import type { Clock } from "../../daemon/ports/clock.js";
import { systemClock } from "../../daemon/system/system-clock.js";
import { computed_ms } from "./computed.js";
import type { MeasuredPass } from "./pass-figures.js";
import { createPinoLogger } from "../../daemon/system/pino-logger.js";

export interface LoadReport {
  readonly passes: readonly MeasuredPass[];
  readonly accepted: number;
  readonly rejected: number;
  readonly openValves: number;
}

const [, , configFile = ""] = process.argv;
const parsed = parseConfig(readFileSync(configFile, "utf8"), configFile);
if (parsed.kind === "invalid") throw new Error(JSON.stringify(parsed.faults.slice(0, 3)));
const { config } = parsed;

const passes: MeasuredPass[] = [];
let began: { readonly began_ms: number; readonly computed_ms: number } | undefined;
/** Of the site's clock the ticks alone wait: machine time is handed on as it is. */
const clock: Clock = {
  ...systemClock,
  async sleep(duration_ms, signal) {
    const now_ms = performance.now();
    if (began !== undefined) {
      const { began_ms } = began;
      passes.push({ began_ms, took_ms: now_ms - began_ms, computed_ms: computed_ms() - began.computed_ms });
    }
    await systemClock.sleep(duration_ms, signal);
    began = { began_ms: performance.now(), computed_ms: computed_ms() };
  },
};
const app = createApp({
  config,
  access: { addresses: config.broker.addresses },
  clock,
  machineClock: systemClock,
  logger: createPinoLogger({ level: config.log.level, monotonic_ms: () => systemClock.monotonic_ms() }),
  random: Math.random,
  synchronisation: () => "synchronised",
  relaysCountAsCommissioned: true,
});
await app.start();
process.send?.("runs");
process.once("message", () => {
  const counts = app.status()?.sensors.map((sensor) => sensor.counts) ?? [];
  const report: LoadReport = {
    passes,
    accepted: counts.reduce((sum, { acceptedCount }) => sum + acceptedCount, 0),
    rejected: counts
      .flatMap(({ rejectedCounts }) => Object.values(rejectedCounts))
      .reduce((a, b) => a + b, 0),
    openValves: app.status()?.valves.filter(({ reported }) => reported === "open").length ?? 0,
  };
  process.send?.(report, () => void app.stop().then(() => process.exit(0)));
});
