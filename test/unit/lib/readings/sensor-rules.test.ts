import { describe, expect, it } from "vitest";
import { OutOfValidRangeError, UnknownNameError } from "../../../../lib/errors.js";
import { calibrated } from "../../../../lib/readings/calibration.js";
import { sensorRulesFrom, type SensorDescription } from "../../../../lib/readings/sensor-rules.js";
import { toCanonical } from "../../../../lib/readings/sensor-unit.js";

const pH: SensorDescription = { sensorId: "loach-ph", measures: "pH" };
const gauge: SensorDescription = { sensorId: "cellar-gauge", measures: "pressure", unit: "psi" };
const thermometer: SensorDescription = {
  sensorId: "cellar-thermometer",
  measures: "temperature",
  unit: "degF",
};

describe("the rules of a sensor", () => {
  it.each([
    [pH, { minimum: 4, maximum: 9.5 }, 0.5, 120],
    [thermometer, { minimum: 10, maximum: 38 }, 5, undefined],
    [gauge, { minimum: -0.5, maximum: 40 }, 3, undefined],
  ] as const)("take the defaults of their kind: %j", (description, plausible, spikeGate, stuckAfter_min) => {
    expect(sensorRulesFrom(description)).toMatchObject({
      sensorId: description.sensorId,
      plausible,
      spikeGate,
      stuckAfter_min,
      calibration: { gain: 1, offset: 0 },
      maximumAge_s: 300,
      accuracy: undefined,
      electrodeSlope_ratio: undefined,
    });
  });

  it("leave a dangerous room plausible: CO2 in air may read up to pure gas", () => {
    const { plausible } = sensorRulesFrom({ sensorId: "room", measures: "co2InAir" });
    // 40 000 ppm is immediately dangerous to life or health. NIOSH, IDLH documentation for carbon dioxide (1994).
    expect(plausible.maximum).toBeGreaterThan(40_000);
  });

  it("convert values with their zero point and differences without", () => {
    const rules = sensorRulesFrom({
      ...thermometer,
      plausible: { minimum: 50, maximum: 95 },
      spikeGate: 9,
      accuracy: 0.9,
    });
    expect(rules.plausible.minimum).toBeCloseTo(10, 9);
    expect(rules.plausible.maximum).toBeCloseTo(35, 9);
    expect(rules.spikeGate).toBeCloseTo(5, 9);
    expect(rules.accuracy).toBeCloseTo(0.5, 9);
  });

  it("keep the default of one end where only the other is stated", () => {
    expect(sensorRulesFrom({ ...pH, plausible: { minimum: 5 } }).plausible).toEqual({
      minimum: 5,
      maximum: 9.5,
    });
  });

  it.each<[SensorDescription, number, number, string]>([
    [{ ...thermometer, calibration: { offset: 1.8 } }, 77, 26, "1.8 degF more are 1 K more"],
    [{ ...thermometer, calibration: { gain: 1.1, offset: -7.7 } }, 77, 25, "77 x 1.1 - 7.7 is 77 degF"],
    [
      {
        ...thermometer,
        calibration: {
          twoPoint: [
            { raw: 33, true: 32 },
            { raw: 213, true: 212 },
          ] as const,
        },
      },
      78,
      25,
      "a melting and a boiling point one degree too high",
    ],
    [
      { ...gauge, unit: "bar", reference: "absolute", calibration: { gain: 2 } },
      1.013_25,
      1.013_25,
      "the gain applies to the absolute pressure, as the sensor counts",
    ],
    [
      {
        ...gauge,
        unit: "bar",
        calibration: {
          twoPoint: [
            { raw: 0.5, true: 0 },
            { raw: 4.5, true: 20 },
          ] as const,
        },
      },
      2.5,
      10,
      "volts of a transmitter",
    ],
  ])("apply a calibration stated in the sensor's own unit: %j", (description, raw, expected) => {
    const rules = sensorRulesFrom(description);
    expect(calibrated(toCanonical(raw, rules.unit), rules.calibration)).toBeCloseTo(expected, 9);
  });

  it("tell the slope of a pH electrode that was calibrated in two buffers", () => {
    const twoPoint = [
      { raw: 7.08, true: 7.0 },
      { raw: 4.11, true: 4.01 },
    ] as const;
    expect(sensorRulesFrom({ ...pH, calibration: { twoPoint } }).electrodeSlope_ratio).toBeCloseTo(
      2.97 / 2.99,
      9,
    );
    expect(sensorRulesFrom({ ...gauge, calibration: { twoPoint } }).electrodeSlope_ratio).toBeUndefined();
  });

  it.each<[SensorDescription, string]>([
    [{ ...pH, maximumAge_s: 4 }, "an age below 5 s"],
    [{ ...pH, maximumAge_s: 3601 }, "an age beyond an hour"],
    [{ ...pH, maximumAge_s: Number.POSITIVE_INFINITY }, "no age at all"],
    [{ ...pH, stuckAfter_min: 0 }, "stuck at once"],
    [{ ...pH, spikeGate: 0 }, "a gate that is shut"],
    [{ ...pH, spikeGate: Number.NaN }, "a gate that is no number"],
    [{ ...pH, accuracy: -0.1 }, "a negative accuracy"],
    [{ ...pH, plausible: { minimum: 8, maximum: 5 } }, "a span the wrong way round"],
    [{ ...pH, plausible: { minimum: 10 } }, "a minimum above the default maximum"],
    [{ ...pH, plausible: { maximum: Number.POSITIVE_INFINITY } }, "a span without end"],
    [{ ...pH, plausible: { minimum: Number.NaN } }, "a minimum that is no number"],
    [{ ...pH, calibration: { gain: 0 } }, "a gain that ignores the sensor"],
    [{ ...pH, calibration: { offset: Number.NaN } }, "an offset that is no number"],
    [
      {
        ...pH,
        calibration: {
          twoPoint: [
            { raw: 7, true: 7 },
            { raw: 7, true: 4 },
          ],
        },
      },
      "degenerate points",
    ],
  ])("are refused: %j (%s)", (description) => {
    expect(() => sensorRulesFrom(description)).toThrow(OutOfValidRangeError);
  });

  it("are refused for a unit of another kind", () => {
    expect(() => sensorRulesFrom({ ...gauge, unit: "degC" })).toThrow(UnknownNameError);
  });
});
