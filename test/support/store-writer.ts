/**
 * A process that writes into a store until it is killed, and says on its standard output, at once and unbuffered,
 * what was acknowledged: "e <n>" an event, "s <n>" a saved state; and "r <n>" a reading that was handed over.
 */
import { writeSync } from "node:fs";
import { SqliteSiteStore } from "../../daemon/store/sqlite-site-store.js";
import { CollectingLogger } from "./collecting-logger.js";
import { machineClock } from "./machine-clock.js";

const [file = "", round = "0", batch_s = "0.1"] = process.argv.slice(2);
const store = new SqliteSiteStore(
  {
    file,
    batch_s: Number(batch_s),
    retention: { raw_days: 14, oneMinute_days: 90, fifteenMinute_days: 1825 },
    timing: { tick_ms: 10 },
  },
  { clock: machineClock, logger: new CollectingLogger() },
);
await store.start();
writeSync(1, `health ${JSON.stringify(store.health())}\n`);

const begin_epochMs = Date.UTC(2026, 2, 1) + Number(round) * 3_600_000;
const writeEvents = async (): Promise<void> => {
  for (let n = 1; ; n++) {
    const onDisk = await store.recordEvent({
      at_epochMs: begin_epochMs + n,
      area: "valve",
      subject: round,
      what: String(n),
      reason: "kill",
      details: { padding: "p".repeat(n % 300) },
    });
    if (onDisk) writeSync(1, `e ${n}\n`);
  }
};
const saveStates = async (): Promise<void> => {
  for (let n = 1; ; n++) {
    if (await store.saveSnapshot("progress", { round, n })) writeSync(1, `s ${n}\n`);
    await machineClock.sleep(3);
  }
};
const appendReadings = async (): Promise<void> => {
  for (let n = 1; ; n++) {
    // Seven seconds apart, so that a round fills many minutes to roll up.
    const reading = { quantity: "pH", value: n, at_epochMs: begin_epochMs + n * 7000 } as const;
    store.appendReading({ ...reading, sensorId: `round-${round}` });
    writeSync(1, `r ${n}\n`);
    await machineClock.sleep(1);
  }
};
const keepHouse = async (): Promise<void> => {
  for (;;) {
    await store.runHousekeeping(begin_epochMs + 86_400_000);
    await machineClock.sleep(5);
  }
};
await Promise.all([writeEvents(), saveStates(), appendReadings(), keepHouse()]);
