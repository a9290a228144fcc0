import { describe, expect, it } from "vitest";
import {
  aboveRatingReason,
  ratingCauses,
  ratingGauge_bar,
  type VesselPressureView,
} from "../../../../lib/control/vessel-rating.js";
import type { Trip } from "../../../../lib/control/trip.js";

const subject = { kind: "valve", id: "outlet" } as const;
const vessel: VesselPressureView = {
  vesselId: "cellar",
  pressureGauge_bar: 15,
  accuracy_bar: 0.5,
  ratedPressureGauge_bar: 20,
  reliefOpeningGauge_bar: 18,
};
const trip: Trip = { subject, cause: "pressure above the rating", reason: "seen", at_epochMs: 0 };

describe("what a vessel must not pass", () => {
  it.each([
    { rated: 20, relief: 18, limit: 18, because: "the relief device opens first" },
    { rated: 16, relief: 18, limit: 16, because: "the plate is the lower one" },
    { rated: undefined, relief: 18, limit: 18, because: "only one is stated" },
    { rated: 20, relief: undefined, limit: 20, because: "only one is stated" },
    { rated: undefined, relief: undefined, limit: undefined, because: "nothing is stated" },
  ])("is $limit bar: $because", ({ rated, relief, limit }) => {
    expect(ratingGauge_bar({ ratedPressureGauge_bar: rated, reliefOpeningGauge_bar: relief })).toBe(limit);
  });
});

describe("a vessel above its rating", () => {
  it.each([
    { pressure_bar: 17.5, accuracy_bar: 0.5, isAbove: false, because: "with its error it just reaches it" },
    { pressure_bar: 17.51, accuracy_bar: 0.5, isAbove: true, because: "its error may hide that it is above" },
    {
      pressure_bar: 17.51,
      accuracy_bar: 0.1,
      isAbove: false,
      because: "a better sensor knows that it is not",
    },
    { pressure_bar: undefined, accuracy_bar: 0.5, isAbove: false, because: "a silent sensor says nothing" },
    { pressure_bar: Number.NaN, accuracy_bar: 0.5, isAbove: false, because: "no number says nothing" },
  ])(
    "$pressure_bar bar +- $accuracy_bar: $isAbove, as $because",
    ({ pressure_bar, accuracy_bar, isAbove }) => {
      const seen = { ...vessel, pressureGauge_bar: pressure_bar, accuracy_bar };
      expect(aboveRatingReason(seen) !== undefined).toBe(isAbove);
      expect(ratingCauses(seen, [], subject)).toHaveLength(isAbove ? 1 : 0);
    },
  );

  it("says pressure, error and limit", () => {
    expect(aboveRatingReason({ ...vessel, pressureGauge_bar: 18.24 })).toBe(
      "vessel cellar is at 18.2 bar, give or take 0.5 bar; the lower of its rated and relief pressure is 18 bar",
    );
  });

  it("once tripped stands while its sensor is silent, and no longer than until it is seen below", () => {
    const silent = { ...vessel, pressureGauge_bar: undefined };
    expect(ratingCauses(silent, [trip], subject)).toHaveLength(1);
    expect(ratingCauses(silent, [], subject)).toEqual([]);
    expect(ratingCauses(silent, [trip], { kind: "valve", id: "other" })).toEqual([]);
    expect(ratingCauses(vessel, [trip], subject)).toEqual([]);
    expect(ratingCauses(undefined, [trip], subject)).toEqual([]);
  });
});
