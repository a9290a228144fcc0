import { z } from "zod";
import {
  type PressureUnit,
  pressureUnits,
  type TemperatureUnit,
  temperatureUnits,
} from "../../lib/quantities/units.js";
import {
  plausiblePressure,
  plausibleTemperature,
  spikePressure,
  spikeTemperature,
} from "./sensor-defaults.js";
import {
  choiceValue,
  numberValue,
  oneOf,
  positiveValue,
  signedValue,
  textValue,
  topicValue,
} from "./config-values.js";

export const sensorDefaults = { maximumAge_s: 300, stuckAfterOfPh_min: 120, spikeGateOfPh: 0.5 } as const;

const selectorAllowed =
  "a JSONPath that begins with $ (RFC 9535) or a JSON pointer that begins with / (RFC 6901)";

export function selectorValue(about: string) {
  return textValue({ atMost: 500, allowed: selectorAllowed, about });
}

const span = z.strictObject(
  {
    minimum: signedValue("Readings below this are not believed. In the sensor's own unit."),
    maximum: signedValue("Readings above this are not believed. In the sensor's own unit."),
  },
  { error: "the keys minimum and maximum" },
);

const calibrationPoint = z.strictObject(
  {
    raw: signedValue("What the sensor shows in the reference liquid, without any calibration here."),
    true: signedValue("What it ought to show."),
  },
  { error: "the keys raw and true" },
);

const calibration = z
  .strictObject(
    {
      offset: signedValue(
        "Added after the gain: true = raw * gain + offset. In the sensor's own unit.",
      ).exactOptional(),
      gain: signedValue("Multiplies the raw value; 1 changes nothing.").exactOptional(),
      twoPoint: z
        .tuple([calibrationPoint, calibrationPoint], {
          error: "a list of two points, each with raw and true",
        })
        .describe("Two measured points, as with two buffer solutions, in place of offset and gain.")
        .exactOptional(),
    },
    { error: "either offset and gain, or twoPoint" },
  )
  .describe("Correction of the sensor: offset and gain, or two points.");

/** Correction of a raw value in the sensor's own unit: true = raw * gain + offset, or the line through two points. */
export type SensorCalibration =
  | { readonly kind: "linear"; readonly gain: number; readonly offset: number }
  | { readonly kind: "twoPoint"; readonly twoPoint: z.output<typeof calibration>["twoPoint"] & object };

function calibrationOf(written: z.output<typeof calibration> | undefined): SensorCalibration {
  if (written?.twoPoint !== undefined) return { kind: "twoPoint", twoPoint: written.twoPoint };
  return { kind: "linear", gain: written?.gain ?? 1, offset: written?.offset ?? 0 };
}

const stuckAfter_min = numberValue({
  from: 5,
  to: 10080,
  unit: "minutes",
  about:
    "A value that has not moved at all for this long is not believed. Default: 120 for pH, never for the others.",
});

const battery = z.strictObject(
  {
    topic: topicValue(
      "The MQTT topic on which the sensor tells of its battery; the one of its values may be the same.",
    ),
    value: selectorValue(
      "Where it stands in a JSON payload: a JSONPath ($.a.b) or a JSON pointer (/a/b). Left out: the payload is a bare number.",
    ).exactOptional(),
    unit: choiceValue(["percent", "volt"], "The unit in which it is told."),
    low: positiveValue(
      "At or below it the battery is low, and an alarm of low priority says so. In that unit.",
    ),
  },
  { error: "the keys topic, unit, low and value" },
);

const commonKeys = {
  topic: topicValue("The MQTT topic on which the sensor's values arrive."),
  value: selectorValue(
    "Where the value stands in a JSON payload: a JSONPath ($.a.b) or a JSON pointer (/a/b). Left out: the payload is a bare number.",
  ).exactOptional(),
  timestamp: selectorValue(
    "Where a JSON payload says when the value was measured (ISO 8601 text, or Unix seconds or milliseconds). Left out: when it arrives.",
  ).exactOptional(),
  calibration: calibration.exactOptional(),
  plausible: span
    .describe(
      "Readings outside this span are not believed. In the sensor's own unit; the default depends on what it measures.",
    )
    .exactOptional(),
  maximumAge_s: numberValue({
    from: 5,
    to: 3600,
    unit: "seconds",
    about: "A reading older than this counts as unknown. Default 300.",
  }).default(sensorDefaults.maximumAge_s),
  spikeGate: positiveValue(
    "A reading further than this from the median of the last ones is set aside until others agree. In the sensor's own unit. Default: 0.5 for pH, 5 K, 3 bar, none for the others.",
  ).exactOptional(),
  accuracy: positiveValue(
    "How far the sensor may be off, from its data sheet, in its own unit.",
  ).exactOptional(),
  battery: battery
    .describe("How full its battery is, where it tells that. Default: not watched.")
    .exactOptional(),
};

