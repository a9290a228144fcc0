import {
  absoluteFromGauge_bar,
  gaugeFromAbsolute_bar,
  pressureFromBar,
  type PressureUnit,
  pressureToBar,
  pressureUnits,
} from "../../lib/quantities/units.js";
import { checkSensorReference, warnOfSharedSensors } from "./check-references.js";
import type { KeyPath } from "./config-faults.js";
import type { CheckContext } from "./config-view.js";

/** The gas needs room: above this part of the volume a filling of water leaves too little. */
const fullestWater_ratio = 0.7;

/** What the keys of each vessel say against each other, against its sensors and against the valves. */
export function checkVessels(context: CheckContext): void {
  const { view } = context;
  const named = view.keys(["valves"]).map((valve) => view.text(["valves", valve, "vessel"]));
  // A valve whose vessel cannot be told may be any vessel's.
  const isEachKnown = named.every((vessel) => vessel !== undefined && view.has(["vessels", vessel]));
  for (const id of view.keys(["vessels"])) {
    const path = ["vessels", id];
    checkPressures(context, path);
    checkPressureSensor(context, path);
    checkSensorReference(context, [...path, "temperatureSensor"], "temperature");
    warnOfFullVessel(context, path);
    if (named.includes(id) || !isEachKnown) continue;
    context.warning(path, {
      what: "has no valve, so its gas is watched but not switched",
      allowed: "a valve that names it",
      todo: "add the valve, or let it be if that is meant",
    });
  }
  warnOfSharedSensors(context, "vessels", "pressureSensor");
}

function checkPressures(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  const ratedPath = [...path, "ratedPressureGauge_bar"];
  const reliefPath = [...path, "reliefOpeningGauge_bar"];
  const rated_bar = view.number(ratedPath);
  const relief_bar = view.number(reliefPath);
  const working_bar = view.number([...path, "workingPressureGauge_bar"]);

  if (rated_bar !== undefined && relief_bar !== undefined && relief_bar > rated_bar) {
    context.warning(reliefPath, {
      what: `is ${relief_bar} bar, above the rated pressure of ${rated_bar} bar: the vessel would be over its rating before the relief device opens`,
      allowed: "at most the rated pressure",
      todo: "read both plates again; if they say so, have the vessel looked at by someone licensed for it",
    });
  }
  for (const [name, limit_bar] of [
    ["ratedPressureGauge_bar", rated_bar],
    ["reliefOpeningGauge_bar", relief_bar],
  ] as const) {
    if (working_bar === undefined || limit_bar === undefined || working_bar < limit_bar) continue;
    context.fault([...path, "workingPressureGauge_bar"], {
      what: `is ${working_bar} bar, which is not below ${name} (${limit_bar} bar)`,
      allowed: `less than ${limit_bar}`,
      todo: "write the pressure behind the regulator, in bar",
    });
  }
  if (!view.has(ratedPath) || !view.has(reliefPath)) {
    context.warning(path, {
      what: "lacks ratedPressureGauge_bar or reliefOpeningGauge_bar, so no charge is planned for it",
      allowed: "both, as the vessel's own plate and its relief device state them",
      todo: "read them off and add them; never guess them",
    });
  }
}

function checkPressureSensor(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  const sensor = checkSensorReference(context, [...path, "pressureSensor"], "pressure");
  if (sensor === undefined) return;
  const unit = pressureUnits.find((known) => known === view.text(["sensors", sensor, "unit"]));
  const maximumPath = ["sensors", sensor, "plausible", "maximum"];
  const maximum = view.number(maximumPath);
  if (unit === undefined || maximum === undefined) return;
  const isAbsolute = view.text(["sensors", sensor, "reference"]) === "absolute";
  const maximum_bar = isAbsolute
    ? gaugeFromAbsolute_bar(pressureToBar(maximum, unit))
    : pressureToBar(maximum, unit);
  for (const key of ["ratedPressureGauge_bar", "reliefOpeningGauge_bar", "workingPressureGauge_bar"]) {
    const limit_bar = view.number([...path, key]);
    if (limit_bar === undefined || maximum_bar >= limit_bar) continue;
    context.warning(maximumPath, {
      what: `is ${maximum} ${unit}, which is ${rounded(maximum_bar)} bar gauge: readings up to the vessel's ${key} of ${limit_bar} would not be believed`,
      allowed: `at least ${rounded(inUnit(limit_bar, unit, isAbsolute))} ${unit}`,
      todo: "write the span in the sensor's own unit",
    });
    return;
  }
}

function inUnit(pressureGauge_bar: number, unit: PressureUnit, isAbsolute: boolean): number {
  return pressureFromBar(isAbsolute ? absoluteFromGauge_bar(pressureGauge_bar) : pressureGauge_bar, unit);
}

function rounded(value: number): number {
  return Number(value.toPrecision(3));
}

function warnOfFullVessel(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  const volume_L = view.number([...path, "volume_L"]);
  const water_kg = view.number([...path, "charge", "water_kg"]);
  if (volume_L === undefined || water_kg === undefined) return;
  // One kilogram of water is one litre, near enough for this; ice takes a tenth more.
  if (water_kg <= fullestWater_ratio * volume_L) return;
  context.warning([...path, "charge", "water_kg"], {
    what: `is ${water_kg} kg in a vessel of ${volume_L} L, which leaves less than 30 % of it to the gas`,
    allowed: `at most ${rounded(fullestWater_ratio * volume_L)} kg`,
    todo: "check both numbers",
  });
}
