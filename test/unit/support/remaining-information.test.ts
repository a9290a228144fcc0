import { describe, expect, it } from "vitest";
import { createSupplyModel } from "../../../lib/estimation/supply-model.js";
import { drawCharge } from "../../../lib/simulation/drawn-charge.js";
import { simulateCharge } from "../../../lib/simulation/simulated-charge.js";
import { stageRows } from "../../support/charge-ensemble.js";
import { leastRemainingDeviation_g } from "../../support/remaining-information.js";

describe("the least deviation of grams left", () => {
  const charge = simulateCharge(drawCharge(5, { readBy: "device", mostDays: 14 }));
  const { full, half, quarter } = stageRows(charge);
  const available_g = createSupplyModel(charge.drawn.told).map.co2Available_g;
  // A flat span has a deviation of its width over the root of 12: any handbook of statistics.
  const lost_g = (0.08 * available_g) / Math.sqrt(12);
  const withFriction = (stiction_bar: number) => ({
    ...charge,
    drawn: { ...charge.drawn, gauge: { ...charge.drawn.gauge, stiction_bar } },
  });

  it("is what was drawn when the gauge tells nothing", () => {
    const used_g = full!.co2Remaining_g - half!.co2Remaining_g;
    expect(leastRemainingDeviation_g(withFriction(1e5), half!)).toBeCloseTo(Math.hypot(lost_g, used_g), 2);
  });

  it("is less than what was drawn when it tells, and less the more it tells", () => {
    const some_g = leastRemainingDeviation_g(withFriction(0.5), half!);
    const more_g = leastRemainingDeviation_g(charge, half!);
    expect(some_g).toBeLessThan(lost_g);
    expect(more_g).toBeLessThan(some_g);
    expect(leastRemainingDeviation_g(charge, quarter!)).toBeLessThan(more_g);
  });
});
