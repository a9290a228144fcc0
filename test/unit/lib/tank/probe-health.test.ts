import { describe, expect, it } from "vitest";
import { createRandomSource, drawNormal } from "../../../../lib/simulation/random-source.js";
import { calibrateProbe, type ProbeCalibration } from "../../../../lib/tank/probe-calibration.js";
import {
  defaultProbeDrift,
  learnProbeDrift,
  probeOffsetPhSigma,
  type ProbeDrift,
} from "../../../../lib/tank/probe-drift.js";
import { probeHealth, uncalibratedPhSigma, type ProbeVerdict } from "../../../../lib/tank/probe-health.js";

const day_ms = 86_400_000;
const start_epochMs = Date.parse("2026-01-01T10:00:00Z");
const onDay = (days: number): number => start_epochMs + days * day_ms;

/** A meter that shows pH, this much off at 7 and with this slope, read in 7.00 and 4.01 at 25 degC. */
function calibrationOf(days: number, off: number, slope = 1): ProbeCalibration {
  const outcome = calibrateProbe({
    at_epochMs: onDay(days),
    buffers: [
      { buffer: "7.00", shown: 7 + off, temperature_degC: 25 },
      { buffer: "4.01", shown: 7 + off - 2.994 * slope, temperature_degC: 25 },
    ],
  });
  if (outcome.kind === "refused") throw new Error(outcome.explanation);
  return outcome;
}

describe("the verdict on a probe", () => {
  // Slope 95-102 % good, 85 % and +-30 mV the limits for cleaning, by a maker's sheet; 92 %, 15 and 60 mV from memory.
  it.each<[number, number, ProbeVerdict, string]>([
    [1, 0, "good", "ideal"],
    [0.955, 0.1, "good", "a good slope, 6 mV off"],
    [0.94, 0, "usable", "ageing"],
    [1.04, 0, "usable", "steeper than it can be: the buffers"],
    [0.9, 0, "clean", "under 92 %"],
    [0.84, 0, "replace", "under 85 %"],
    [1, 0.35, "usable", "21 mV"],
    [1, -0.6, "clean", "35 mV"],
    [0.99, 1.1, "replace", "65 mV"],
    [0.94, 0.7, "clean", "the worse of slope and offset counts"],
  ])("with slope %d and %d pH too much is %s (%s)", (slope, off, verdict) => {
    const health = probeHealth({ calibrations: [calibrationOf(0, off, slope)], now_epochMs: onDay(1) });
    expect(health.verdict).toBe(verdict);
    expect(health.remarks.length > 0).toBe(verdict !== "good");
  });

  it("is not known without a calibration, which is then due at once", () => {
    expect(probeHealth({ calibrations: [], now_epochMs: onDay(0) })).toMatchObject({
      verdict: "not known",
      calibrationIsDue: true,
      calibrationDue_epochMs: undefined,
      offsetPhSigma: uncalibratedPhSigma,
    });
  });

  it("keeps the slope of the last two buffers when only the offset was moved since", () => {
    const worn = calibrationOf(0, 0, 0.88);
    const offsetOnly = calibrateProbe(
      { at_epochMs: onDay(7), buffers: [{ buffer: "7.00", shown: 7.03, temperature_degC: 25 }] },
      worn,
    );
    if (offsetOnly.kind === "refused") throw new Error(offsetOnly.explanation);
    expect(probeHealth({ calibrations: [worn, offsetOnly], now_epochMs: onDay(8) }).verdict).toBe("clean");
  });

  it("is told with the age of the probe from a year on", () => {
    const calibrations = [calibrationOf(800, 0)];
    const ageing = probeHealth({ calibrations, now_epochMs: onDay(801), inUseSince_epochMs: onDay(300) });
    const old = probeHealth({ calibrations, now_epochMs: onDay(801), inUseSince_epochMs: onDay(0) });
    expect(ageing.remarks.join(" ")).toContain("16 months");
    expect(ageing.remarks.join(" ")).not.toContain("new one");
    expect(old.remarks.join(" ")).toContain("Have a new one ready");
  });
});

