import { checkRepeatedDays } from "./check-repeated-days.js";
import { isTimeOfDay, weekdays } from "../../lib/schedule/civil-time.js";
import { checkRoomSensor, checkSensorReference, warnOfSharedSensors } from "./check-references.js";
import { checkLearntLead } from "./check-learnt-lead.js";
import { checkCo2Keys } from "./check-tank-co2.js";
import type { KeyPath } from "./config-faults.js";
import { tankDefaults } from "./tank-schema.js";
import type { CheckContext, ConfigView } from "./config-view.js";
import {
  describeMinuteOfWeek,
  firstMarkedMinute,
  markSpan,
  movedEarlier,
  week_min,
  type WeeklySpan,
  weeklySpans,
} from "./weekly-minutes.js";

/** What the keys of each tank say against each other and against its sensors. */
export function checkTanks(context: CheckContext): void {
  for (const id of context.view.keys(["tanks"])) {
    const path = ["tanks", id];
    const phSensor = checkSensorReference(context, [...path, "phSensor"], "pH");
    checkSensorReference(context, [...path, "temperatureSensor"], "temperature");
    checkRoomSensor(context, [...path, "roomCo2Sensor"]);
    checkCo2Keys(context, path, phSensor);
    checkLearntLead(context, path, phSensor);
    checkOverlaps(context, path);
    checkWindowLengths(context, path);
    checkDatesOff(context, path);
    if (phSensor !== undefined) warnOfHiddenFloor(context, path, phSensor);
  }
  warnOfSharedSensors(context, "tanks", "phSensor");
}

/**
 * The minutes of the week in which the tank may have gas; undefined where its times cannot be read.
 * @param lead  where the lead may be learnt: the shortest or the longest that its limits allow
 */
export function dosingMinutes(
  view: ConfigView,
  tank: string,
  lead: "shortest" | "longest",
): Uint8Array | undefined {
  const path = ["tanks", tank];
  const count = view.length([...path, "photoperiods"]);
  const shift = shiftOf(view, path, lead);
  if (count === 0 || shift === undefined) return undefined;
  const minutes = new Uint8Array(week_min);
  for (let index = 0; index < count; index += 1) {
    const spans = spansAt(view, [...path, "photoperiods", index]);
    if (spans === undefined) return undefined;
    for (const span of spans) markSpan(minutes, movedEarlier(span, shift));
  }
  return minutes;
}

function shiftOf(
  view: ConfigView,
  tank: KeyPath,
  lead: "shortest" | "longest",
): { readonly start_min: number; readonly end_min: number } | undefined {
  const limit = [...tank, "useLearntLead", lead === "shortest" ? "atLeast_min" : "atMost_min"];
  const start_min = view.has(limit)
    ? view.number(limit)
    : view.number([...tank, "lead_min"], tankDefaults.lead_min);
  const end_min = view.number([...tank, "earlyClose_min"], tankDefaults.earlyClose_min);
  const areInRange = [start_min, end_min].every((value) => value !== undefined && value >= 0 && value <= 240);
  return start_min === undefined || end_min === undefined || !areInRange ? undefined : { start_min, end_min };
}

function leadInWords(view: ConfigView, tank: KeyPath): string {
  return view.has([...tank, "useLearntLead"]) ? "the shortest lead" : "a lead_min";
}

function spansAt(view: ConfigView, photoperiod: KeyPath): readonly WeeklySpan[] | undefined {
  const lightsOn = view.text([...photoperiod, "lightsOn"]);
  const lightsOff = view.text([...photoperiod, "lightsOff"]);
  if (lightsOn === undefined || lightsOff === undefined) return undefined;
  if (!isTimeOfDay(lightsOn) || !isTimeOfDay(lightsOff)) return undefined;
  const daysPath = [...photoperiod, "days"];
  const named = Array.from(
    { length: view.length(daysPath) },
    (_, index) => view.text([...daysPath, index]) ?? "",
  );
  return weeklySpans({ lightsOn, lightsOff, days: view.has(daysPath) ? named : weekdays });
}

