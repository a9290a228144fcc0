import { describe, expect, it } from "vitest";
import { nextEvents } from "../../../../daemon/page/next-events.js";
import type { ValveStatus } from "../../../../daemon/site-status.js";

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
});