const pressureUnitNames = pressureUnits as readonly [PressureUnit, ...PressureUnit[]];
const temperatureUnitNames = temperatureUnits as readonly [TemperatureUnit, ...TemperatureUnit[]];

const pressureSensor = z
  .strictObject({
    measures: z.literal("pressure"),
    unit: choiceValue(pressureUnitNames, "The unit of the values."),
    reference: choiceValue(
      ["gauge", "absolute"],
      "gauge: zero in open air. absolute: about 1 bar in open air.",
    ),
    ...commonKeys,
    stuckAfter_min: stuckAfter_min.exactOptional(),
  })
  .transform((sensor) => ({
    ...sensor,
    calibration: calibrationOf(sensor.calibration),
    plausible: sensor.plausible ?? plausiblePressure(sensor.unit, sensor.reference),
    spikeGate: sensor.spikeGate ?? spikePressure(sensor.unit),
  }));

const temperatureSensor = z
  .strictObject({
    measures: z.literal("temperature"),
    unit: choiceValue(temperatureUnitNames, "The unit of the values."),
    ...commonKeys,
    stuckAfter_min: stuckAfter_min.exactOptional(),
  })
  .transform((sensor) => ({
    ...sensor,
    calibration: calibrationOf(sensor.calibration),
    plausible: sensor.plausible ?? plausibleTemperature(sensor.unit),
    spikeGate: sensor.spikeGate ?? spikeTemperature(sensor.unit),
  }));

const phSensor = z
  .strictObject({
    measures: z.literal("pH"),
    ...commonKeys,
    stuckAfter_min: stuckAfter_min.default(sensorDefaults.stuckAfterOfPh_min),
  })
  .transform((sensor) => ({
    ...sensor,
    calibration: calibrationOf(sensor.calibration),
    plausible: sensor.plausible ?? { minimum: 4, maximum: 9.5 },
    spikeGate: sensor.spikeGate ?? sensorDefaults.spikeGateOfPh,
  }));

const massSensor = z
  .strictObject({
    measures: z.literal("mass"),
    unit: choiceValue(["g", "kg"], "The unit of the values."),
    ...commonKeys,
    stuckAfter_min: stuckAfter_min.exactOptional(),
  })
  .transform((sensor) => ({
    ...sensor,
    calibration: calibrationOf(sensor.calibration),
    // A scale whose zero has drifted shows a little below nothing.
    plausible:
      sensor.plausible ??
      (sensor.unit === "kg" ? { minimum: -0.5, maximum: 200 } : { minimum: -500, maximum: 200_000 }),
  }));

const co2InAirSensor = z
  .strictObject({
    measures: z.literal("co2InAir"),
    ...commonKeys,
    stuckAfter_min: stuckAfter_min.exactOptional(),
  })
  .transform((sensor) => ({
    ...sensor,
    calibration: calibrationOf(sensor.calibration),
    // A high value is the very thing it is there for: only what cannot be is refused.
    plausible: sensor.plausible ?? { minimum: 0, maximum: 1_000_000 },
  }));

const bubbleRateSensor = z
  .strictObject({
    measures: z.literal("bubbleRate"),
    ...commonKeys,
    stuckAfter_min: stuckAfter_min.exactOptional(),
  })
  .transform((sensor) => ({
    ...sensor,
    calibration: calibrationOf(sensor.calibration),
    plausible: sensor.plausible ?? { minimum: 0, maximum: 1000 },
  }));

/** The unit of a sensor whose quantity has only one. */
export const onlyUnitOf: Readonly<Record<string, string>> = {
  pH: "the pH scale, which has no unit",
  co2InAir: "ppm",
  bubbleRate: "bubbles per minute",
};

export const measurable = ["pressure", "temperature", "pH", "mass", "co2InAir", "bubbleRate"] as const;

export const sensorSchema = z.discriminatedUnion(
  "measures",
  [pressureSensor, temperatureSensor, phSensor, massSensor, co2InAirSensor, bubbleRateSensor],
  { error: oneOf(measurable) },
);
