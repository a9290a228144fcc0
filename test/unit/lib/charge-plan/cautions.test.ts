import { describe, expect, it } from "vitest";
import { planCharge } from "../../../../lib/charge-plan/plan-charge.js";
import { planSugarCharge } from "../../../../lib/charge-plan/plan-sugar.js";

const vessel = {
  volume_L: 2,
  ratedPressureGauge_bar: 20,
  reliefOpeningGauge_bar: 18,
  leastInletGauge_bar: 3.5,
};

const plans = {
  acid: planCharge({
    vessel,
    acidForm: "citric-acid-anhydrous",
    wanted: { kind: "bicarbonate", sodiumBicarbonate_g: 60 },
  }),
  sugar: planSugarCharge({ vessel, sucrose_g: 60, water_kg: 1 }),
};

describe.each(["acid", "sugar"] as const)("what to take care of with %s", (charge) => {
  const textOf = (kind: string): string => {
    const plan = plans[charge];
    if (plan.kind === "refused" || plan.kind === "sugar-refused") throw new Error(plan.reason);
    return plan.cautions.find((caution) => caution.kind === kind)?.text ?? "";
  };

  it("says at the end how much pressure is left and how to let it off", () => {
    const text = textOf("let-off-at-the-end");
    expect(text).toContain("still holds about 3.5 bar");
    expect(text).toContain("as its maker says");
    expect(text).toContain("before any fitting is touched");
    expect(text).toContain("no proof that the vessel is empty");
  });

  it("says what to do when the gauge reads more than was planned", () => {
    const text = textOf("above-the-bound");
    for (const words of ["keep people and animals away", "let it cool", "ventilate", "loosen nothing"]) {
      expect(text).toContain(words);
    }
    expect(text).toContain("someone licensed for pressure equipment");
  });

  it("puts plate, codes and people licensed for pressure equipment above itself", () => {
    expect(textOf("own-rating")).toMatch(/plate.*codes where you live.*licensed/);
  });
});
