import { spawn } from "node:child_process";
import { once } from "node:events";
import { fileURLToPath } from "node:url";
import Database from "better-sqlite3";
import { expect, it, onTestFinished } from "vitest";
import { machineClock } from "../support/machine-clock.js";
import { storeBench } from "../support/sqlite-store-bench.js";

const writer = fileURLToPath(new URL("../../dist/test/support/store-writer.js", import.meta.url));
const rounds = 50;
const batch_s = 0.05;
/** For the tick of the batch and the disk's own time, on a busy machine. */
const slack_ms = 400;

/** mulberry32: the instants differ from round to round and are the same in every run. */
const randomOf = (seed: number) => (): number => {
  seed = (seed + 0x6d2b79f5) | 0;
  let mixed = Math.imul(seed ^ (seed >>> 15), 1 | seed);
  mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
  return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
};

interface Round {
  readonly health: string;
  readonly event: number;
  readonly state: number;
  readonly reading: number;
  /** How many readings were handed over within the batch interval, and the slack, before the kill. */
  readonly readingsOfLastBatch: number;
}

const runAndKill = async (file: string, round: number, life_ms: number): Promise<Round> => {
  const child = spawn(process.execPath, [writer, file, String(round), String(batch_s)], {
    stdio: ["ignore", "pipe", "inherit"],
  });
  let output = "";
  const readingsAt: { readonly n: number; readonly at_ms: number }[] = [];
  child.stdout.setEncoding("utf8").on("data", (text: string) => {
    output += text;
    const last = text.lastIndexOf("r ");
    if (last !== -1) readingsAt.push({ n: Number.parseInt(text.slice(last + 2)), at_ms: performance.now() });
  });
  const closed = once(child, "close");
  while (!output.includes("health")) {
    if (child.exitCode !== null) throw new Error(`the writer of round ${round} ended: ${output}`);
    await machineClock.sleep(1);
  }
  await machineClock.sleep(life_ms);
  child.kill("SIGKILL");
  const killed_ms = performance.now();
  await closed;
  // A line that the kill cut short was not said.
  const lines = output.slice(0, output.lastIndexOf("\n")).split("\n");
  const lastOf = (letter: string): number =>
    Number(
      lines
        .filter((line) => line.startsWith(`${letter} `))
        .at(-1)
        ?.slice(2) ?? 0,
    );
  const reading = lastOf("r");
  const earlier = readingsAt.filter(({ at_ms }) => at_ms < killed_ms - slack_ms - batch_s * 1000);
  const before = earlier.at(-1)?.n ?? 0;
  return {
    health: lines.find((line) => line.startsWith("health"))!.slice(7),
    event: lastOf("e"),
    state: lastOf("s"),
    reading,
    readingsOfLastBatch: reading - before,
  };
};

it(
  `loses no acknowledged event in ${rounds} kills on one database, and of the readings at most the last batch`,
  { timeout: 120_000 },
  async () => {
    const bench = storeBench();
    onTestFinished(() => bench.clear());
    const random = randomOf(20);
    let acknowledged = 0;
    let readingsLost = 0;
    const begun_ms = performance.now();
    for (let round = 1; round <= rounds; round++) {
      // Some live long enough for many batches, or losing all readings would pass.
      const told = await runAndKill(bench.file, round, round % 10 === 0 ? 1500 : random() * 400);
      expect(told.health).toBe('{"kind":"ok"}');

      const database = new Database(bench.file);
      expect(database.pragma("integrity_check", { simple: true })).toBe("ok");
      const events = database
        .prepare("SELECT cast(what AS INTEGER) FROM events WHERE subject = ? ORDER BY eventId")
        .pluck()
        .all(String(round));
      // One more than was said may be there: the kill came between the commit and the word.
      expect(events.length).toBeGreaterThanOrEqual(told.event);
      expect(events.length).toBeLessThanOrEqual(told.event + 1);
      expect(events).toEqual(events.map((_, n) => n + 1));

      const json = String(
        database.prepare("SELECT json FROM snapshots WHERE name = 'progress'").pluck().get(),
      );
      const { state } = JSON.parse(json) as {
        readonly state: { readonly round: string; readonly n: number };
      };
      if (told.state > 0) expect(state.round).toBe(String(round));
      if (state.round === String(round)) expect(state.n).toBeGreaterThanOrEqual(told.state);

      const readings = database
        .prepare(
          "SELECT value FROM readings JOIN series USING (seriesId) WHERE sensorId = ? ORDER BY at_epochMs",
        )
        .pluck()
        .all(`round-${round}`);
      expect(readings).toEqual(readings.map((_, n) => n + 1));
      const lost = told.reading - readings.length;
      expect(lost).toBeLessThanOrEqual(told.readingsOfLastBatch);
      if (round % 10 === 0) expect(readings.length).toBeGreaterThan(100);
      acknowledged += told.event;
      readingsLost = Math.max(readingsLost, lost);
      database.close();
    }
    console.log(
      `${rounds} kills in ${((performance.now() - begun_ms) / 1000).toFixed(1)} s: ${acknowledged} events acknowledged and found, ` +
        `at most ${readingsLost} readings lost at once`,
    );
    expect(acknowledged).toBeGreaterThan(rounds);

    // The roll-up was cut short fifty times; finished now, it counts each reading exactly once.
    const store = bench.make();
    await store.start();
    expect(await store.runHousekeeping(Date.UTC(2026, 2, 20))).toMatchObject({ kind: "done" });
    await store.stop();
    const database = new Database(bench.file);
    const rolled = database
      .prepare(
        "SELECT sum(count) FROM oneMinute WHERE from_epochMs < (SELECT max(from_epochMs) FROM oneMinute)",
      )
      .pluck()
      .get();
    const raw = database
      .prepare("SELECT count(*) FROM readings WHERE at_epochMs < (SELECT max(from_epochMs) FROM oneMinute)")
      .pluck()
      .get();
    expect(rolled).toBe(raw);
    database.close();
  },
);
