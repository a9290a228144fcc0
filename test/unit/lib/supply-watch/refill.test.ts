import { describe, expect, it } from "vitest";
import { firstRefillState, stepRefill, type RefillState } from "../../../../lib/supply-watch/refill.js";

const minute_ms = 60_000;

function eventsOf(gauges_bar: readonly number[]): readonly string[] {
  let state: RefillState = firstRefillState;
  const events: string[] = [];
  gauges_bar.forEach((pressureGauge_bar, k) => {
    const next = stepRefill(state, {
      at_epochMs: (k + 1) * 10 * minute_ms,
      pressureGauge_bar,
      valveOpen: false,
    });
    if (next.event !== undefined && next.event !== state.event) events.push(next.event.kind);
    state = next;
  });
  return events;
}

const steady = Array.from({ length: 12 }, () => 8);

describe("refill", () => {
  it.each([
    { name: "nothing", gauges_bar: [...steady, 7.9, 7.8, 8.1], events: [], because: "a room does that" },
    { name: "nothing", gauges_bar: [...steady, 0, 8, 8], events: [], because: "one reading is a dropout" },
    {
      name: "nothing",
      gauges_bar: [...steady, 0, 0, 8.1, 8],
      events: [],
      because: "two of them are a dropout",
    },
    {
      name: "an emptied vessel",
      gauges_bar: [...steady, 0.1, 0, 0, 0, 0],
      events: ["emptied"],
      because: "it stays down",
    },
    {
      name: "an emptied and refilled vessel",
      gauges_bar: [...steady, 0, 0, 0, 0, 1, 3, 6, 9, 11, 12],
      events: ["emptied", "refilled"],
      because: "it comes up from nothing",
    },
    {
      name: "a refilled vessel",
      gauges_bar: [...steady, 0.5, 6, 9, 11, 12, 12],
      events: ["refilled"],
      because: "with water it comes up within minutes",
    },
    {
      name: "a refilled vessel",
      gauges_bar: [...steady, 14, 14, 14, 14],
      events: ["refilled"],
      because: "nobody looked while it was filled, and gas does not come by itself",
    },
  ])("sees $name: $because", ({ gauges_bar, events }) => {
    expect(eventsOf(gauges_bar)).toEqual(events);
  });
});
