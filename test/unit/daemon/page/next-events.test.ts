import { describe, expect, it } from "vitest";
import { nextEvents } from "../../../../daemon/page/next-events.js";
import type { ValveStatus } from "../../../../daemon/site-status.js";
import type { RefillAdvice } from "../../../../daemon/supply/refill-advice.js";
import type { VesselSupply } from "../../../../daemon/supply/vessel-supply.js";
import type { SupplyEstimate } from "../../../../lib/estimation/supply-estimate.js";
import type { RefillOption } from "../../../../lib/refill/refill-option.js";

const wish = { action: "closed", reason: "outside the dosing window" } as const;
const closed: ValveStatus = {
  valveId: "outlet",
  decision: { action: "closed", reason: wish.reason, gist: wish.reason, wish, blocks: [] },
  reported: "closed",
  window: { kind: "closed", opens_epochMs: 500 },
  openSince_monotonicMs: undefined,
  override: undefined,
  holds: [],
};

describe("what comes next", () => {
  it("is the next window of a valve", () => {
    expect(nextEvents({ at_epochMs: 100, valves: [closed], supplies: [] })).toEqual([
      { kind: "valve opens", subjectId: "outlet", at_epochMs: 500 },
    ]);
  });

  it("is no opening of a valve that something holds closed", () => {
    const blocks = [{ rule: "tripped", reason: "CO2 above the close limit" }] as const;
    const held = { ...closed, decision: { ...closed.decision, blocks } };
    expect(nextEvents({ at_epochMs: 100, valves: [held], supplies: [] })).toEqual([]);
  });

  it("is the closing of a valve that is open", () => {
    const open: ValveStatus = {
      ...closed,
      reported: "open",
      window: { kind: "open", closes_epochMs: 900 },
    };
    expect(nextEvents({ at_epochMs: 100, valves: [open], supplies: [] })).toEqual([
      { kind: "valve closes", subjectId: "outlet", at_epochMs: 900 },
    ]);
  });

  it("is the refill as late as costs no dosing day, where waiting is advised, not the next chance of one", () => {
    const events = nextEvents({ at_epochMs: 100, valves: [], supplies: [supplyOf(options)] });
    expect(events).toEqual([
      { kind: "refill", subjectId: "cellar", at_epochMs: 7000 },
      { kind: "charge runs out", subjectId: "cellar", at_epochMs: 15 * day_ms },
    ]);
  });

  it("names no day of an end that is known too badly", () => {
    const vague = { low80_epochMs: 2 * day_ms, high80_epochMs: 300 * day_ms };
    expect(nextEvents({ at_epochMs: 100, valves: [], supplies: [supplyOf({}, vague)] })).toEqual([]);
  });
});

const day_ms = 86_400_000;
const options = { next: optionAt(3000), lastSensible: optionAt(7000) };

function optionAt(begins_epochMs: number): RefillOption {
  return { begins_epochMs } as RefillOption;
}

function supplyOf(
  usual: Partial<RefillAdvice["usual"]>,
  change: Partial<SupplyEstimate["runOut"]> = {},
): VesselSupply {
  const runOut = {
    median_epochMs: 15 * day_ms,
    low80_epochMs: 13 * day_ms,
    high80_epochMs: 18 * day_ms,
    ...change,
  };
  const estimate = { at_epochMs: 0, phase: "dosing", runOut } as SupplyEstimate;
  const told = { estimate, refill: { usual } as RefillAdvice } as NonNullable<VesselSupply["told"]>;
  return { vesselId: "cellar", charge: undefined, failure: undefined, told };
}
