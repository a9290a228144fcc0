import { describe, expect, it } from "vitest";
import {
  endReason,
  firstEndOfChargeState,
  isToldOnly,
  patienceWithMeans,
  stepEndOfCharge,
  type EndLook,
  type EndOfChargeState,
} from "../../../../lib/supply-watch/end-of-charge.js";
import { plainText } from "../../../../lib/told/plain-text.js";

const minute_ms = 60_000;
type Row = readonly [minute: number, gauge_bar: number, from?: EndLook["from"]];

/** Limit 2.6 bar. */
function after(rows: readonly Row[], from = firstEndOfChargeState): EndOfChargeState {
  return rows.reduce(
    (state, [minute, gauge_bar, by = "sensor"]) =>
      stepEndOfCharge(
        state,
        { at_epochMs: minute * minute_ms, gauge_bar, closeBelowGauge_bar: 2.6, from: by },
        patienceWithMeans,
      ),
    from,
  );
}
const held = after([
  [0, 2.5],
  [10, 2.5],
]);

describe("end of charge", () => {
  it.each<{ rows: readonly Row[]; isHeld: boolean; because: string }>([
    { rows: [[0, 2.7]], isHeld: false, because: "it is above" },
    { rows: [[0, 2.5]], isHeld: false, because: "one mean may be a dropout" },
    {
      rows: [
        [0, 2.5],
        [10, 2.5],
      ],
      isHeld: true,
      because: "two in a row are below",
    },
    {
      rows: [
        [0, 2.5],
        [10, 2.7],
        [20, 2.5],
      ],
      isHeld: false,
      because: "they are not in a row",
    },
    {
      rows: [
        [0, 2.5],
        [4, 2.5],
      ],
      isHeld: false,
      because: "they are too near to one another",
    },
    { rows: [[0, 2.5, "by eye"]], isHeld: true, because: "a person has looked today" },
    { rows: [[0, 2.5, "by eye, long ago"]], isHeld: false, because: "that was days ago" },
    { rows: [[0, 2.5, "by eye, from afar"]], isHeld: true, because: "to close is safe, whoever says so" },
    {
      rows: [
        [0, 2.5, "by eye, long ago"],
        [9000, 2.4, "by eye, long ago"],
      ],
      isHeld: false,
      because: "both were",
    },
  ])("holds: $isHeld, because $because", ({ rows, isHeld }) => {
    expect(after(rows).held !== undefined).toBe(isHeld);
  });

  it.each<{ rows: readonly Row[]; isHeld: boolean; because: string }>([
    { rows: [], isHeld: true, because: "silence changes nothing" },
    {
      rows: [
        [20, 2.9],
        [30, 3.3],
        [40, 3.5],
        [90, 3.59],
      ],
      isHeld: true,
      because: "a warm room is no new gas",
    },
    {
      rows: [
        [20, 9],
        [30, 9],
      ],
      isHeld: true,
      because: "two means may be a fault of the sensor",
    },
    {
      rows: [
        [20, 9],
        [30, 9],
        [40, 9],
      ],
      isHeld: false,
      because: "three in a row are a new charge",
    },
    {
      rows: [
        [20, 9],
        [30, 2.5],
        [40, 9],
      ],
      isHeld: true,
      because: "they are not in a row",
    },
    { rows: [[20, 9, "by eye"]], isHeld: false, because: "a person has looked today" },
    { rows: [[20, 9, "by eye, long ago"]], isHeld: true, because: "that was days ago" },
    { rows: [[20, 9, "by eye, from afar"]], isHeld: true, because: "nobody need have been there" },
  ])("still holds: $isHeld, because $because", ({ rows, isHeld }) => {
    expect(after(rows, held).held !== undefined).toBe(isHeld);
  });

  it("keeps the figures of the instant at which it began, and says them", () => {
    const later = after([[20, 2.2]], held);
    expect(later.held).toEqual(held.held);
    expect(plainText(endReason("cellar", held.held!))).toBe(
      "below 2.6 bar: vessel cellar is at 2.5 bar; refill it",
    );
  });

  it("does not take a row a second time, or one from before", () => {
    expect(after([[0, 9, "by eye"]], held)).toBe(held);
  });

  it("tells of an old reading only while nothing newer is above", () => {
    const old = after([[0, 2.5, "by eye, long ago"]]);
    expect(isToldOnly(old)).toBe(true);
    expect(isToldOnly(after([[30, 2.8]], old))).toBe(false);
    expect(isToldOnly(held)).toBe(false);
  });
});
