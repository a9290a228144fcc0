import { roomAirLeave_ppm } from "../../lib/control/room-air.js";
import { type KeyPath, quoted } from "./config-faults.js";
import type { CheckContext } from "./config-view.js";
import { nearestName } from "./nearest-name.js";
import { measurable } from "./sensor-schema.js";

type Section = "sensors" | "vessels" | "tanks";

/** The name at the path, when it stands in the section; a fault, with the nearest name, when it does not. */
export function checkReference(context: CheckContext, path: KeyPath, section: Section): string | undefined {
  const name = context.view.text(path);
  if (name === undefined) return undefined;
  const known = context.view.keys([section]);
  if (known.includes(name)) return name;
  const nearest = nearestName(name, known);
  context.fault(path, {
    what: `names ${quoted(name)}, which does not stand under ${section}`,
    allowed: known.length === 0 ? `nothing yet: ${section} is empty` : shortList(known),
    todo:
      nearest === undefined
        ? `add it under ${section}, or correct the name`
        : `did you mean ${quoted(nearest)}?`,
  });
  return undefined;
}

/** As `checkReference`, for a sensor that must measure one quantity. */
export function checkSensorReference(
  context: CheckContext,
  path: KeyPath,
  quantity: "pressure" | "temperature" | "pH" | "co2InAir" | "mass",
): string | undefined {
  const name = checkReference(context, path, "sensors");
  if (name === undefined) return undefined;
  const measures = context.view.text(["sensors", name, "measures"]);
  if (measures === undefined || measures === quantity) return name;
  // A misspelled quantity is a fault of the sensor, not of who names it.
  if (!(measurable as readonly string[]).includes(measures)) return undefined;
  const fitting = context.view
    .keys(["sensors"])
    .filter((id) => context.view.text(["sensors", id, "measures"]) === quantity);
  context.fault(path, {
    what: `names ${quoted(name)}, which measures ${measures}`,
    allowed:
      fitting.length === 0
        ? `a sensor of ${quantity}; there is none`
        : `a sensor of ${quantity}: ${shortList(fitting)}`,
    todo: "name a sensor that measures it, or remove the line",
  });
  return undefined;
}

/** A sensor of the air of a room, which must be believed up to where people have to leave. */
export function checkRoomSensor(context: CheckContext, path: KeyPath): void {
  const sensor = checkSensorReference(context, path, "co2InAir");
  if (sensor === undefined) return;
  const maximumPath = ["sensors", sensor, "plausible", "maximum"];
  const maximum = context.view.number(maximumPath);
  if (maximum === undefined || maximum > roomAirLeave_ppm) return;
  context.warning(maximumPath, {
    what: `is ${maximum} ppm: what the sensor shows above it would not be believed, though people must leave a room at ${roomAirLeave_ppm} ppm`,
    allowed: `more than ${roomAirLeave_ppm}`,
    todo: "remove it, or write more",
  });
}

/** Warns where two vessels or two tanks name one sensor that can only be in one of them. */
export function warnOfSharedSensors(context: CheckContext, section: "vessels" | "tanks", key: string): void {
  const { view } = context;
  const owners = new Map<string, string>();
  for (const id of view.keys([section])) {
    const path = [section, id, key];
    const sensor = view.text(path);
    if (sensor === undefined) continue;
    const first = owners.get(sensor);
    if (first === undefined) {
      owners.set(sensor, id);
      continue;
    }
    context.warning(path, {
      what: `names ${quoted(sensor)}, which ${first} has too (line ${view.positionOfValue([section, first, key]).line})`,
      allowed: "a sensor of its own",
      todo: "check that this is meant",
    });
  }
}

export function shortList(names: readonly string[]): string {
  return names.length <= 12
    ? names.join(", ")
    : `${names.slice(0, 12).join(", ")} and ${names.length - 12} more`;
}
