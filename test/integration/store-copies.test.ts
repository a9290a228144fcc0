import { copyFileSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { storeBench, type StoreBench } from "../support/sqlite-store-bench.js";

let bench: StoreBench;
beforeEach(() => {
  bench = storeBench();
});
afterEach(() => bench.clear());

const lacksTheLatest = { kind: "ok", lostTheLatest: true };
const ends = ["", "-wal", "-shm"];

/** A copy, and then a trip that it does not know of; `log` is what a power cut would leave beside the database. */
async function copyOfBefore(): Promise<{ readonly copy: string; readonly log: Buffer }> {
  const store = bench.make();
  await store.start();
  await store.saveSnapshot("control", { trips: [] });
  const copy = join(bench.folder, "night.db");
  expect(await store.backupTo(copy, "everything")).toMatchObject({ kind: "verified" });
  await store.saveSnapshot("control", { trips: ["since"] });
  const log = readFileSync(`${bench.file}-wal`);
  await store.stop();
  for (const end of ends) rmSync(`${bench.file}${end}`, { force: true });
  return { copy, log };
}

describe("a copy that is put back", () => {
  it("counts as one at every start, until the state of the trips was saved anew", async () => {
    const { copy } = await copyOfBefore();
    copyFileSync(copy, bench.file);
    for (const starts of [1, 2]) {
      const store = bench.make();
      await store.start();
      expect(store.health(), `start ${String(starts)}`).toMatchObject(lacksTheLatest);
      await store.saveSnapshot("tanks", { starts });
      await store.stop();
    }
    const store = bench.make();
    await store.start();
    expect(await store.saveSnapshot("control", { trips: ["a person has to look"] })).toBe(true);
    await store.stop();
    const after = bench.make();
    await after.start();
    expect(after.health()).toEqual({ kind: "ok" });
  });

  it("is not mixed with the log that the database before it has left", async () => {
    const { copy, log } = await copyOfBefore();
    copyFileSync(copy, bench.file);
    writeFileSync(`${bench.file}-wal`, log);
    const store = bench.make();
    await store.start();
    expect(store.health()).toMatchObject(lacksTheLatest);
    expect(await store.loadSnapshot("control")).toEqual({ trips: [] });
    const kept = readdirSync(bench.folder).filter((name) => name.includes("-wal.damaged-"));
    expect(kept).toHaveLength(1);
    expect(readFileSync(join(bench.folder, kept[0] ?? "")).equals(log)).toBe(true);
  });

  it("counts as one though it is damaged and only its states could be read", async () => {
    const { copy } = await copyOfBefore();
    const bytes = readFileSync(copy);
    // The last page is in use by an index or a table beyond the states.
    bytes.fill(0xff, bytes.length - 1024);
    writeFileSync(bench.file, bytes);
    const store = bench.make();
    await store.start();
    expect(store.health()).toMatchObject({
      ...lacksTheLatest,
      note: expect.stringContaining("damaged") as string,
    });
  });
});
