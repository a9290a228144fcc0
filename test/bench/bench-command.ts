/**
 * Measures the daemon under the load of a site far larger than a home, and prints a JSON object a line: `npm run bench`. Ends
 * with 1 where a figure misses its limit. With a word behind it only the groups whose name holds it: intake, store, calendars, load, memory.
 */
import { fork, type ChildProcess } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { fileURLToPath } from "node:url";
import { connectAsync } from "mqtt";
import { startMosquitto } from "../support/mosquitto.js";
import { figureLine, isWithin, type Figure } from "./figure.js";
import { loadSensors, loadSite, loadSiteYaml } from "./load-site.js";
import type { LoadReport } from "./loaded-daemon.js";
import { heapGrowth } from "./month-memory.js";
import { passFigures, passHistogram } from "./pass-figures.js";
import { insertRatio } from "./store-speed.js";
import { newBlockOfCalendars } from "./calendar-speed.js";

const loadFor_s = 120;
/** Until the daemon has begun, the relays have answered and the compiler is warm. */
const settles_s = 20;
const floodEachSecond = 6000;
const intakeMessages = 40_000;
const intakeRounds = 3;

const groups: Readonly<Record<string, () => Promise<readonly Figure[]>>> = {
  intake: intakeFigures,
  store: async () => [
    {
      name: "rows a second by the store, over better-sqlite3 alone",
      value: await insertRatio(),
      unit: "1",
      limit: 0.5,
      bound: "least",
    },
  ],
  calendars: () => Promise.resolve([newBlockOfCalendars()]),
  load: loadFigures,
  memory: async () => [await heapGrowth()],
};

process.env["PATH"] = `${process.env["PATH"] ?? ""}:/usr/sbin:/sbin`;
const words = process.argv.slice(2);
let misses = 0;
for (const [name, measure] of Object.entries(groups)) {
  if (words.length > 0 && !words.some((word) => name.includes(word))) continue;
  for (const figure of await measure()) {
    if (!isWithin(figure)) misses += 1;
    process.stdout.write(`${figureLine(figure)}\n`);
  }
}
process.exit(misses === 0 ? 0 : 1);

function child(file: string, args: readonly string[]): ChildProcess {
  return fork(fileURLToPath(new URL(file, import.meta.url)), args, {
    stdio: ["ignore", "inherit", "inherit", "ipc"],
  });
}

function nextMessage<T>(from: ChildProcess): Promise<T> {
  return new Promise((resolve, reject) => {
    from.once("message", (message) => resolve(message as T));
    from.once("exit", (code) => reject(new Error(`a process of the bench ended with ${String(code)}`)));
  });
}

/** The same messages at the same pace for both; the least of some rounds, since what else runs here only adds. */
async function intakeFigures(): Promise<readonly Figure[]> {
  const broker = await startMosquitto({ logType: "error" });
  const publisher = await connectAsync(broker.address, { protocolVersion: 5 });
  try {
    const each_us = { bare: Number.POSITIVE_INFINITY, daemon: Number.POSITIVE_INFINITY };
    for (let round = 0; round < intakeRounds; round += 1) {
      for (const kind of ["bare", "daemon"] as const) {
        const taker = child("intake.js", [kind, broker.address, String(intakeMessages)]);
        await nextMessage(taker);
        const report = nextMessage<{ readonly each_us: number }>(taker);
        const began_ms = performance.now();
        let said = 0;
        const timer = setInterval(() => {
          const due = Math.floor(((performance.now() - began_ms) / 1000) * floodEachSecond);
          for (; said < due; said += 1) {
            const sensor = loadSensors[said % loadSensors.length];
            if (sensor !== undefined) publisher.publish(sensor.topic, sensor.payload(said));
          }
        }, 10);
        each_us[kind] = Math.min(each_us[kind], (await report).each_us);
        clearInterval(timer);
        await sleep(300);
      }
    }
    return [
      {
        name: "readings a second that the daemon's intake can take, by the computing of its first thread",
        value: 1e6 / each_us.daemon,
        unit: "1/s",
        limit: 2 * loadSite.readingsPerSecond,
        bound: "least",
      },
      {
        name: "the same, over an MQTT client that only parses the messages",
        value: each_us.bare / each_us.daemon,
        unit: "1",
        limit: 0.7,
        bound: "least",
      },
    ];
  } finally {
    await publisher.endAsync(true);
    await broker.stop();
  }
}

async function loadFigures(): Promise<readonly Figure[]> {
  const broker = await startMosquitto({ logType: "error" });
  const folder = mkdtempSync(join(tmpdir(), "fizzward-load-"));
  const configFile = join(folder, "site.yaml");
  writeFileSync(configFile, loadSiteYaml({ address: broker.address, folder }));
  const feed = child("load-feed.js", [broker.address]);
  let said = 0;
  feed.on("message", (message) => ({ said } = message as { said: number }));
  try {
    const daemon = child("loaded-daemon.js", [configFile]);
    await nextMessage(daemon);
    await sleep(settles_s * 1000);
    const from_ms = performance.now();
    const saidBefore = said;
    await sleep(loadFor_s * 1000);
    const saidInAll = said - saidBefore;
    const said_perS = saidInAll / ((performance.now() - from_ms) / 1000);
    const report = nextMessage<LoadReport>(daemon);
    daemon.send("report");
    const { passes, rejected, accepted, openValves } = await report;
    await new Promise((resolve) => daemon.once("exit", resolve));
    const measured = passes.filter(
      ({ began_ms }) => began_ms >= (passes[0]?.began_ms ?? 0) + settles_s * 1000,
    );
    process.stderr.write(`passes that took so many ms: ${JSON.stringify(passHistogram(measured))}\n`);
    return [
      {
        name: "readings a second that were said",
        value: said_perS,
        unit: "1/s",
        limit: 0.95 * loadSite.readingsPerSecond,
        bound: "least",
      },
      {
        name: "readings refused, of all",
        value: rejected / (accepted + rejected),
        unit: "1",
        limit: 0,
        bound: "most",
      },
      {
        name: "valves open under the load",
        value: openValves,
        unit: "1",
        limit: loadSite.vessels,
        bound: "least",
      },
      ...passFigures(measured),
    ];
  } finally {
    feed.kill("SIGKILL");
    await broker.stop();
    rmSync(folder, { recursive: true, force: true });
  }
}
