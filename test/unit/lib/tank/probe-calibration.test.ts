import { describe, expect, it } from "vitest";
import type { BufferReading } from "../../../../lib/journal/journal-entry.js";
import { calibrated } from "../../../../lib/readings/calibration.js";
import type { CalibrationRefusal } from "../../../../lib/tank/calibration-refusal.js";
import {
  calibrateProbe,
  calibrationPhSigma,
  calibrationSlopeSigma_ratio,
  probeCorrection,
  type ProbeCalibration,
  type ProbeScale,
} from "../../../../lib/tank/probe-calibration.js";

const at_epochMs = Date.parse("2026-03-01T10:00:00Z");
const read = (buffer: BufferReading["buffer"], shown: number, temperature_degC = 25): BufferReading => ({
  buffer,
  shown,
  temperature_degC,
});

function accepted(
  buffers: readonly BufferReading[],
  scale?: ProbeScale,
  earlier?: ProbeCalibration,
): ProbeCalibration {
  const outcome = calibrateProbe({ at_epochMs, buffers, ...(scale === undefined ? {} : { scale }) }, earlier);
  if (outcome.kind === "refused") throw new Error(outcome.explanation);
  return outcome;
}

describe("a calibration of a pH probe", () => {
  // Slope in mV over the decade against the Nernst slope 59.16 mV at 25 degC (CODATA; handbooks print 59.16), phthalate 4.006
  // at 25 degC by Hetzer et al. (1977): 2.994 pH between the buffers.
  it.each<[readonly BufferReading[], ProbeScale, number, number, string]>([
    [[read("7.00", 0), read("4.01", 177.12)], "mV", 1, 0, "an ideal electrode: 2.994 x 59.16 mV"],
    [[read("7.00", 12), read("4.01", 180.3)], "mV", 0.95, 12, "a good one"],
    [
      [read("4.01", 150), read("7.00", -10)],
      "mV",
      0.903,
      -10,
      "an ageing one, the buffers in the other order",
    ],
    [[read("7.00", 7), read("4.01", 4.006)], "pH", 1, 0, "a meter that shows the buffers"],
    [[read("7.00", 7.1), read("4.01", 4.256)], "pH", 0.95, -5.9, "a meter that shows 0.1 too much"],
    [[read("6.86", 6.865), read("9.18", 9.18)], "pH", 1, 0, "reference buffers"],
    [[read("4.01", 4.006), read("7.00", 7), read("10.01", 10.01)], "pH", 1, 0, "three buffers"],
  ])("from %j finds the scale %s, slope %d and offset %d mV (%s)", (buffers, scale, slope, offset) => {
    const calibration = accepted(buffers);
    expect(calibration.scale).toBe(scale);
    expect(calibration.slope_ratio).toBeCloseTo(slope, 3);
    expect(calibration.offset_mV).toBeCloseTo(offset, 0);
  });

  it("takes the buffers at their own temperature: phosphate 6.86 is 6.881 at 20 degC", () => {
    const cool = accepted([read("6.86", 6.881, 20), read("4.01", 4.001, 20)]);
    expect(cool.slope_ratio).toBeCloseTo(1, 3);
    expect(cool.shownAt7).toBeCloseTo(7, 3);
  });

  it("gives a correction through both buffers, in the form that readings use", () => {
    const correction = probeCorrection(accepted([read("7.00", 7.12), read("4.01", 4.3)]), 25);
    expect(calibrated(7.12, correction)).toBeCloseTo(7, 9);
    expect(calibrated(4.3, correction)).toBeCloseTo(4.006, 3);
  });

  it("steepens the slope of millivolts with the water's temperature, and leaves a meter's pH as it is", () => {
    const mV = accepted([read("7.00", 7.8, 15), read("4.01", 175, 15)]);
    const warm = probeCorrection(mV, 30);
    const cold = probeCorrection(mV, 15);
    expect(cold.gain / warm.gain).toBeCloseTo(303.15 / 288.15, 9);
    const meter = accepted([read("7.00", 7.1, 15), read("4.01", 4.1, 15)]);
    expect(probeCorrection(meter, 30)).toEqual(probeCorrection(meter, 15));
  });

  it("corrects volts of an amplifier without judging their slope", () => {
    const calibration = accepted([read("7.00", 2.51), read("4.01", 3.05)]);
    expect(calibration).toMatchObject({ scale: "other", slope_ratio: undefined, offset_mV: undefined });
    expect(calibrated(2.51, probeCorrection(calibration, 25))).toBeCloseTo(7, 9);
  });

  it("moves only the offset by one buffer, with the slope known from before", () => {
    const before = accepted([read("7.00", 7), read("4.01", 4.15)]);
    const after = accepted([read("7.00", 7.08)], undefined, before);
    expect(after).toMatchObject({ slopeIsCarriedOver: true, scale: "pH" });
    expect(after.slope_ratio).toBeCloseTo(before.slope_ratio ?? Number.NaN, 9);
    expect(calibrated(7.08, probeCorrection(after, 25))).toBeCloseTo(7, 9);
  });

  it("takes one buffer only as far as two: steps of less than a pH do not add up to a dead probe", () => {
    const first = accepted([read("7.00", 7), read("4.01", 4.006)]);
    const second = accepted([read("7.00", 6.05)], undefined, first);
    const third = accepted([read("7.00", 5.1)], undefined, second);
    const fourth = calibrateProbe({ at_epochMs, buffers: [read("7.00", 4.2)] }, third);
    expect(fourth).toMatchObject({ kind: "refused", reason: "offset too large" });
  });

  const good = accepted([read("7.00", 7), read("4.01", 4.006)]);
  const volts = accepted([read("7.00", 2.51), read("4.01", 3.05)]);
  it.each<[CalibrationRefusal, readonly BufferReading[], ProbeCalibration | undefined, string]>([
    ["no buffer", [], undefined, "nothing was read"],
    ["one buffer, no slope known", [read("7.00", 7.05)], undefined, "the first calibration"],
    ["one buffer, no slope known", [read("7.00", 7.05), read("7.00", 7.06)], undefined, "one bottle twice"],
    ["not a number", [read("7.00", Number.NaN), read("4.01", 4)], undefined, "a reading that is none"],
    ["temperature", [read("7.00", 7, 77), read("4.01", 4, 77)], undefined, "degrees Fahrenheit"],
    ["temperature", [read("7.00", 7, 2), read("4.01", 4, 2)], undefined, "bottles out of the cold"],
    [
      "temperatures differ",
      [read("7.00", 7, 15), read("4.01", 4, 25)],
      undefined,
      "one bottle out of the cold",
    ],
    ["buffers too close", [read("7.00", 7), read("6.86", 6.87)], undefined, "two neutral buffers"],
    ["buffers too close", [read("9.18", 9.18), read("10.01", 10.01)], undefined, "two alkaline buffers"],
    ["equal readings", [read("7.00", 7.01), read("4.01", 6.99)], undefined, "not moved over"],
    [
      "equal readings",
      [read("7.00", 6.4), read("4.01", 6.4)],
      undefined,
      "a dead probe that shows one value",
    ],
    ["equal readings", [read("4.01", 4.02), read("7.00", 4.05)], undefined, "not moved over, the other way"],
    ["buffers swapped", [read("7.00", 4.01), read("4.01", 7)], undefined, "the cups in the wrong order"],
    ["buffers swapped", [read("7.00", 177), read("4.01", 0)], undefined, "the same in millivolts"],
    [
      "buffers swapped",
      [read("7.00", 3.05), read("4.01", 2.51)],
      volts,
      "volts that fell before and now rise",
    ],
    [
      "buffers swapped",
      [read("4.01", 4), read("7.00", 10), read("10.01", 7)],
      undefined,
      "two of three in the wrong order",
    ],
    ["slope too steep", [read("7.00", 7.1), read("4.01", 3.8)], undefined, "a buffer that has gone off"],
    ["slope too flat", [read("7.00", 6.9), read("4.01", 5.6)], undefined, "43 % of the ideal slope"],
    ["offset too large", [read("7.00", 140), read("4.01", 310)], undefined, "2.4 pH off at pH 7"],
    ["offset too large", [read("7.00", 4.02)], good, "the acid buffer under the neutral one's name"],
    [
      "not on a line",
      [read("4.01", 4), read("7.00", 7), read("10.01", 9.5)],
      undefined,
      "an alkaline buffer that has taken up CO2",
    ],
  ])("is refused as %s for %j (%#: before: %o; %s)", (reason, buffers, earlier) => {
    const outcome = calibrateProbe({ at_epochMs, buffers }, earlier);
    expect(outcome).toMatchObject({ kind: "refused", reason });
  });

  it("asks whether 77 degrees were Fahrenheit", () => {
    const outcome = calibrateProbe({ at_epochMs, buffers: [read("7.00", 7, 77), read("4.01", 4, 77)] });
    expect(outcome).toMatchObject({ explanation: expect.stringContaining("Fahrenheit") as string });
  });

  it("holds the readings against the scale that the sensor is said to have", () => {
    const buffers = [read("7.00", 0), read("4.01", 177.1)];
    expect(calibrateProbe({ at_epochMs, buffers, scale: "pH" })).toMatchObject({ kind: "refused" });
  });
});

