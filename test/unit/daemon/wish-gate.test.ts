import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { createWishGate } from "../../../daemon/wish-gate.js";

const limit = { most: 3, within_ms: 3000 };

/** One valve, as it was wished last by whatever way. */
function valveWithWays(count: number) {
  let isClosed = false;
  const gates = Array.from({ length: count }, () => createWishGate(limit, () => isClosed));
  return {
    isClosed: () => isClosed,
    wish: (way: number, closes: boolean, now_monotonicMs: number): boolean => {
      const isTaken = gates[way]!(closes, now_monotonicMs);
      if (isTaken) isClosed = closes;
      return isTaken;
    },
  };
}

const flood = fc.array(
  fc.record({ way: fc.nat(2), closes: fc.boolean(), after_ms: fc.oneof(fc.constant(0), fc.nat(1500)) }),
  { maxLength: 200 },
);

describe("wishes from afar", () => {
  it("that close a valve leave it closed, whatever came before them by whatever way", () => {
    fc.assert(
      fc.property(flood, (wishes) => {
        const valve = valveWithWays(3);
        let now_ms = 0;
        for (const { way, closes, after_ms } of wishes) {
          now_ms += after_ms;
          valve.wish(way, closes, now_ms);
          if (closes && !valve.isClosed()) return false;
        }
        return true;
      }),
      { seed: 20260504, numRuns: 500 },
    );
  });

  it.each([
    { because: "each opens", closes: () => false, most: 3 },
    { because: "each closes", closes: () => true, most: 3 + 3 },
    { because: "they open and close in turn", closes: (index: number) => index % 2 === 1, most: 3 + 3 + 3 },
  ])("are taken at most $most times of a thousand in three seconds where $because", ({ closes, most }) => {
    const valve = valveWithWays(1);
    const taken = Array.from({ length: 1000 }, (_, index) => valve.wish(0, closes(index), index * 2.9));
    expect(taken.filter(Boolean).length).toBeLessThanOrEqual(most);
    expect(taken.filter(Boolean).length).toBeGreaterThanOrEqual(3);
  });
});
