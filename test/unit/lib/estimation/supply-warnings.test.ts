import { describe, expect, it } from "vitest";
import { createSupplyReplay } from "../../../../lib/estimation/replay-trace.js";
import { supplyEstimate } from "../../../../lib/estimation/supply-estimate.js";
import { createSupplyModel } from "../../../../lib/estimation/supply-model.js";
import { suppliedCharge, usedCharge } from "../../../support/supply-trace-rows.js";

describe("what an estimate says of the pressure it had", () => {
  it("is, of a fresh charge, that none counts yet, and not that none was read for a while", () => {
    const charge = suppliedCharge();
    const model = createSupplyModel(charge);
    const replay = createSupplyReplay(model);
    for (const { reading } of usedCharge(charge, { from_epochMs: Date.UTC(2026, 1, 3), days: 1 })) {
      const { at_epochMs, valveOpen } = reading;
      replay.take({ at_epochMs, valveOpen });
    }
    const state = replay.state!;
    const [warning] = supplyEstimate(model, state, state.at_epochMs).warnings;
    expect(warning?.text).toMatch(/^No pressure counts for this charge yet/);
  });
});