describe("the uncertainty of a fresh calibration", () => {
  const neutralAndAcid = accepted([read("7.00", 7), read("4.01", 4.006)]);

  // By hand, [JCGM100] 5.1.2: at pH 5.503, half way, sqrt(0.025^2 + 0.0224^2) / 2 = 0.0168.
  it("is the mean's half way between two buffers, a single one's at each of them", () => {
    expect(calibrationPhSigma(neutralAndAcid, 5.503)).toBeCloseTo(0.0168, 4);
    expect(calibrationPhSigma(neutralAndAcid, 7)).toBeCloseTo(0.025, 4);
    expect(calibrationPhSigma(neutralAndAcid, 4.006)).toBeCloseTo(0.02236, 4);
  });

  it("is smaller for a tank's pH from 7 and 4 than from 7 and 10", () => {
    const neutralAndAlkaline = accepted([read("7.00", 7), read("10.01", 10.01)]);
    expect(calibrationPhSigma(neutralAndAcid, 6.6)).toBeLessThan(calibrationPhSigma(neutralAndAlkaline, 6.6));
  });

  it("is wider where three buffers miss their line", () => {
    const straight = accepted([read("4.01", 4.006), read("7.00", 7), read("10.01", 10.01)]);
    const bent = accepted([read("4.01", 4.006), read("7.00", 7.1), read("10.01", 10.01)]);
    expect(calibrationPhSigma(bent, 6.6)).toBeGreaterThan(1.2 * calibrationPhSigma(straight, 6.6));
  });

  it("grows away from the one buffer of an offset calibration, whose slope is carried over", () => {
    const offsetOnly = accepted([read("7.00", 7.05)], undefined, neutralAndAcid);
    expect(calibrationPhSigma(offsetOnly, 6)).toBeGreaterThan(calibrationPhSigma(offsetOnly, 7));
    expect(calibrationPhSigma(offsetOnly, 6)).toBeCloseTo(Math.hypot(0.025, 0.03), 4);
  });

  // By hand, [JCGM100] 5.1.2: sqrt(0.025^2 + 0.0224^2) / 2.994 = 0.0112.
  it("of the slope is both buffers' over the pH between them, and 3 % of a slope carried over", () => {
    expect(calibrationSlopeSigma_ratio(neutralAndAcid)).toBeCloseTo(0.0112, 4);
    const offsetOnly = accepted([read("7.00", 7.05)], undefined, neutralAndAcid);
    expect(calibrationSlopeSigma_ratio(offsetOnly)).toBe(0.03);
  });
});
