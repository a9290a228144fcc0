import { describe, expect, it } from "vitest";
import { plateCautions } from "../../../../lib/charge-plan/plate-cautions.js";

describe("the plates of a vessel", () => {
  it.each([
    { because: "relief at the rating", rated: 20, relief: 20, kinds: [] },
    { because: "relief below the rating", rated: 20, relief: 18, kinds: [] },
    { because: "relief above the rating", rated: 20, relief: 22, kinds: ["relief-above-rating"] },
    { because: "both in psi", rated: 290, relief: 261, kinds: ["plate-in-psi", "plate-in-psi"] },
    { because: "one in psi", rated: 20, relief: 261, kinds: ["plate-in-psi", "relief-above-rating"] },
    { because: "as strong as such vessels come", rated: 100, relief: 100, kinds: [] },
    { because: "nothing stated", rated: undefined, relief: undefined, kinds: [] },
    { because: "one stated", rated: 290, relief: undefined, kinds: ["plate-in-psi"] },
  ])("$because: $kinds", ({ rated, relief, kinds }) => {
    const cautions = plateCautions({ ratedPressureGauge_bar: rated, reliefOpeningGauge_bar: relief });
    expect(cautions.map(({ kind }) => kind)).toEqual(kinds);
  });

  it("gives what a plate in psi would be in bar, never more than it is", () => {
    const [first] = plateCautions({ ratedPressureGauge_bar: 290, reliefOpeningGauge_bar: undefined });
    // NIST SP 811 (2008): 1 psi = 6.894757 kPa, so 19.99 bar.
    expect(first?.text).toContain("is your plate in psi? 290 psi is 19.9 bar");
  });

  it("defers to people licensed for it when the relief device opens too late", () => {
    const [first] = plateCautions({ ratedPressureGauge_bar: 20, reliefOpeningGauge_bar: 22 });
    expect(first?.text).toMatch(/licensed .*The lower of the two counts/);
  });
});
