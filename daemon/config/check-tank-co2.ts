import type { KeyPath } from "./config-faults.js";
import type { CheckContext } from "./config-view.js";
import { tankDefaults } from "./tank-schema.js";

/** From below; each must lie above the one before it. */
const ascendingLimits = [
  "co2TargetLow_mgPerL",
  "co2TargetHigh_mgPerL",
  "co2Alarm_mgPerL",
  "co2Close_mgPerL",
] as const;

/** What a tank's keys about CO2 say against each other. */
export function checkCo2Keys(context: CheckContext, tank: KeyPath, phSensor: string | undefined): void {
  checkLimits(context, [...tank, "limits"]);
  checkOneOf(context, tank, ["conductivity_uSPerCm", "salinity_gPerKg"]);
  checkOneOf(context, [...tank, "dropChecker"], ["fillDepth_mm", "timeConstant_h"]);
  checkRepeatedAnimals(context, [...tank, "animals"]);
  warnWithoutProbe(context, tank, phSensor);
}

function checkLimits(context: CheckContext, limits: KeyPath): void {
  const { view } = context;
  ascendingLimits.forEach((key, index) => {
    const lower = ascendingLimits[index - 1];
    if (lower === undefined) return;
    const value = view.number([...limits, key], tankDefaults.limits[key]);
    const below = view.number([...limits, lower], tankDefaults.limits[lower]);
    if (value === undefined || below === undefined || value > below) return;
    const isOwn = view.has([...limits, key]);
    const named = (name: string, number: number): string =>
      `${name} (${number}${view.has([...limits, name]) ? "" : ", the default"})`;
    context.fault([...limits, isOwn ? key : lower], {
      what: isOwn
        ? `is ${value}, which is not above ${named(lower, below)}`
        : `is ${below}, which is not below ${named(key, value)}`,
      allowed: ascendingLimits.join(" < "),
      todo: `change one of the two, or write ${isOwn ? lower : key} too`,
    });
  });
}

function checkOneOf(context: CheckContext, group: KeyPath, [first, second]: readonly [string, string]): void {
  const { view } = context;
  if (!view.has([...group, first]) || !view.has([...group, second])) return;
  context.faultOfKey([...group, second], {
    what: `stands beside ${first} (line ${view.positionOfKey([...group, first]).line})`,
    allowed: `${first} or ${second}`,
    todo: "remove one of the two",
  });
}

function checkRepeatedAnimals(context: CheckContext, animals: KeyPath): void {
  const seen = new Set<string>();
  for (let index = 0; index < context.view.length(animals); index += 1) {
    const name = context.view.text([...animals, index]);
    if (name === undefined) continue;
    if (seen.has(name)) {
      context.fault([...animals, index], {
        what: `names ${name} a second time`,
        allowed: "each once",
        todo: "remove it",
      });
    }
    seen.add(name);
  }
}

/** Without a pH these keys do nothing, and their keeper believes that they do. */
function warnWithoutProbe(context: CheckContext, tank: KeyPath, phSensor: string | undefined): void {
  if (phSensor !== undefined || context.view.has([...tank, "phSensor"])) return;
  for (const key of ["degassedPh", "dropChecker"]) {
    const path = [...tank, key];
    if (!context.view.has(path)) continue;
    context.warning(path, {
      what: "does nothing, as the tank has no phSensor",
      allowed: "it beside phSensor",
      todo: "name the pH sensor of this tank, or remove the key",
    });
  }
}
