import { compileSelector } from "../mqtt/value-selector.js";
import type { KeyPath } from "./config-faults.js";
import type { CheckContext } from "./config-view.js";

/** What the keys of each sensor say against each other. */
export function checkSensors(context: CheckContext): void {
  for (const id of context.view.keys(["sensors"])) {
    const path = ["sensors", id];
    checkPlausibleSpan(context, path);
    checkCalibration(context, path);
    checkSelector(context, [...path, "value"]);
    checkSelector(context, [...path, "timestamp"]);
    checkBattery(context, [...path, "battery"]);
    warnOfBareTimestamp(context, path);
  }
}

function checkBattery(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  checkSelector(context, [...path, "value"]);
  const low = view.number([...path, "low"]);
  const unit = view.text([...path, "unit"]);
  if (low === undefined || (unit !== "percent" && unit !== "volt")) return;
  const highest = unit === "percent" ? 99 : 60;
  if (low <= highest) return;
  context.fault([...path, "low"], {
    what: `is ${low} ${unit}, at or below which every battery is, so that the alarm would never end`,
    allowed: `above 0 and at most ${highest} ${unit}`,
    todo: unit === "volt" ? "write volts, or change the unit" : "write the percentage at which to replace it",
  });
}

/** Where the payload is a bare number there is no place for a second value. */
function warnOfBareTimestamp(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  if (!view.has([...path, "timestamp"]) || view.has([...path, "value"])) return;
  context.faultOfKey([...path, "timestamp"], {
    what: "stands without value, so the payload is a bare number that holds no time",
    allowed: "timestamp together with value",
    todo: "add value, or remove timestamp",
  });
}

export function checkSelector(context: CheckContext, path: KeyPath): void {
  const text = context.view.text(path);
  if (text === undefined || text === "") return;
  const compiled = compileSelector(text);
  if (compiled.kind !== "invalid") return;
  context.fault(path, {
    what: `cannot be read: ${compiled.reason}`,
    allowed: "a JSONPath such as $.gauge.reading, or a JSON pointer such as /gauge/reading",
    todo: "correct it; leave the key out where the payload is the value itself",
  });
}

function checkPlausibleSpan(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  const minimum = view.number([...path, "plausible", "minimum"]);
  const maximum = view.number([...path, "plausible", "maximum"]);
  if (minimum === undefined || maximum === undefined || minimum < maximum) return;
  context.fault([...path, "plausible", "minimum"], {
    what: `is ${minimum}, which is not below maximum (${maximum}), so that no reading would be believed`,
    allowed: "minimum below maximum",
    todo: "exchange the two, or correct one",
  });
}

function checkCalibration(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  const calibration = [...path, "calibration"];
  const twoPoint = [...calibration, "twoPoint"];
  for (const key of ["offset", "gain"]) {
    if (!view.has(twoPoint) || !view.has([...calibration, key])) continue;
    context.faultOfKey([...calibration, key], {
      what: `stands beside twoPoint (line ${view.positionOfKey(twoPoint).line})`,
      allowed: "offset and gain, or twoPoint",
      todo: "remove one of the two",
    });
  }
  const gain = view.number([...calibration, "gain"]);
  if (gain === 0) {
    context.fault([...calibration, "gain"], {
      what: "is 0, which makes every reading the same",
      allowed: "any number but 0; 1 changes nothing",
      todo: "write 1, or the gain that was measured",
    });
  }
  if (gain !== undefined && gain < 0) warnOfReversal(context, [...calibration, "gain"]);
  checkTwoPoints(context, twoPoint);
}

function checkTwoPoints(context: CheckContext, twoPoint: KeyPath): void {
  const { view } = context;
  const rises = (["raw", "true"] as const).map((key) => {
    const first = view.number([...twoPoint, 0, key]);
    const second = view.number([...twoPoint, 1, key]);
    if (first === undefined || second === undefined) return undefined;
    if (first === second) {
      context.fault([...twoPoint, 1, key], {
        what: `is ${second}, as in the first point, so that no line goes through the two`,
        allowed: "two points that differ",
        todo: "measure in two different reference liquids",
      });
    }
    return second - first;
  });
  const [raw, real] = rises;
  if (raw !== undefined && real !== undefined && raw * real < 0) warnOfReversal(context, twoPoint);
}

function warnOfReversal(context: CheckContext, path: KeyPath): void {
  context.warning(path, {
    what: "turns the sensor round: a higher raw value would mean a lower true one",
    allowed: "a calibration that rises",
    todo: "check that raw and true, or the two points, are not exchanged",
  });
}
