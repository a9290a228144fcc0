import { describe, expect, it } from "vitest";
import { supplyBelief } from "../../../../lib/estimation/supply-belief.js";
import { firstSupplyState } from "../../../../lib/estimation/supply-filter.js";
import { createSupplyModel } from "../../../../lib/estimation/supply-model.js";
import { drawCharge } from "../../../../lib/simulation/drawn-charge.js";
import { simulateCharge } from "../../../../lib/simulation/simulated-charge.js";
import type { SupplyFault } from "../../../../lib/simulation/supply-fault.js";
import type { SupplyReading } from "../../../../lib/estimation/supply-trace.js";
import type { SupplyOpening } from "../../../../lib/estimation/opened-state.js";
import {
  createSupplyWatchModel,
  firstSupplyWatchState,
  stepSupplyWatch,
  watchWarnings,
  type SupplyWatchState,
} from "../../../../lib/supply-watch/supply-watch.js";

const day_ms = 86_400_000;
const drawn = drawCharge(3, { readBy: "transducer", settled: true, leastDays: 20, mostDays: 50 });
const model = createSupplyWatchModel(createSupplyModel(drawn.told), { branches: 2 });
const onset_epochMs = drawn.dosingFrom_epochMs + 7 * day_ms;

interface Watched {
  readonly state: SupplyWatchState;
  /** Ids in the order in which they came up. */
  readonly ids: readonly string[];
  readonly openings: readonly SupplyOpening[];
}

function watched(faults: readonly SupplyFault[]): Watched {
  const { readings } = simulateCharge(drawn, {
    faults,
    until_epochMs: onset_epochMs + 6 * day_ms,
    gaps: "none",
  });
  const belief = supplyBelief(firstSupplyState(model.supply, readings[0]!));
  let state = firstSupplyWatchState;
  const ids: string[] = [];
  const openings: SupplyOpening[] = [];
  readings.forEach((reading, k) => {
    const step = stepSupplyWatch(model, state, reading);
    ({ state } = step);
    openings.push(...step.openings);
    if (k % 12 !== 0) return;
    for (const { id } of watchWarnings(model, state, belief, reading.at_epochMs)) {
      if (!ids.includes(id)) ids.push(id);
    }
  });
  return { state, ids, openings };
}

describe("the watch beside the estimate", () => {
  const rows: readonly {
    readonly fault: SupplyFault | undefined;
    readonly ids: readonly string[];
    readonly opened: string | undefined;
    readonly because: string;
  }[] = [
    { fault: undefined, ids: [], opened: undefined, because: "nothing is wrong" },
    {
      fault: { kind: "vessel-leak", onset_epochMs, leak_gPerDay: 1.5 },
      ids: ["leak-while-closed"],
      opened: undefined,
      because: "gas goes night and day",
    },
    {
      fault: { kind: "needle-readjusted", onset_epochMs, opening_ratio: 1.5 },
      ids: ["flow-rose"],
      opened: "flow",
      because: "half as much again goes while open",
    },
    {
      fault: { kind: "outlet-blocked", onset_epochMs, opening_ratio: 0.2 },
      ids: ["flow-fell"],
      opened: "flow",
      because: "little goes while open",
    },
    {
      fault: { kind: "gauge-step", onset_epochMs, step_bar: -0.6 },
      ids: ["gauge-stepped"],
      opened: "gaugeBias",
      because: "the gauge jumps and the flow stays",
    },
    {
      fault: { kind: "refill", onset_epochMs },
      ids: ["refill-detected"],
      opened: undefined,
      because: "pressure does not come back by itself",
    },
  ];

  it.each(rows)("says $ids where $because", ({ fault, ids, opened }) => {
    const found = watched(fault === undefined ? [] : [fault]);
    expect(found.ids.filter((id) => id !== "vessel-emptied")).toEqual(ids);
    expect([...new Set(found.openings.map(({ component }) => component))]).toEqual(
      opened === undefined ? [] : [opened],
    );
  });

  describe("of readings every ten seconds", () => {
    const settled_epochMs = onset_epochMs;
    const reading = { pressureGauge_bar: 9, temperature_degC: 21, valveOpen: false };
    const start = stepSupplyWatch(model, firstSupplyWatchState, {
      ...reading,
      at_epochMs: settled_epochMs,
    }).state;
    const after = (given: Partial<SupplyReading>): SupplyWatchState =>
      stepSupplyWatch(model, start, { valveOpen: false, at_epochMs: settled_epochMs + 10_000, ...given })
        .state;

    it("passes over those within half a minute", () => {
      expect(after(reading)).toBe(start);
      expect(after({ ...reading, at_epochMs: settled_epochMs + 30_000 })).not.toBe(start);
    });

    it("misses no change of the valve and no reading by eye", () => {
      expect(after({ ...reading, valveOpen: true }).closed?.wasOpen).toBe(true);
      expect(after({ ...reading, byEye: true })).not.toBe(start);
    });

    it("sees pressure and temperature that come in rows of their own", () => {
      const cold = stepSupplyWatch(model, firstSupplyWatchState, {
        at_epochMs: settled_epochMs,
        valveOpen: false,
        pressureGauge_bar: 9,
      }).state;
      const warm = stepSupplyWatch(model, cold, {
        at_epochMs: settled_epochMs + 1000,
        valveOpen: false,
        temperature_degC: 23,
      }).state;
      expect(warm.closed?.sensor_degC).toBe(23);
    });
  });

  it("keeps its state as JSON", () => {
    const { state } = watched([]);
    const kept = JSON.parse(JSON.stringify(state)) as SupplyWatchState;
    const reading = {
      at_epochMs: onset_epochMs + 7 * day_ms,
      pressureGauge_bar: 6,
      temperature_degC: 21,
      valveOpen: false,
    };
    expect(JSON.stringify(stepSupplyWatch(model, kept, reading).state)).toBe(
      JSON.stringify(stepSupplyWatch(model, state, reading).state),
    );
  });
});
