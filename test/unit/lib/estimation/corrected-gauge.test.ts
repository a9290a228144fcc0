import { describe, expect, it } from "vitest";
import { correctedGauge_bar } from "../../../../lib/estimation/corrected-gauge.js";
import { chargeOf, createSupplyModel } from "../../../../lib/estimation/supply-model.js";
import { component as c, componentCount } from "../../../../lib/estimation/supply-state.js";
import { depletionCurve } from "../../../../lib/vessel/depletion.js";
import { suppliedCharge } from "../../../support/supply-trace-rows.js";

const model = createSupplyModel(suppliedCharge());
/** A charge that is just as the model says, and a gauge without error. */
const mean = new Array<number>(componentCount).fill(0);
for (const index of [c.pressureFactor, c.retained, c.air, c.airHaste]) mean[index] = 1;

function gaugeAt_bar(temperature_degC: number, removed: number): number {
  const curve = depletionCurve(chargeOf(model.charge), { temperature_degC, withdrawal: "headspace" });
  return curve.afterRemoving(removed * curve.co2Available_mol).pressureAbsolute_bar - 1.01325;
}

describe("a gauge as at another temperature", () => {
  it.each([
    { from_degC: 26, to_degC: 20, removed: 0.05, because: "a fresh charge in a warm room" },
    { from_degC: 12, to_degC: 20, removed: 0.3, because: "in use, in a cool cellar" },
    { from_degC: 24, to_degC: 21, removed: 0.7, because: "near its end" },
    { from_degC: 21, to_degC: 21, removed: 0.4, because: "nothing is to be corrected" },
  ])("is what the vessel solved at $to_degC degC shows: $because", ({ from_degC, to_degC, removed }) => {
    const reading = { pressureGauge_bar: gaugeAt_bar(from_degC, removed), temperature_degC: from_degC };
    const corrected_bar = correctedGauge_bar(model, mean, reading, to_degC);
    const solved_bar = gaugeAt_bar(to_degC, removed);
    // The solved curve is another program than the table, which is within 0.4 % of it.
    expect(Math.abs(corrected_bar - solved_bar)).toBeLessThan(0.01 * (solved_bar + 1.01325));
  });

  it("brings 16 kgf/cm2 at 0 degC to about 21 at 25 degC (common practice, no source)", () => {
    const acid = { kind: "citric-acid-anhydrous", mass_g: 150 } as const;
    const full = createSupplyModel(suppliedCharge({ acid, sodiumBicarbonate_g: 180 }));
    const reading = { pressureGauge_bar: 16 * 0.980665, temperature_degC: 0 };
    const warm_bar = correctedGauge_bar(full, mean, reading, 25);
    expect(warm_bar).toBeGreaterThan(19.5 * 0.980665);
    expect(warm_bar).toBeLessThan(22.5 * 0.980665);
  });

  it("keeps what no amount of CO2 explains, rather than to hide it", () => {
    const impossible = { pressureGauge_bar: 60, temperature_degC: 20 };
    expect(correctedGauge_bar(model, mean, impossible, 20)).toBeCloseTo(60, 6);
  });
});
