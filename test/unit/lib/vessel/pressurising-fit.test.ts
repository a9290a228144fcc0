import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { createRandomSource, drawNormal } from "../../../../lib/simulation/random-source.js";
import type { Charge } from "../../../../lib/vessel/charge.js";
import { pressurise, usualSurroundings, type Surroundings } from "../../../../lib/vessel/pressurising.js";
import { fitPace, type PressurisingRecord } from "../../../../lib/vessel/pressurising-fit.js";

const withWater: Charge = {
  vesselVolume_L: 2,
  water_kg: 0.5,
  acid: { kind: "citric-acid-anhydrous", mass_g: 88 },
  sodiumBicarbonate_g: 110,
  sealedAt_degC: 15,
};
const withIce: Charge = { ...withWater, water_kg: 0, ice_kg: 0.5 };
/** Half-widths at 95 %; the noise that is added has half of that as its standard deviation. */
const accuracy = { gaugeAccuracy_bar: 0.2, temperatureAccuracy_degC: 0.6 };

interface Recording {
  readonly heatLoss_WPerK: number;
  readonly mixing_h: number;
  readonly until_h: number;
  readonly lines: number;
  readonly withTemperature: boolean;
  readonly seed: number;
  /** Of absolute pressure, as a wrong weight would do. */
  readonly scale_ratio?: number;
}

const vesselOf = (charge: Charge): Surroundings =>
  usualSurroundings(charge, { room_degC: 16, startWater_degC: 14 });

function record(charge: Charge, drawn: Recording): readonly PressurisingRecord[] {
  const random = createRandomSource(drawn.seed);
  const run = pressurise(
    charge,
    { ...vesselOf(charge), heatLoss_WPerK: drawn.heatLoss_WPerK, mixing_h: drawn.mixing_h },
    { until_h: drawn.until_h, pointCount: drawn.lines },
  );
  return run.points.map((point) => {
    const absolute_bar = (drawn.scale_ratio ?? 1) * (point.pressureGauge_bar + 1.01325);
    const line = {
      at_h: point.at_h,
      pressureGauge_bar: absolute_bar - 1.01325 + 0.1 * drawNormal(random),
    };
    return drawn.withTemperature
      ? { ...line, temperature_degC: point.temperature_degC + 0.3 * drawNormal(random) }
      : line;
  });
}

const fit = (charge: Charge, drawn: Recording): ReturnType<typeof fitPace> =>
  fitPace(charge, vesselOf(charge), record(charge, drawn), accuracy);

