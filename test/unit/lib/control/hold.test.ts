import { describe, expect, it } from "vitest";
import {
  endedHolds,
  holdsOnValve,
  withHold,
  withoutHold,
  type Hold,
  type HoldKind,
} from "../../../../lib/control/hold.js";

const hold = (kind: HoldKind, id = "cellar", changes: Partial<Hold> = {}): Hold => ({
  kind,
  subject: { kind: "vessel", id },
  since_epochMs: 1000,
  note: "",
  ...changes,
});
const lock = hold("maintenance lock");
const refill = hold("refill in progress");
const ofValve = hold("maintenance lock", "outlet", { subject: { kind: "valve", id: "outlet" } });

describe("holds", () => {
  it("are set once for each kind and subject, with the instant of the first", () => {
    const set = withHold([lock], { ...lock, since_epochMs: 9 });
    expect(set).toEqual([lock]);
    expect(withHold([lock], refill)).toEqual([lock, refill]);
    expect(withoutHold([lock, refill, ofValve], lock)).toEqual([refill, ofValve]);
  });

  it.each([
    { held: lock, valve: "outlet", vessel: "cellar", isHeld: true, because: "it sits on the vessel" },
    { held: lock, valve: "cellar", vessel: "spare", isHeld: false, because: "it only has the vessel's name" },
    { held: ofValve, valve: "outlet", vessel: "cellar", isHeld: true, because: "it is the valve" },
    { held: ofValve, valve: "second", vessel: "cellar", isHeld: false, because: "it is another valve" },
    {
      held: hold("maintenance lock", "gone"),
      valve: "outlet",
      vessel: "cellar",
      isHeld: true,
      because: "nobody knows any more what was locked",
    },
  ])("keep a valve closed: $isHeld, as $because", ({ held, valve, vessel, isHeld }) => {
    const found = holdsOnValve([held], { valveId: valve, vesselId: vessel }, ({ id }) => id !== "gone");
    expect(found).toHaveLength(isHeld ? 1 : 0);
  });

  it.each([
    { held: lock, closed: 1e14, isOver: false, because: "a lock waits for the person" },
    { held: refill, closed: 2000, isOver: true, because: "the new charge is recorded" },
    { held: refill, closed: 999, isOver: false, because: "that was the charge before" },
    { held: refill, closed: undefined, isOver: false, because: "no charge is recorded" },
  ])("$held.kind ends: $isOver, as $because", ({ held, closed, isOver }) => {
    expect(endedHolds([held], () => closed)).toEqual(isOver ? [held] : []);
  });
});