describe("the offset that a probe may have", () => {
  it("widens with the days since the calibration", () => {
    const calibrations = [calibrationOf(0, 0)];
    const sigmas = [0, 1, 7, 28, 90].map(
      (days) => probeHealth({ calibrations, now_epochMs: onDay(days) }).offsetPhSigma,
    );
    expect(sigmas).toEqual([...sigmas].sort((a, b) => a - b));
    // From memory: 0.05 to 0.1 pH a week when new; one keeper's month at +-0.1.
    expect(sigmas[2]).toBeGreaterThan(0.05);
    expect(sigmas[2]).toBeLessThan(0.1);
    expect(sigmas[3]).toBeGreaterThan(0.1);
    expect(sigmas[3]).toBeLessThan(0.2);
  });

  it("of an old calibration is as wide as that of none, not wider", () => {
    const old = (days: number): number =>
      probeHealth({ calibrations: [calibrationOf(0, 0)], now_epochMs: onDay(days) }).offsetPhSigma;
    const none = probeHealth({ calibrations: [], now_epochMs: onDay(0) }).offsetPhSigma;
    expect(old(28)).toBeLessThan(none);
    expect(old(90)).toBe(none);
    expect(old(399)).toBe(none);
  });

  it.each([
    [-0.6, 0.1, "clean"],
    [1.1, 0.2, "replace"],
  ])("of a probe that is off by %d pH is at least %d: %s", (off, least, verdict) => {
    const health = probeHealth({ calibrations: [calibrationOf(0, off)], now_epochMs: onDay(0) });
    expect(health.verdict).toBe(verdict);
    expect(health.offsetPhSigma).toBe(least);
  });

  it("does not narrow when the clock stands before the calibration", () => {
    const calibrations = [calibrationOf(0, 0)];
    const sigma = (days: number): number =>
      probeHealth({ calibrations, now_epochMs: onDay(days) }).offsetPhSigma;
    expect(sigma(-3)).toBe(sigma(0));
  });

  it("is twice as wide by drift at two years of age", () => {
    const moment = { calibration: calibrationOf(0, 0), drift: defaultProbeDrift };
    const drifted = (probeAge_days: number): number =>
      probeOffsetPhSigma({ ...moment, now_epochMs: onDay(28), probeAge_days }) ** 2 -
      probeOffsetPhSigma({ ...moment, now_epochMs: onDay(0), probeAge_days }) ** 2;
    expect(Math.sqrt(drifted(730) / drifted(30))).toBeCloseTo(2, 6);
  });

  it("covers what probes do that wander as the default says, 80 +- 4 % of 2000", () => {
    const random = createRandomSource(20260301);
    let inside = 0;
    for (let trial = 0; trial < 2000; trial += 1) {
      const weeks = 1 + 7 * random();
      const wandered =
        defaultProbeDrift.walkPhPerRootWeek * Math.sqrt(weeks) * drawNormal(random) +
        defaultProbeDrift.steadyPhPerWeek * weeks * drawNormal(random);
      const sigma = probeOffsetPhSigma({
        calibration: calibrationOf(0, 0),
        drift: defaultProbeDrift,
        now_epochMs: onDay(7 * weeks),
      });
      // Buffers and readings at pH 6.7, between 7.00 (0.025) and 4.01 (0.0224).
      const buffers = 0.9 * 0.025 * drawNormal(random) + 0.1 * 0.0224 * drawNormal(random);
      if (Math.abs(wandered + buffers) < 1.2816 * sigma) inside += 1;
    }
    expect(inside / 2000).toBeGreaterThan(0.76);
    expect(inside / 2000).toBeLessThan(0.84);
  });
});

