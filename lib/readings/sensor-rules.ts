import { assertInRange } from "../quantities/valid-range.js";
import {
  assertGain,
  electrodeSlope_ratio,
  twoPointCalibration,
  type LinearCalibration,
  type TwoPoints,
} from "./calibration.js";
import { assertPlausibleSpan, type PlausibleSpan } from "./plausible-span.js";
import type { MeasuredQuantity } from "./reading.js";
import {
  differenceToCanonical,
  quantityOf,
  sensorUnitFrom,
  toCanonical,
  type SensorKind,
  type SensorUnit,
} from "./sensor-unit.js";
import { fastestWarming_KPerMin } from "./water-jump.js";

/** By what the numbers of one sensor are judged. Everything but `unit` is in the canonical unit of the quantity. */
export interface SensorRules {
  readonly sensorId: string;
  readonly quantity: MeasuredQuantity;
  /** What the payload's number is in. */
  readonly unit: SensorUnit;
  /** Applied after the conversion. */
  readonly calibration: LinearCalibration;
  readonly plausible: PlausibleSpan;
  readonly maximumAge_s: number;
  /** Largest believed distance from the median of the last five values; undefined: no gate. */
  readonly spikeGate: number | undefined;
  /** Undefined: the sensor may stand still. */
  readonly stuckAfter_min: number | undefined;
  /** Of the water of a tank, as fast as it can warm or cool; undefined: it measures something else. */
  readonly fastest_KPerMin: number | undefined;
  /** Standard uncertainty as the maker or the keeper states it. */
  readonly accuracy: number | undefined;
  /** pH with a two-point calibration only: the slope of the electrode as a ratio of the ideal one, for information. */
  readonly electrodeSlope_ratio: number | undefined;
}

export type CalibrationDescription =
  | { readonly offset?: number | undefined; readonly gain?: number | undefined }
  | { readonly twoPoint: TwoPoints };

/** A sensor as its keeper describes it, in the sensor's own unit. What is left out takes the default of its kind. */
export interface SensorDescription {
  readonly sensorId: string;
  readonly measures: SensorKind;
  readonly unit?: string | undefined;
  readonly reference?: string | undefined;
  readonly calibration?: CalibrationDescription | undefined;
  readonly plausible?:
    { readonly minimum?: number | undefined; readonly maximum?: number | undefined } | undefined;
  readonly maximumAge_s?: number | undefined;
  readonly spikeGate?: number | undefined;
  readonly stuckAfter_min?: number | undefined;
  /** Of the tank whose water it measures. */
  readonly tankVolume_L?: number | undefined;
  readonly accuracy?: number | undefined;
}

interface Defaults {
  readonly plausible: PlausibleSpan;
  readonly spikeGate: number | undefined;
  readonly stuckAfter_min: number | undefined;
}

/**
 * Defaults of each kind in the canonical unit. Common practice, no source. The span of CO2 in air reaches to pure gas: a
 * dangerous room must never be waved away as implausible.
 */
const defaults: Readonly<Record<SensorKind, Defaults>> = {
  pH: { plausible: { minimum: 4, maximum: 9.5 }, spikeGate: 0.5, stuckAfter_min: 120 },
  temperature: { plausible: { minimum: 10, maximum: 38 }, spikeGate: 5, stuckAfter_min: undefined },
  pressure: { plausible: { minimum: -0.5, maximum: 40 }, spikeGate: 3, stuckAfter_min: undefined },
  mass: { plausible: { minimum: -100, maximum: 200_000 }, spikeGate: undefined, stuckAfter_min: undefined },
  co2InAir: {
    plausible: { minimum: 200, maximum: 1_000_000 },
    spikeGate: undefined,
    stuckAfter_min: undefined,
  },
  bubbleRate: { plausible: { minimum: 0, maximum: 2000 }, spikeGate: undefined, stuckAfter_min: undefined },
};

const defaultMaximumAge_s = 300;
/** Buffers are used at room temperature; the ratio changes by 0.3 % with each kelvin. */
const bufferTemperature_degC = 25;

