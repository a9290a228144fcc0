import {
  absoluteFromGauge_bar,
  gaugeFromAbsolute_bar,
  pressureFromBar,
  type PressureUnit,
  pressureToBar,
  pressureUnits,
} from "../../lib/quantities/units.js";
import { breachOfCharge, type StatedPressures } from "../../lib/charge-plan/charge-limits.js";
import { NoConvergenceError, OutOfValidRangeError } from "../../lib/errors.js";
import { psiForBarReason } from "../../lib/charge-plan/plate-cautions.js";
import { configuredCharge, type ChargeKeys } from "./configured-charge.js";
import { checkRoomSensor, checkSensorReference, warnOfSharedSensors } from "./check-references.js";
import { checkRefill } from "./check-refill.js";
import type { KeyPath } from "./config-faults.js";
import type { CheckContext } from "./config-view.js";

/** The effects of two stages multiply: above this one was written for both. From memory. */
const mostOfTwoStages_ratio = 0.01;

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
    checkRoomSensor(context, [...path, "roomCo2Sensor"]);
    checkSensorReference(context, [...path, "massSensor"], "mass");
    checkOutletSensor(context, path);
    checkRegulator(context, path);
    checkCharge(context, path);
    checkRefill(context, path);
    if (named.includes(id) || !isEachKnown) continue;
    context.warning(path, {
      what: "has no valve, so its gas is watched but not switched",
      allowed: "a valve that names it",
      todo: "add the valve, or let it be if that is meant",
    });
  }
  for (const key of ["pressureSensor", "massSensor", "outletPressureSensor"]) {
    warnOfSharedSensors(context, "vessels", key);
  }
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
  if (view.text([...path, "kind"]) === "generator") {
    for (const [platePath, plate_bar] of [
      [ratedPath, rated_bar],
      [reliefPath, relief_bar],
    ] as const) {
      const reason = plate_bar === undefined ? undefined : psiForBarReason(plate_bar);
      if (reason === undefined) continue;
      context.warning(platePath, {
        what: `is ${String(plate_bar)} bar, far above what a vessel for home-made CO2 is made for`,
        allowed: "what the plate says, in bar",
        todo: reason,
      });
    }
  }
  if (!view.has(ratedPath) || !view.has(reliefPath)) {
    const isCharged = view.has([...path, "charge"]);
    context.warning(path, {
      what: `lacks ratedPressureGauge_bar or reliefOpeningGauge_bar, so no charge is planned for it${isCharged ? ", and nothing can say whether the charge it has is too much" : ""}`,
      allowed: "both, as the vessel's own plate and its relief device state them",
      todo: "read them off and add them; never guess them",
    });
  }
}

