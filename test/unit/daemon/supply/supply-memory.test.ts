import { expect, it } from "vitest";
import { firstEndOfChargeState } from "../../../../lib/supply-watch/end-of-charge.js";
import { emptySupplyMemory, storedSupplies, suppliesFrom } from "../../../../daemon/supply/supply-memory.js";

it("keeps the hold of an ended charge, and the newest rows, though none was folded for more than a month", () => {
  const held = { since_epochMs: 1, gauge_bar: 2.9, closeBelowGauge_bar: 3, from: "sensor" as const };
  const rows = Array.from({ length: 6000 }, (_, n) => ({
    at_epochMs: n * 600_000,
    valveOpen: false,
    pressureGauge_bar: 2.9,
  }));
  const memory = {
    ...emptySupplyMemory({ key: "one", closedAt_epochMs: 0 }),
    rows,
    end: { ...firstEndOfChargeState, held },
  };
  const stored: unknown = JSON.parse(JSON.stringify(storedSupplies(new Map([["cellar", memory]]))));
  const read = suppliesFrom(stored).get("cellar");
  expect(read?.end.held).toEqual(held);
  expect(read?.rows.at(-1)).toEqual(rows.at(-1));
});
