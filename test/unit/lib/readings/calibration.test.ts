import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import {
  calibrated,
  electrodeSlope_ratio,
  nernstSlope_mVPerPH,
  twoPointCalibration,
  type TwoPoints,
} from "../../../../lib/readings/calibration.js";

const points = (raw1: number, true1: number, raw2: number, true2: number): TwoPoints => [
  { raw: raw1, true: true1 },
  { raw: raw2, true: true2 },
];

describe("a two-point calibration", () => {
  it.each([
    [points(7.08, 7.0, 4.11, 4.01), 7.08, 7.0, "through the first buffer"],
    [points(7.08, 7.0, 4.11, 4.01), 4.11, 4.01, "through the second buffer"],
    [points(4.11, 4.01, 7.08, 7.0), 5.595, 5.505, "half way, whichever comes first"],
    [points(0.5, 0, 4.5, 20), 2.5, 10, "volts of a pressure transmitter"],
    [points(0, 7, 177.48, 4), -59.16, 8, "millivolts that fall with pH"],
  ])("%j takes %d to %d (%s)", (given, raw, expected) => {
    expect(calibrated(raw, twoPointCalibration(given))).toBeCloseTo(expected, 9);
  });

  it.each([
    [points(7, 7, 7, 4), "one raw value for two buffers"],
    [points(7, 7, 4, 7), "one buffer for two raw values"],
    [points(7, 7, 7, 7), "the same point twice"],
    [points(Number.NaN, 7, 4, 4), "a value that is no number"],
    [points(7, 7, Number.POSITIVE_INFINITY, 4), "a value without end"],
    [points(0, 0, 1e9, 1), "a gain that is nearly nothing"],
  ])("refuses %j (%s)", (given) => {
    expect(() => twoPointCalibration(given)).toThrow(OutOfValidRangeError);
  });
});

describe("the slope of a pH electrode", () => {
  // k = (RT/F) ln 10: 54.199 at 0 degC, 58.168 at 20, 59.159 at 25, 60.152 at 30; handbooks print 54.20, 58.17, 59.16, 60.15
  // (from memory).
  it.each([
    [0, 54.2],
    [20, 58.17],
    [25, 59.16],
    [30, 60.15],
  ])("is ideally, at %d degC, %d mV per pH", (temperature_degC, expected) => {
    expect(Math.abs(nernstSlope_mVPerPH(temperature_degC) - expected)).toBeLessThan(0.006);
  });

  it.each([
    [points(7.0, 7.0, 4.01, 4.01), 1, "a meter that shows the buffers"],
    [points(7.0, 7.0, 4.1597, 4.01), 0.94993, "a worn electrode: 2.8403 pH shown for 2.99"],
    [points(0, 7, 177.48, 4), 1, "raw millivolts, ideal"],
    [points(5, 7, 166, 4), 0.90715, "raw millivolts, 161 mV over 3 pH"],
  ])("of %j is %d of the ideal (%s)", (given, expected) => {
    expect(electrodeSlope_ratio(given, 25)).toBeCloseTo(expected, 3);
  });

  it.each([
    [points(1.5, 7, 1.2, 4), "volts of an amplifier of unknown gain"],
    [points(0, 4, 177, 7), "millivolts that rise with pH are not those of the electrode itself"],
  ])("is not known from %j (%s)", (given) => {
    expect(electrodeSlope_ratio(given, 25)).toBeUndefined();
  });

  it("is refused for a temperature at which water is no liquid", () => {
    expect(() => nernstSlope_mVPerPH(-1)).toThrow(OutOfValidRangeError);
    expect(() => electrodeSlope_ratio(points(0, 7, 177.48, 4), 101)).toThrow(OutOfValidRangeError);
  });
});
