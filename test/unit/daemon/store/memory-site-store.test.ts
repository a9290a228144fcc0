import { expect, it } from "vitest";
import { MemoryDisk, MemorySiteStore } from "../../../support/memory-site-store.js";
import { describeSiteStore, type StoreUnderTest } from "../../../support/site-store-contract.js";

const open = async (disk: MemoryDisk): Promise<StoreUnderTest> => {
  const store = new MemorySiteStore(() => Date.UTC(2026, 2, 1), disk);
  await store.start();
  return {
    store,
    restart: async () => {
      await store.stop();
      return open(disk);
    },
    dispose: () => store.stop(),
  };
};

describeSiteStore("a store in memory", () => open(new MemoryDisk()));

it("keeps what was recorded while its disk failed and writes it on recovery", async () => {
  const memory = new MemorySiteStore(() => Date.UTC(2026, 2, 1));
  await memory.start();
  memory.fail("the disk is full", 5);
  const event = { at_epochMs: 1, area: "valve", subject: "", what: "closed", reason: "", details: {} };
  expect(await memory.recordEvent(event)).toBe(false);
  expect(memory.health()).toEqual({ kind: "failing", reason: "the disk is full", since_monotonicMs: 5 });
  memory.recover();
  expect(await memory.events({ from_epochMs: 0, to_epochMs: 10, limit: 10 })).toEqual([event]);
});
