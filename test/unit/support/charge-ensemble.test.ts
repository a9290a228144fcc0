import { describe, expect, it } from "vitest";
import type { SuppliedCharge } from "../../../lib/estimation/supply-trace.js";
import { drawCharge } from "../../../lib/simulation/drawn-charge.js";
import { simulateCharge } from "../../../lib/simulation/simulated-charge.js";
import { quantile, scoreMethod, stageRows, summarise, runEnsemble } from "../../support/charge-ensemble.js";
import {
  chargeExperiments,
  runExperiment,
  type SupplyDetectorMaker,
} from "../../support/charge-experiments.js";
import { chargeDocument, isoWithOffset, traceCsv } from "../../support/charge-trace-files.js";
import { proportionalToCorrectedGauge, proportionalToGauge, toldCo2_g } from "../../support/naive-supply.js";
import type { SupplyMethod } from "../../support/supply-under-test.js";

const charge: SuppliedCharge = {
  acid: { kind: "citric-acid-anhydrous", mass_g: 100 },
  sodiumBicarbonate_g: 84.006,
  water_kg: 0.5,
  vesselVolume_L: 2,
  sealedAt_degC: 20,
  closedAt_epochMs: Date.parse("2025-03-29T23:30:00Z"),
  closedWith: "water",
  settled: true,
  workingPressureGauge_bar: 2,
  gaugeAccuracy_bar: 0.25,
  timeZone: "Europe/Berlin",
  windows: [{ opens_min: 510, closes_min: 1020 }],
};

describe("the methods that people use", () => {
  it("know a charge by the lesser of its bicarbonate and three times its acid", () => {
    expect(toldCo2_g(charge)).toBeCloseTo(44.009, 3);
    expect(toldCo2_g({ ...charge, acid: { kind: "citric-acid-monohydrate", mass_g: 21.0138 } })).toBeCloseTo(
      0.3 * 44.009,
      3,
    );
  });

  it("take what the gauge shows over what it showed when full, and go on falling as it fell", () => {
    const method = proportionalToGauge.start(charge);
    expect(method.answerAt(0)).toBeUndefined();
    method.step({ at_epochMs: 0, pressureGauge_bar: 18, valveOpen: false });
    method.step({ at_epochMs: 1000, pressureGauge_bar: 20, valveOpen: false });
    method.step({ at_epochMs: 1001, valveOpen: true });
    method.step({ at_epochMs: 11_000, pressureGauge_bar: 11, valveOpen: true });
    const answer = method.answerAt(12_000)!;
    expect(answer.remaining.value_g).toBeCloseTo((44.009 * 11) / 20, 9);
    // 9 bar in 10 s; 9 more to the working pressure.
    expect(answer.runOut?.median_epochMs).toBeCloseTo(21_000, 6);
    expect(answer.remaining.interval80).toBeUndefined();
  });

  it("correct the absolute pressure to 20 degC by the law of Gay-Lussac", () => {
    const method = proportionalToCorrectedGauge.start(charge);
    method.step({ at_epochMs: 0, pressureGauge_bar: 20, temperature_degC: 20, valveOpen: false });
    method.step({ at_epochMs: 1, valveOpen: true });
    method.step({ at_epochMs: 2, pressureGauge_bar: 10, temperature_degC: 30, valveOpen: true });
    const corrected_bar = (11.01325 * 293.15) / 303.15 - 1.01325;
    expect(method.answerAt(3)!.remaining.value_g).toBeCloseTo((44.009 * corrected_bar) / 20, 9);
  });
});

describe("the score of a method", () => {
  const simulated = simulateCharge(drawCharge(3, { readBy: "device" }));
  const rows = stageRows(simulated);

  /** Knows the truth of one charge and answers with an error that it was told to make. */
  const knowing = (error_g: number, halfWidth_g: number, late_ratio: number): SupplyMethod => ({
    name: "knows",
    start: () => ({
      step: () => undefined,
      answerAt: (at_epochMs) => {
        const row = simulated.truth.find((truth) => truth.at_epochMs === at_epochMs)!;
        const value_g = row.co2Remaining_g + error_g;
        const left_ms = simulated.runOut_epochMs! - at_epochMs;
        return {
          remaining: {
            value_g,
            interval80: [value_g - halfWidth_g, value_g + halfWidth_g],
            interval95: [value_g - 2 * halfWidth_g, value_g + 2 * halfWidth_g],
          },
          deliverable: { value_g: row.deliverable_g() },
          runOut: { median_epochMs: at_epochMs + (1 + late_ratio) * left_ms },
        };
      },
    }),
  });

  it("looks when all, half and a quarter of the deliverable are left", () => {
    const whole_g = rows.full!.deliverable_g();
    for (const [stage, share] of [
      ["half", 0.5],
      ["quarter", 0.25],
    ] as const) {
      const left_g = rows.full!.co2Remaining_g - rows[stage]!.co2Remaining_g;
      expect(1 - left_g / whole_g).toBeCloseTo(share, 1);
    }
  });

  it("is the error that the method made, in points of the charge and in shares of the time left", () => {
    const told_g = toldCo2_g(simulated.drawn.told);
    const { at, overTime } = scoreMethod(simulated, knowing(0.03 * told_g, 0.02 * told_g, 0.1));
    expect(at.half!.remainingError_percent).toBeCloseTo(3, 9);
    expect(at.half!.halfWidth80_percent).toBeCloseTo(2, 9);
    expect(at.half!.runOutError_ratio).toBeCloseTo(0.1, 9);
    expect(at.half!.deliverableError_percent).toBeCloseTo(0, 9);
    expect(at.half!.in80).toBe(false);
    expect(at.half!.in95).toBe(true);
    expect(overTime.length).toBeGreaterThan(40);
  });

  it("counts a method that throws, and one that does not know the end, as missed", () => {
    const broken: SupplyMethod = {
      name: "breaks",
      start: () => {
        throw new RangeError("no");
      },
    };
    const [summary] = summarise([
      {
        seed: 3,
        days: 1,
        idealRunOutError_ratio: {},
        leastRemainingDeviation_percent: {},
        methods: [scoreMethod(simulated, broken)],
      },
    ]);
    expect(summary!.thrown).toEqual(["seed 3: no"]);
    expect(quantile([Infinity, Infinity], 0.5)).toBe(Infinity);
    expect(quantile([1, 2, 3, 4], 0.5)).toBe(2.5);
  });

  it("is the same for the same seeds", () => {
    const plan = {
      charges: 2,
      firstSeed: 21,
      conditions: { readBy: "eye", leastDays: 10, mostDays: 20 },
      methods: [proportionalToGauge],
    } as const;
    const [first, again] = [runEnsemble(plan), runEnsemble(plan)].map((charges) =>
      charges.map((one) => ({ ...one, methods: one.methods.map((run) => ({ ...run, stepTime_us: 0 })) })),
    );
    expect(again).toEqual(first);
  });
});

