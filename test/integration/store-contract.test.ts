import { storeBench, type StoreBench } from "../support/sqlite-store-bench.js";
import { describeSiteStore, type StoreUnderTest } from "../support/site-store-contract.js";

const open = async (bench: StoreBench): Promise<StoreUnderTest> => {
  const store = bench.make();
  await store.start();
  return {
    store,
    restart: async () => {
      await store.stop();
      return open(bench);
    },
    dispose: () => bench.clear(),
  };
};

describeSiteStore("the store on SQLite", () => open(storeBench()));
