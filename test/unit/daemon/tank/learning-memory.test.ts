import { describe, expect, it } from "vitest";
import { learningFrom, storedLearning } from "../../../../daemon/tank/learning-memory.js";
import { emptyTankLearning, type TankLearning } from "../../../../lib/tank/tank-learning-state.js";
import { runLearningDays } from "../../../support/learning-days.js";

const night = { from_epochMs: 1, until_epochMs: 2, aeration: "off", kh_dKH: 4 };
const onDisk = (states: ReadonlyMap<string, TankLearning>): unknown =>
  JSON.parse(JSON.stringify(storedLearning(states)));

describe("what is learnt, on the disk", () => {
  const state = runLearningDays(3);

  it("comes back whole, but for what is worked out again within a minute", () => {
    const back = learningFrom(onDisk(new Map([["loach", state]]))).get("loach")!;
    expect(back.nights).toEqual(JSON.parse(JSON.stringify(state.nights)));
    expect(back.mornings).toEqual(JSON.parse(JSON.stringify(state.mornings)));
    expect(back.samples).toEqual(state.samples);
    expect(back.night?.from_epochMs).toBe(state.night!.from_epochMs);
    expect(back.verdict?.proof.kind).toBe(state.verdict!.proof.kind);
    expect(back.outlook).toBeUndefined();
  });

  it("keeps a fit that is asked for and not yet made", () => {
    const job = {
      kind: "night" as const,
      from_epochMs: 1,
      until_epochMs: 2,
      samples: [],
      water: { kh_dKH: 4, salts: {} },
      waterChanges_epochMs: [],
    };
    const back = learningFrom(onDisk(new Map([["loach", { ...state, due: [job] }]]))).get("loach")!;
    expect(back.due).toEqual([job]);
  });

  it.each([
    { stored: undefined, because: "nothing was stored" },
    { stored: "text", because: "it is no object" },
    { stored: { loach: { ...emptyTankLearning, version: 2 } }, because: "another version wrote it" },
    { stored: { loach: { ...emptyTankLearning, samples: [[1, "7"]] } }, because: "a reading is no number" },
    { stored: { loach: { ...emptyTankLearning, scale_ratio: 0 } }, because: "the scale is none" },
    {
      stored: {
        loach: {
          ...emptyTankLearning,
          verdict: {
            at_epochMs: 2,
            nightFrom_epochMs: 1,
            isSurelyStuck: true,
            proof: { kind: "gas did not stop" },
          },
        },
      },
      because: "a verdict has no evidence",
    },
    {
      stored: { loach: { ...emptyTankLearning, nights: [{ ...night, fit: { kind: "fitted" } }] } },
      because: "a night's fit has no numbers",
    },
    {
      stored: {
        loach: { ...emptyTankLearning, mornings: [{ from_epochMs: 1, kh_dKH: 4, rise: { kind: "fitted" } }] },
      },
      because: "a morning has no dose",
    },
    {
      stored: { loach: { ...emptyTankLearning, due: [{ kind: "night" }] } },
      because: "a fit that is due has no readings",
    },
    {
      stored: { loach: { ...emptyTankLearning, minutes: [[1, 1e300, null]] } },
      because: "a pH is none that a probe can show",
    },
  ])("is nothing where $because", ({ stored }) => {
    expect(learningFrom(stored)).toEqual(new Map());
  });

  it.each([
    { lead_min: 33.5, taken_min: 34 },
    { lead_min: 1e-9, taken_min: 0 },
  ])(
    "takes a lead of $lead_min min to whole minutes, which a calendar is made of",
    ({ lead_min, taken_min }) => {
      const stored = { loach: { ...emptyTankLearning, usedLead: { lead_min, configured_min: 60 } } };
      expect(learningFrom(stored).get("loach")?.usedLead?.lead_min).toBe(taken_min);
    },
  );

  it("goes on with the leads after shorter pauses", () => {
    const usedLead = {
      lead_min: 90,
      configured_min: 60,
      moved_epochMs: 5,
      afterPauses: [{ pause_min: 240, lead_min: 45 }],
    };
    const back = learningFrom(onDisk(new Map([["loach", { ...emptyTankLearning, usedLead }]])));
    expect(back.get("loach")?.usedLead).toEqual(usedLead);
  });

  it("loses no tank for another that cannot be read", () => {
    const stored = { ...(onDisk(new Map([["loach", state]])) as object), shrimp: { version: 1 } };
    const dropped: string[] = [];
    const back = learningFrom(stored, (tankId, reason) => dropped.push(`${tankId} ${reason}`));
    expect([...back.keys()]).toEqual(["loach"]);
    expect(dropped).toHaveLength(1);
    expect(dropped[0]).toMatch(/^shrimp correction: /);
  });
});