describe("heat loss and mixing time from a recorded curve", () => {
  it.each([
    {
      charge: withWater,
      heatLoss_WPerK: 1.3,
      mixing_h: 0.3,
      until_h: 6,
      withTemperature: true,
      because: "water",
    },
    {
      charge: withWater,
      heatLoss_WPerK: 0.4,
      mixing_h: 1.2,
      until_h: 12,
      withTemperature: false,
      because: "water, pressure alone",
    },
    {
      charge: withIce,
      heatLoss_WPerK: 1,
      mixing_h: 8,
      until_h: 40,
      withTemperature: false,
      because: "layered ice",
    },
    {
      charge: withIce,
      heatLoss_WPerK: 0.5,
      mixing_h: 0.6,
      until_h: 24,
      withTemperature: true,
      because: "mixed ice, far from the usual values",
    },
    {
      charge: { ...withWater, water_kg: 0.25, ice_kg: 0.25 },
      heatLoss_WPerK: 2,
      mixing_h: 2,
      until_h: 16,
      withTemperature: true,
      because: "half ice",
    },
  ])(
    "are found again within their bounds: $because",
    ({ charge, heatLoss_WPerK, mixing_h, until_h, withTemperature }) => {
      const found = [11, 12, 13].map((seed) =>
        fit(charge, { heatLoss_WPerK, mixing_h, until_h, withTemperature, seed, lines: 60 }),
      );
      for (const { kind, heatLoss, mixing, rootMeanSquare_bar } of found) {
        expect(kind).toBe("settled");
        // Twice the 95 % bounds: a good fit passes with all but one seed in ten thousand.
        expect(Math.abs(Math.log(heatLoss.value_WPerK / heatLoss_WPerK))).toBeLessThan(
          2 * Math.log(heatLoss.high_WPerK / heatLoss.value_WPerK),
        );
        expect(Math.abs(Math.log(mixing.value_h / mixing_h))).toBeLessThan(
          2 * Math.log(mixing.high_h / mixing.value_h),
        );
        expect(heatLoss.high_WPerK / heatLoss.low_WPerK).toBeLessThan(2.5);
        expect(rootMeanSquare_bar).toBeGreaterThan(0.05);
        expect(rootMeanSquare_bar).toBeLessThan(0.15);
      }
    },
  );

  it("states 95 % bounds that hold the truth in most of 25 records", () => {
    const truth = { heatLoss_WPerK: 0.9, mixing_h: 0.6 };
    const seeds = Array.from({ length: 25 }, (_, k) => 100 + k);
    const held = seeds.filter((seed) => {
      const { heatLoss } = fit(withWater, { ...truth, until_h: 6, lines: 30, withTemperature: true, seed });
      return heatLoss.low_WPerK <= 0.9 && heatLoss.high_WPerK >= 0.9;
    });
    // Binomial(25, 0.95): fewer than 20 happens about once in a thousand.
    expect(held.length).toBeGreaterThanOrEqual(20);
  });

  it("keep a weighing error of 3 % out of the pace", () => {
    const found = fit(withIce, {
      heatLoss_WPerK: 0.8,
      mixing_h: 4,
      until_h: 40,
      lines: 80,
      withTemperature: true,
      seed: 21,
      scale_ratio: 1.03,
    });
    expect(found.pressureScale_ratio).toBeCloseTo(1.03, 2);
    expect(found.heatLoss.value_WPerK / 0.8).toBeCloseTo(1, 1);
    expect(found.mixing.value_h / 4).toBeCloseTo(1, 1);
  });

  it.each([
    {
      charge: withWater,
      heatLoss_WPerK: 0.5,
      mixing_h: 3,
      until_h: 1,
      withTemperature: false,
      doubt: "interchangeable",
      because: "the record ends before either shows",
    },
    {
      charge: withWater,
      heatLoss_WPerK: 1,
      mixing_h: 8,
      until_h: 40,
      withTemperature: false,
      doubt: "heat-loss-open",
      because: "slow mixing hides a body that is always warm",
    },
  ])(
    "are called $doubt when $because",
    ({ charge, heatLoss_WPerK, mixing_h, until_h, withTemperature, doubt }) => {
      const found = fit(charge, { heatLoss_WPerK, mixing_h, until_h, withTemperature, lines: 30, seed: 5 });
      expect(found.kind).toBe("unsettled");
      expect(found.doubts.map((each) => each.kind)).toContain(doubt);
      expect(found.heatLoss.low_WPerK).toBeLessThan(heatLoss_WPerK);
      expect(found.heatLoss.high_WPerK).toBeGreaterThan(heatLoss_WPerK);
    },
  );

  it("are called open in the mixing when melting alone sets the pace and only late lines are there", () => {
    const lines = record(withIce, {
      heatLoss_WPerK: 0.5,
      mixing_h: 0.1,
      until_h: 40,
      lines: 80,
      withTemperature: false,
      seed: 8,
    }).filter((line) => line.at_h > 14);
    const found = fitPace(withIce, vesselOf(withIce), lines, accuracy);
    expect(found.doubts.map((each) => each.kind)).toContain("mixing-open");
  });

  it("are called a poor match when the vessel leaks", () => {
    const leaking = record(withWater, {
      heatLoss_WPerK: 0.8,
      mixing_h: 0.5,
      until_h: 12,
      lines: 40,
      withTemperature: true,
      seed: 3,
    }).map((line) => ({ ...line, pressureGauge_bar: line.pressureGauge_bar * Math.exp(-line.at_h / 12) }));
    const found = fitPace(withWater, vesselOf(withWater), leaking, accuracy);
    expect(found.doubts.map((each) => each.kind)).toContain("poor-match");
  });
});

describe("a record that cannot be used", () => {
  const good = record(withWater, {
    heatLoss_WPerK: 0.8,
    mixing_h: 0.5,
    until_h: 6,
    lines: 8,
    withTemperature: true,
    seed: 1,
  });
  it.each([
    { lines: good.slice(0, 5), quantity: "recorded lines", because: "too few" },
    {
      lines: [...good, { at_h: -1, pressureGauge_bar: 5 }],
      quantity: "time after closing",
      because: "before",
    },
    {
      lines: [...good, { at_h: 1, pressureGauge_bar: NaN }],
      quantity: "gauge pressure",
      because: "not a number",
    },
    {
      lines: [...good, { at_h: 1, pressureGauge_bar: 5, temperature_degC: 90 }],
      quantity: "temperature",
      because: "a broken sensor",
    },
  ])("is refused by the name of its $quantity: $because", ({ lines, quantity }) => {
    const act = (): unknown => fitPace(withWater, vesselOf(withWater), lines, accuracy);
    expect(act).toThrow(OutOfValidRangeError);
    expect(act).toThrow(quantity);
  });

  it("is refused without a gauge accuracy", () => {
    expect(() => fitPace(withWater, vesselOf(withWater), good, { gaugeAccuracy_bar: 0 })).toThrow(
      "gauge accuracy",
    );
  });
});