function checkRegulator(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  const setAtPath = [...path, "regulator", "setAtInletGauge_bar"];
  const setAt_bar = view.number(setAtPath);
  const working_bar = view.number([...path, "workingPressureGauge_bar"]);
  if (setAt_bar !== undefined && working_bar !== undefined && setAt_bar <= working_bar) {
    context.fault(setAtPath, {
      what: `is ${setAt_bar} bar, which is not above workingPressureGauge_bar (${working_bar} bar): a regulator only lowers a pressure`,
      allowed: `more than ${working_bar}`,
      todo: "write what the gauge of the vessel showed when the screw was turned last, or leave it out",
    });
  }
  const effectPath = [...path, "regulator", "supplyPressureEffect_ratio"];
  const effect_ratio = view.number(effectPath);
  const isTwoStage = view.text([...path, "regulator", "kind"]) === "two-stage";
  if (effect_ratio === undefined || !isTwoStage || effect_ratio <= mostOfTwoStages_ratio) return;
  context.warning(effectPath, {
    what: `is ${effect_ratio}, which is much for a two-stage regulator`,
    allowed: `usually below ${mostOfTwoStages_ratio}: the effects of the stages multiply`,
    todo: "write that of both stages together",
  });
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

/** A sensor before the regulator says nothing of what stands behind it. */
function checkOutletSensor(context: CheckContext, path: KeyPath): void {
  const outletPath = [...path, "outletPressureSensor"];
  const sensor = checkSensorReference(context, outletPath, "pressure");
  if (sensor === undefined || sensor !== context.view.text([...path, "pressureSensor"])) return;
  context.fault(outletPath, {
    what: `names ${sensor}, which is the vessel's pressureSensor too`,
    allowed: "a sensor of its own, behind the regulator",
    todo: "name the sensor that sits behind the regulator, or remove the line",
  });
}

function inUnit(pressureGauge_bar: number, unit: PressureUnit, isAbsolute: boolean): number {
  return pressureFromBar(isAbsolute ? absoluteFromGauge_bar(pressureGauge_bar) : pressureGauge_bar, unit);
}

const acidKeys = ["citricAcidAnhydrous_g", "citricAcidMonohydrate_g"] as const;

function checkCharge(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  const chargePath = [...path, "charge"];
  if (!view.has(chargePath)) return;
  const [one, other] = acidKeys;
  const stated = acidKeys.filter((key) => view.has([...chargePath, key]));
  if (stated.length !== 1) {
    context.faultOfKey(stated.length === 0 ? chargePath : [...chargePath, other], {
      what: stated.length === 0 ? `names neither ${one} nor ${other}` : `stands beside ${one}`,
      allowed: "one of the two",
      todo: "keep the one whose name is on the bag",
    });
    return;
  }
  warnOfLargeCharge(context, path);
}

/** Warns of a charge that a plan would have refused. What is missing or no number is named by other checks. */
function warnOfLargeCharge(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  const chargePath = [...path, "charge"];
  const numberAt = (key: string): number | undefined => view.number([...chargePath, key]);
  const volume_L = view.number([...path, "volume_L"]);
  const ratedPressureGauge_bar = view.number([...path, "ratedPressureGauge_bar"]);
  const reliefOpeningGauge_bar = view.number([...path, "reliefOpeningGauge_bar"]);
  const sodiumBicarbonate_g = numberAt("sodiumBicarbonate_g");
  const water_kg = numberAt("water_kg");
  const sealedAt_degC = numberAt("sealedAt_degC");
  const anhydrous_g = numberAt("citricAcidAnhydrous_g");
  const monohydrate_g = numberAt("citricAcidMonohydrate_g");
  if (volume_L === undefined || sodiumBicarbonate_g === undefined) return;
  if (water_kg === undefined || sealedAt_degC === undefined) return;
  if (anhydrous_g === undefined && monohydrate_g === undefined) return;
  const found = chargeFinding(
    volume_L,
    {
      sodiumBicarbonate_g,
      ...(anhydrous_g === undefined ? {} : { citricAcidAnhydrous_g: anhydrous_g }),
      ...(monohydrate_g === undefined ? {} : { citricAcidMonohydrate_g: monohydrate_g }),
      water_kg,
      closedWith: view.text([...chargePath, "closedWith"]) === "ice" ? "ice" : "water",
      residualLiquor_L: numberAt("residualLiquor_L") ?? 0,
      sealedAt_degC,
    },
    // Without the pressures the gas space and the model's own range are still known.
    {
      ratedPressureGauge_bar: ratedPressureGauge_bar ?? Infinity,
      reliefOpeningGauge_bar: reliefOpeningGauge_bar ?? Infinity,
    },
  );
  if (found === undefined) return;
  context.warning(found.kind === "gas-space" ? [...chargePath, "water_kg"] : chargePath, {
    what: `is not what the command plan allows: ${found.reason}`,
    allowed: "a charge that plan gives for this vessel",
    todo: "check the weights and the vessel's volume and pressures; if they are right, keep the vessel cool, do not refill or open it under pressure, and ask someone licensed for it",
  });
}

function chargeFinding(
  volume_L: number,
  keys: ChargeKeys,
  pressures: StatedPressures,
): { readonly kind: "gas-space" | "other"; readonly reason: string } | undefined {
  try {
    const breach = breachOfCharge(configuredCharge(volume_L, keys), pressures);
    return breach === undefined
      ? undefined
      : { kind: breach.limit === "gas-space" ? "gas-space" : "other", reason: breach.reason };
  } catch (error) {
    // Numbers out of range by themselves, or together.
    if (error instanceof OutOfValidRangeError || error instanceof NoConvergenceError) {
      return { kind: "other", reason: error.message };
    }
    throw error;
  }
}

function rounded(value: number): number {
  return Number(value.toPrecision(3));
}