/**
 * The rules of a sensor, converted once to the canonical unit. Spike gate and accuracy are differences: 9 degF become 5 K.
 * @throws UnknownNameError for a unit or reference that the kind does not have.
 * @throws OutOfValidRangeError for a maximum age outside 5 to 3600 s, a stuck limit outside 1 to 10080 min, an empty plausible
 * span, a gate that is not above 0, a negative accuracy, or a calibration through which no usable line goes.
 */
export function sensorRulesFrom(description: SensorDescription): SensorRules {
  const { sensorId, measures } = description;
  const unit = sensorUnitFrom(measures, description);
  const fallback = defaults[measures];
  const rules: SensorRules = {
    sensorId,
    quantity: quantityOf(measures),
    unit,
    calibration: canonicalCalibration(description.calibration, unit),
    plausible: {
      minimum: convertedOr(description.plausible?.minimum, unit, toCanonical) ?? fallback.plausible.minimum,
      maximum: convertedOr(description.plausible?.maximum, unit, toCanonical) ?? fallback.plausible.maximum,
    },
    maximumAge_s: description.maximumAge_s ?? defaultMaximumAge_s,
    spikeGate: convertedOr(description.spikeGate, unit, differenceToCanonical) ?? fallback.spikeGate,
    stuckAfter_min: description.stuckAfter_min ?? fallback.stuckAfter_min,
    fastest_KPerMin:
      measures === "temperature" && description.tankVolume_L !== undefined
        ? fastestWarming_KPerMin(description.tankVolume_L)
        : undefined,
    accuracy: convertedOr(description.accuracy, unit, differenceToCanonical),
    electrodeSlope_ratio: slopeOf(description),
  };
  assertRules(rules);
  return rules;
}

/** calibrated(toCanonical(x)) of the result equals toCanonical(gain x + offset) of the description. */
function canonicalCalibration(
  given: CalibrationDescription | undefined,
  unit: SensorUnit,
): LinearCalibration {
  if (given !== undefined && "twoPoint" in given) {
    const [first, second] = given.twoPoint;
    return twoPointCalibration([
      { raw: toCanonical(first.raw, unit), true: toCanonical(first.true, unit) },
      { raw: toCanonical(second.raw, unit), true: toCanonical(second.true, unit) },
    ]);
  }
  const gain = given?.gain ?? 1;
  const offset = given?.offset ?? 0;
  assertGain(gain);
  assertInRange(offset, {
    quantity: "calibration offset",
    unit: "",
    minimum: -Number.MAX_VALUE,
    maximum: Number.MAX_VALUE,
  });
  const zero = toCanonical(0, unit);
  return { gain, offset: differenceToCanonical(offset, unit) + zero * (1 - gain) };
}

function slopeOf({ measures, calibration }: SensorDescription): number | undefined {
  return measures === "pH" && calibration !== undefined && "twoPoint" in calibration
    ? electrodeSlope_ratio(calibration.twoPoint, bufferTemperature_degC)
    : undefined;
}

function convertedOr(
  value: number | undefined,
  unit: SensorUnit,
  convert: (value: number, from: SensorUnit) => number,
): number | undefined {
  return value === undefined ? undefined : convert(value, unit);
}

function assertRules(rules: SensorRules): void {
  assertPlausibleSpan(rules.plausible);
  assertInRange(rules.maximumAge_s, { quantity: "maximum age", unit: "s", minimum: 5, maximum: 3600 });
  if (rules.spikeGate !== undefined) {
    assertInRange(rules.spikeGate, {
      quantity: "spike gate",
      unit: "",
      minimum: Number.MIN_VALUE,
      maximum: Number.MAX_VALUE,
    });
  }
  if (rules.stuckAfter_min !== undefined) {
    assertInRange(rules.stuckAfter_min, {
      quantity: "stuck limit",
      unit: "min",
      minimum: 1,
      maximum: 10_080,
    });
  }
  if (rules.accuracy !== undefined) {
    assertInRange(rules.accuracy, { quantity: "accuracy", unit: "", minimum: 0, maximum: Number.MAX_VALUE });
  }
}
