import { describe, expect, it } from "vitest";
import { JournalMemory } from "../../../../daemon/journal/journal-memory.js";
import { withGasUse } from "../../../../daemon/tank/gas-use.js";
import { learntFields } from "../../../../daemon/tank/learnt-document.js";
import { learntLines } from "../../../../daemon/tank/learnt-text.js";
import type { LearntTankStatus } from "../../../../daemon/tank/learnt-tank-status.js";
import { learntTank } from "../../../../lib/tank/learnt-tank.js";
import { learningStart_epochMs, learningTank, runLearningDays } from "../../../support/learning-days.js";
import { benchYaml, modelOf } from "../../../support/control-bench.js";
import type { VesselSupply } from "../../../../daemon/supply/vessel-supply.js";

const day_ms = 86_400_000;
const now_epochMs = learningStart_epochMs + 4 * day_ms;
/** Its tank has 120 L where the simulated one has 100 L, in which 5 mg/L an hour dissolve: 0.6 g an hour here. */
const model = modelOf(benchYaml);
const learnt: LearntTankStatus = {
  ...learntTank(runLearningDays(4), learningTank.kh_dKH, now_epochMs),
  tankId: "loach",
  usedLead_min: 60,
  configuredLead_min: 60,
  useLearntLead: undefined,
};

function counted(bubbles_perMin: number, at_epochMs = now_epochMs - day_ms): JournalMemory {
  const memory = new JournalMemory();
  memory.add({
    entryId: 1,
    at_epochMs,
    enteredAt_epochMs: at_epochMs,
    source: "local",
    note: "",
    fact: { kind: "bubble count", valveId: "outlet", bubbles_perMin },
    withdrawn: false,
  });
  return memory;
}

function told(flow_gPerH: { readonly value: number; readonly deviation: number }): readonly VesselSupply[] {
  return [{ vesselId: "cellar", told: { estimate: { flow_gPerH } } } as unknown as VesselSupply];
}

function useOf(
  journal: JournalMemory,
  supplies: readonly VesselSupply[] = [],
  of = learnt,
): LearntTankStatus {
  const [one] = withGasUse([of], { now_epochMs, model, tanks: [], supplies, journal });
  return one!;
}

const textOf = (status: LearntTankStatus): string => learntLines(status, String).join("\n");

describe("what a tank takes of the gas that goes to it", () => {
  it("is by the bubble count, with the width that bubbles have", () => {
    // 145 a minute of 0.055 mL at 25 degC are 0.84 g an hour, of which 0.6 g stay: about 70 %.
    const { gasUse } = useOf(counted(145));
    expect(gasUse).toMatchObject({ by: "bubble count" });
    expect(gasUse!.flow_mgPerMin).toBeCloseTo(14, 0);
    expect(gasUse!.efficiency!.efficiency_ratio).toBeGreaterThan(0.55);
    expect(gasUse!.efficiency!.efficiency_ratio).toBeLessThan(0.9);
    expect(gasUse!.efficiency!.efficiencyHigh80_ratio).toBeGreaterThan(1);
    expect(textOf(useOf(counted(145)))).toMatch(
      /gas 14 mg a minute while open, by bubble count \(80 %: 7\.\d to 2\d\); the water takes \d\d % of it \(80 %: \d\d % to 100 %\)/,
    );
  });

  it("is by what the vessel loses where that is known better", () => {
    const { gasUse } = useOf(counted(145), told({ value: 1, deviation: 0.1 }));
    expect(gasUse).toMatchObject({ by: "what the vessel loses" });
    expect(gasUse!.flow_mgPerMin).toBeCloseTo(1000 / 60, 6);
    expect(gasUse!.efficiency!.efficiency_ratio).toBeCloseTo((120 * learnt.dose!.dose_mgPerLPerH) / 1000, 6);
    expect(learntFields(useOf(counted(145), told({ value: 1, deviation: 0.1 })))).toMatchObject({
      gasUse: {
        by: "what the vessel loses",
        flow_mgPerMin: { value: 17 },
        efficiency_ratio: { impossible: false },
      },
    });
  });

  it("says what to look at where the water takes more than there is", () => {
    const text = textOf(useOf(counted(20), told({ value: 0.1, deviation: 0.01 })));
    expect(text).toContain(
      "the water takes more than that, so one of what the vessel loses, the tank's volume, KH",
    );
  });

  it("is only the flow before a morning has taught the dose, and nothing without a count of these weeks", () => {
    expect(textOf(useOf(counted(145), [], { ...learnt, dose: undefined }))).toMatch(
      /gas 14 mg a minute while open, by bubble count \(80 %: [\d.]+ to \d+\)$/m,
    );
    expect(useOf(counted(145, now_epochMs - 15 * day_ms)).gasUse).toBeUndefined();
    expect(useOf(new JournalMemory())).toBe(learnt);
    expect(learntFields(learnt)).toMatchObject({ gasUse: null });
  });
});