function checkOverlaps(context: CheckContext, tank: KeyPath): void {
  const { view } = context;
  const earlier: { readonly path: KeyPath; readonly minutes: Uint8Array }[] = [];
  for (let index = 0; index < view.length([...tank, "photoperiods"]); index += 1) {
    const path = [...tank, "photoperiods", index];
    checkRepeatedDays(context, path);
    const spans = spansAt(view, path);
    if (spans === undefined) continue;
    for (const other of earlier) {
      const minute = spans
        .map((span) => firstMarkedMinute(other.minutes, span))
        .find((found) => found !== undefined);
      if (minute === undefined) continue;
      context.fault(path, {
        what: `overlaps the photoperiod in line ${view.positionOfValue(other.path).line}: both have light on ${describeMinuteOfWeek(minute)}`,
        allowed: "photoperiods that do not overlap",
        todo: "make one of the two shorter, or join them",
      });
    }
    const minutes = new Uint8Array(week_min);
    for (const span of spans) markSpan(minutes, span);
    earlier.push({ path, minutes });
  }
}

function checkWindowLengths(context: CheckContext, tank: KeyPath): void {
  const { view } = context;
  const shift = shiftOf(view, tank, "shortest");
  for (let index = 0; index < view.length([...tank, "photoperiods"]); index += 1) {
    const path = [...tank, "photoperiods", index];
    const light = spansAt(view, path)?.[0];
    if (light === undefined) continue;
    if (light.length_min === 0) {
      context.fault([...path, "lightsOff"], {
        what: "is the same time as lightsOn, so that the light has no length",
        allowed: "another time than lightsOn",
        todo: "correct one of the two",
      });
      continue;
    }
    warnOfLongLight(context, path, light);
    if (shift === undefined || movedEarlier(light, shift).length_min > 0) continue;
    context.fault(path, {
      what: `leaves no time for gas: ${light.length_min} min of light and ${leadInWords(view, tank)} of ${shift.start_min} are used up by an earlyClose_min of ${shift.end_min}`,
      allowed: "light and lead_min together longer than earlyClose_min",
      todo: "make earlyClose_min smaller, or the photoperiod longer",
    });
  }
}

/** Common practice, no source: lights run 6 to 10 h; over midnight for longer than half a day is two times exchanged. */
const longestLight_min = 14 * 60;
const longestLightOverMidnight_min = 12 * 60;

function warnOfLongLight(context: CheckContext, photoperiod: KeyPath, light: WeeklySpan): void {
  const endOfDay_min = (Math.floor(light.start_min / 1440) + 1) * 1440;
  const isOverMidnight = light.start_min + light.length_min > endOfDay_min;
  const longest_min = isOverMidnight ? longestLightOverMidnight_min : longestLight_min;
  if (light.length_min <= longest_min) return;
  const length_h = Number((light.length_min / 60).toFixed(1));
  context.warning([...photoperiod, "lightsOff"], {
    what: isOverMidnight
      ? `is before lightsOn, so the light stays on over midnight, for ${length_h} h`
      : `keeps the light on for ${length_h} h`,
    allowed: `6 to 10 h of light, and no more than ${longest_min / 60} h${isOverMidnight ? " over midnight" : ""}`,
    todo: isOverMidnight
      ? "check that the two times are not exchanged"
      : "check both times; gas runs as long as the light",
  });
}

function checkDatesOff(context: CheckContext, tank: KeyPath): void {
  const { view } = context;
  for (let index = 0; index < view.length([...tank, "datesOff"]); index += 1) {
    const path = [...tank, "datesOff", index];
    const from = view.text([...path, "from"]);
    const to = view.text([...path, "to"]);
    if (from === undefined || to === undefined || from <= to) continue;
    if (![from, to].every((date) => /^\d{4}-\d{2}-\d{2}$/.test(date))) continue;
    context.fault(path, {
      what: `ends (${to}) before it begins (${from})`,
      allowed: "from on or before to",
      todo: "exchange the two dates",
    });
  }
}

/** A floor below what the sensor is believed to show is never seen: the reading is refused first. */
function warnOfHiddenFloor(context: CheckContext, tank: KeyPath, phSensor: string): void {
  const { view } = context;
  const floorPath = [...tank, "limits", "pHFloor"];
  const floor = view.number(floorPath, tankDefaults.limits.pHFloor);
  const minimum = view.number(["sensors", phSensor, "plausible", "minimum"]);
  if (floor === undefined || minimum === undefined || floor > minimum) return;
  context.warning(floorPath, {
    what: `is ${floor}, but ${phSensor} is not believed below ${minimum}: the tank would be closed for an unknown pH, not for a low one`,
    allowed: `more than ${minimum}`,
    todo: `make the plausible minimum of ${phSensor} smaller`,
  });
}
