import { closeSync, mkdtempSync, openSync, readFileSync, rmSync, writeSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileLines } from "../../daemon/cli/file-lines.js";
import { replayCommand } from "../../daemon/cli/replay.js";
import { supplyEstimate } from "../../lib/estimation/supply-estimate.js";
import { firstSupplyState, stepSupply } from "../../lib/estimation/supply-filter.js";
import { createSupplyModel } from "../../lib/estimation/supply-model.js";
import { suppliedCharge, traceRows } from "./supply-trace-rows.js";

/**
 * Prints how long the estimator takes on this machine: `node dist/test/support/supply-speed.js`. A figure to look at, not
 * a test. With `year`, a year of readings every 10 s goes through the replay command as well, with everything that watches
 * beside the estimate (about 150 MB in a temporary file).
 */

const from_epochMs = Date.UTC(2026, 1, 3);
const charge = suppliedCharge();
const start = process.hrtime.bigint();
const model = createSupplyModel(charge);
console.log(`model of a charge: ${(Number(process.hrtime.bigint() - start) / 1e6).toFixed(0)} ms`);

const gauge_bar = (removed_g: number): number =>
  model.map.pressureOf({
    reacted_g: Math.max(3, 0.965 * model.map.co2Available_g - removed_g),
    atFirst_g: 0.965 * model.map.co2Available_g,
    temperature_degC: 20,
    retained_ratio: 1,
    air_ratio: 0.6,
    airHaste_ratio: 1.1,
  }).pressureAbsolute_bar - 1.01325;

function report(what: string, wanted: string, times_us: readonly number[]): void {
  // The first third warms the compiler up.
  const settled = times_us.slice(times_us.length / 3).sort((a, b) => a - b);
  const at = (share: number): string => (settled[Math.floor(share * settled.length)] ?? 0).toFixed(1);
  console.log(`${what}: median ${at(0.5)} us, 95 % below ${at(0.95)} us (wanted: ${wanted})`);
}

const rows = traceRows({ from_epochMs, days: 40, flow_gPerH: 0.15, gauge_bar });
let state = firstSupplyState(model, rows[0]!.reading);
const steps_us: number[] = [];
const estimates_us: number[] = [];
for (const [k, { reading }] of rows.entries()) {
  const before = process.hrtime.bigint();
  state = stepSupply(model, state, reading);
  steps_us.push(Number(process.hrtime.bigint() - before) / 1000);
  if (k % 6 !== 0) continue;
  const asked = process.hrtime.bigint();
  supplyEstimate(model, state, reading.at_epochMs);
  estimates_us.push(Number(process.hrtime.bigint() - asked) / 1000);
}
report("one step of the filter", "300 us", steps_us);
report("one estimate with its run-out", "-", estimates_us);

if (process.argv[2] === "year") {
  const folder = mkdtempSync(join(tmpdir(), "fizzward-year-"));
  try {
    await replayYear(folder);
  } finally {
    rmSync(folder, { recursive: true });
  }
}

async function replayYear(folder: string): Promise<void> {
  const tracePath = join(folder, "year.csv");
  const chargePath = join(folder, "charge.json");
  const file = openSync(tracePath, "w");
  writeSync(file, "at,pressureGauge_bar,temperature_degC,valveOpen\n");
  const count = 365 * 8640;
  let lines: string[] = [];
  let removed_g = 0;
  for (let k = 0; k <= count; k += 1) {
    const at_epochMs = from_epochMs + k * 10_000;
    const hour = (at_epochMs / 3_600_000) % 24;
    const valveOpen = hour >= 10 && hour < 18;
    if (valveOpen) removed_g += 0.015 / 360;
    const room_degC = 20 + Math.cos((2 * Math.PI * (hour - 15)) / 24);
    const time = new Date(at_epochMs).toISOString();
    lines.push(
      `${time},${gauge_bar(removed_g).toFixed(2)},${room_degC.toFixed(1)},${valveOpen ? "1" : "0"}\n`,
    );
    if (lines.length < 20_000 && k < count) continue;
    writeSync(file, lines.join(""));
    lines = [];
  }
  closeSync(file);
  const told = {
    citricAcidAnhydrous_g: 100,
    sodiumBicarbonate_g: 120,
    water_kg: 0.5,
    vesselVolume_L: 2,
    sealedAt_degC: 20,
    closedAt: "2026-02-01T00:00:00Z",
    closedWith: "water",
    settled: true,
    workingPressureGauge_bar: 2.5,
    gaugeAccuracy_bar: 0.1,
    timeZone: "Europe/Berlin",
    windows: [{ opens: "11:00", closes: "19:00" }],
  };
  const chargeFile = openSync(chargePath, "w");
  writeSync(chargeFile, JSON.stringify(told));
  closeSync(chargeFile);
  let written = 0;
  const usedBefore = process.cpuUsage();
  const before = process.hrtime.bigint();
  const code = await replayCommand(
    tracePath,
    { charge: chargePath, ndjson: true },
    {
      readText: (path) => Promise.resolve(readFileSync(path, "utf8")),
      readLines: fileLines,
      write: () => (written += 1),
    },
  );
  const seconds = Number(process.hrtime.bigint() - before) / 1e9;
  const used = process.cpuUsage(usedBefore);
  const computing = (used.user + used.system) / 1e6;
  console.log(
    `replay of a year of ${count} readings, ${written} hours, watch on: ${seconds.toFixed(1)} s, ` +
      `${computing.toFixed(1)} s of computing, exit ${code} (wanted: 60 s)`,
  );
}
