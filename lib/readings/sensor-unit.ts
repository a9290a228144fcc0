import { UnknownNameError } from "../errors.js";
import {
  gaugeFromAbsolute_bar,
  pressureToBar,
  pressureUnits,
  temperatureToCelsius,
  temperatureUnits,
  type PressureUnit,
  type TemperatureUnit,
} from "../quantities/units.js";
import type { MeasuredQuantity } from "./reading.js";

export type MassUnit = "g" | "kg";
export const massUnits: readonly MassUnit[] = ["g", "kg"];

/** What a payload's number means before it is converted. */
export type SensorUnit =
  | {
      readonly kind: "pressure";
      readonly unit: PressureUnit;
      readonly reference: "gauge" | "absolute";
    }
  | { readonly kind: "temperature"; readonly unit: TemperatureUnit }
  | { readonly kind: "mass"; readonly unit: MassUnit }
  | { readonly kind: "pH" }
  | { readonly kind: "co2InAir" }
  | { readonly kind: "bubbleRate" };

export type SensorKind = SensorUnit["kind"];

/** How messages name the canonical unit of each quantity. */
export const unitLabels: Readonly<Record<MeasuredQuantity, string>> = {
  pH: "pH",
  temperature_degC: "degC",
  pressureGauge_bar: "bar gauge",
  mass_g: "g",
  co2InAir_ppm: "ppm",
  bubbleRate_perMin: "bubbles/min",
};

/** The quantity, in its canonical unit, that a kind of sensor gives. */
export function quantityOf(kind: SensorKind): MeasuredQuantity {
  switch (kind) {
    case "pressure":
      return "pressureGauge_bar";
    case "temperature":
      return "temperature_degC";
    case "mass":
      return "mass_g";
    case "pH":
      return "pH";
    case "co2InAir":
      return "co2InAir_ppm";
    case "bubbleRate":
      return "bubbleRate_perMin";
  }
}

/**
 * The unit of a sensor from its description. Pressure without a reference is gauge.
 * @throws UnknownNameError when the unit is missing where the kind needs one, belongs to another kind, or is given to a
 * kind that has only one; the same for the reference.
 */
export function sensorUnitFrom(
  kind: SensorKind,
  given: { readonly unit?: string | undefined; readonly reference?: string | undefined },
): SensorUnit {
  if (kind !== "pressure" && given.reference !== undefined) {
    throw new UnknownNameError(`reference of a ${kind} sensor`, given.reference, [
      "none: only pressure has one",
    ]);
  }
  switch (kind) {
    case "pressure":
      return {
        kind,
        unit: oneOf(pressureUnits, "unit of a pressure sensor", given.unit),
        reference: oneOf(["gauge", "absolute"], "reference of a pressure sensor", given.reference ?? "gauge"),
      };
    case "temperature":
      return { kind, unit: oneOf(temperatureUnits, "unit of a temperature sensor", given.unit) };
    case "mass":
      return { kind, unit: oneOf(massUnits, "unit of a mass sensor", given.unit) };
    case "pH":
    case "co2InAir":
    case "bubbleRate":
      if (given.unit !== undefined) {
        throw new UnknownNameError(`unit of a ${kind} sensor`, given.unit, ["none: the kind has only one"]);
      }
      return { kind };
  }
}

/** A value in the sensor's own unit as its canonical quantity. Exact by the definitions of the units. */
export function toCanonical(value: number, from: SensorUnit): number {
  switch (from.kind) {
    case "pressure": {
      const stated = pressureToBar(value, from.unit);
      return from.reference === "absolute" ? gaugeFromAbsolute_bar(stated) : stated;
    }
    case "temperature":
      return temperatureToCelsius(value, from.unit);
    case "mass":
      return from.unit === "kg" ? value * 1000 : value;
    case "pH":
    case "co2InAir":
    case "bubbleRate":
      return value;
  }
}

/**
 * A difference of two values of the sensor's own unit, as a difference of canonical ones: zero points drop out, so 9 degF are
 * 5 K and an absolute pressure differs as a gauge pressure does.
 */
export function differenceToCanonical(difference: number, from: SensorUnit): number {
  switch (from.kind) {
    case "pressure":
      return pressureToBar(difference, from.unit);
    case "temperature":
      return from.unit === "degF" ? (difference * 5) / 9 : difference;
    case "mass":
    case "pH":
    case "co2InAir":
    case "bubbleRate":
      return toCanonical(difference, from);
  }
}

function oneOf<Name extends string>(
  known: readonly Name[],
  kindOfName: string,
  given: string | undefined,
): Name {
  const found = known.find((name) => name === given);
  if (found === undefined) throw new UnknownNameError(kindOfName, given ?? "", known);
  return found;
}