describe("a trace on disk", () => {
  it("carries the offset of its zone, over a clock change too", () => {
    expect(isoWithOffset(Date.parse("2025-03-30T00:30:00Z"), "Europe/Berlin")).toBe(
      "2025-03-30T01:30:00+01:00",
    );
    expect(isoWithOffset(Date.parse("2025-03-30T01:30:00Z"), "Europe/Berlin")).toBe(
      "2025-03-30T03:30:00+02:00",
    );
    expect(isoWithOffset(Date.parse("2025-03-30T01:30:00Z"), "America/New_York")).toBe(
      "2025-03-29T21:30:00-04:00",
    );
  });

  it("says the charge in the words of a replay", () => {
    expect(chargeDocument(charge)).toMatchObject({
      citricAcidAnhydrous_g: 100,
      sodiumBicarbonate_g: 84.006,
      closedAt: "2025-03-30T00:30:00+01:00",
      closedWith: "water",
      settled: true,
      windows: [{ opens: "08:30", closes: "17:00" }],
    });
    expect(chargeDocument(charge)).not.toHaveProperty("acid");
  });

  it("leaves empty what was not read, and has no column for a scale that is not there", () => {
    const row = { at_epochMs: Date.parse("2025-06-01T00:00:00Z"), valveOpen: true };
    expect(
      traceCsv([row, { ...row, pressureGauge_bar: 12.5, temperature_degC: 21, valveOpen: false }], "UTC"),
    ).toBe(
      "at,pressureGauge_bar,temperature_degC,valveOpen\n" +
        "2025-06-01T00:00:00+00:00,,,1\n" +
        "2025-06-01T00:00:00+00:00,12.5,21,0\n",
    );
    expect(traceCsv([{ ...row, vesselMass_g: 3101.2 }], "UTC")).toContain(",1,3101.2\n");
  });
});

describe("an experiment with a fault", () => {
  const plan = { runs: 2, firstSeed: 1 };
  const detecting = (findings: ReturnType<ReturnType<SupplyDetectorMaker>["step"]>): SupplyDetectorMaker => {
    return () => ({ step: () => findings });
  };
  const leakAt1K = chargeExperiments[0]!;

  it("says that there is no detector rather than that it passed", () => {
    expect(runExperiment(leakAt1K, undefined, plan)).toEqual({
      kind: "no-detector-yet",
      name: leakAt1K.name,
    });
    const other = { maker: detecting([]), finds: ["charge-too-weak"] as const };
    expect(runExperiment(leakAt1K, other, plan).kind).toBe("no-detector-yet");
  });

  it("is failed by a detector that finds nothing, and by one that cries before the onset", () => {
    for (const [findings, falseBeforeOnset] of [
      [[], 0],
      [["leak"], 2],
    ] as const) {
      const result = runExperiment(leakAt1K, { maker: detecting(findings), finds: ["leak"] }, plan);
      expect(result).toMatchObject({ kind: "done", figures: { foundInTime_ratio: 0, falseBeforeOnset } });
      if (result.kind === "done") expect(result.limits.every((limit) => !limit.met)).toBe(true);
    }
  });

  it("weighs heavy charges so that nearly all would pass 80 % of the rating, and sound ones so that they stay in it", () => {
    const heavy = chargeExperiments.find((experiment) => experiment.id === "too-strong")!;
    const result = runExperiment(
      heavy,
      { maker: detecting([]), finds: ["charge-too-strong"] },
      { runs: 12, firstSeed: 1 },
    );
    expect(result.kind).toBe("done");
    if (result.kind !== "done") return;
    expect(result.figures.passed80).toBeGreaterThanOrEqual(9);
    expect(result.figures.falseOnSound_ratio).toBe(0);
    expect(result.limits[0]!.met).toBe(false);
  });
});