describe("the drift learnt from a probe's own calibrations", () => {
  const monthly = (offs: readonly number[]): ProbeDrift =>
    learnProbeDrift(offs.map((off, index) => calibrationOf(28 * index, off)));

  it("is the default until there are two calibrations", () => {
    expect(monthly([])).toBe(defaultProbeDrift);
    expect(monthly([0.3])).toBe(defaultProbeDrift);
  });

  it.each<[readonly number[], number, number, string]>([
    [[0, 0.01, 0, 0.01, 0, 0.01], 0.4, 0.7, "a quiet probe narrows it, not to nothing"],
    [[0, 0.13, 0, 0.13, 0, 0.13], 0.85, 1.1, "what the default expects leaves it"],
    [[0, 0.4, 0, 0.4, 0, 0.4], 2, 3, "a restless one widens it"],
    [[0, 0.9, 0, 0.9, 0, 0.9, 0, 0.9], 3.9, 4, "but no more than fourfold"],
  ])("from offsets of %j is %d to %d of the default (%s)", (offs, low, high) => {
    const factor = monthly(offs).walkPhPerRootWeek / defaultProbeDrift.walkPhPerRootWeek;
    expect(factor).toBeGreaterThanOrEqual(low - 1e-9);
    expect(factor).toBeLessThanOrEqual(high + 1e-9);
  });

  it("takes out what buffers and readings explain: shifts of 0.03 every other day are no drift", () => {
    const calibrations = [0, 0.03, 0, 0.03, 0, 0.03].map((off, index) => calibrationOf(2 * index, off));
    const factor = learnProbeDrift(calibrations).walkPhPerRootWeek / defaultProbeDrift.walkPhPerRootWeek;
    expect(factor).toBeCloseTo(Math.sqrt(3 / 8), 2);
  });

  it("skips a change of scale, as after a new amplifier", () => {
    const volts = calibrateProbe({
      at_epochMs: onDay(30),
      buffers: [
        { buffer: "7.00", shown: 2.5, temperature_degC: 25 },
        { buffer: "4.01", shown: 3.04, temperature_degC: 25 },
      ],
    });
    if (volts.kind === "refused") throw new Error(volts.explanation);
    expect(learnProbeDrift([calibrationOf(0, 0), volts])).toBe(defaultProbeDrift);
    expect(probeHealth({ calibrations: [volts], now_epochMs: onDay(31) })).toMatchObject({
      verdict: "not known",
      calibrationIsDue: false,
    });
  });

  it("tells a steady direction, without correcting for it", () => {
    const calibrations = [0, 0.15, 0.3, 0.45].map((off, index) => calibrationOf(30 * index, off));
    const health = probeHealth({ calibrations, now_epochMs: onDay(91) });
    expect(health.drift.trend_pHPerDay).toBeCloseTo(0.005, 3);
    expect(health.remarks.join(" ")).toContain("read high, by 0.15 pH a month");
  });

  it("leaves out two calibrations of one day: a second try is no drift", () => {
    expect(learnProbeDrift([calibrationOf(0, 0), calibrationOf(0.1, 0.4)])).toBe(defaultProbeDrift);
  });
});

describe("the next calibration", () => {
  it("is due a month after the last one", () => {
    const health = probeHealth({ calibrations: [calibrationOf(0, 0)], now_epochMs: onDay(29) });
    expect(health.calibrationDue_epochMs).toBe(onDay(30));
    expect(health.calibrationIsDue).toBe(false);
    expect(
      probeHealth({ calibrations: [calibrationOf(0, 0)], now_epochMs: onDay(30) }).calibrationIsDue,
    ).toBe(true);
  });

  it("comes sooner for a probe that wanders more", () => {
    const calibrations = [0, 0.35, 0, 0.35].map((off, index) => calibrationOf(28 * index, off));
    const { calibrationDue_epochMs } = probeHealth({ calibrations, now_epochMs: onDay(85) });
    expect(calibrationDue_epochMs).toBeLessThan(onDay(84 + 21));
    expect(calibrationDue_epochMs).toBeGreaterThan(onDay(84));
  });
});
