import { isTimeZone } from "../../lib/schedule/civil-time.js";
import { quoted } from "./config-faults.js";
import { retentionDefaults } from "./config-schema.js";
import type { CheckContext } from "./config-view.js";
import { nearestTimeZone } from "./time-zone-names.js";

export function checkTimeZone(context: CheckContext): void {
  const path = ["site", "timeZone"];
  const name = context.view.text(path);
  if (name === undefined || name === "" || isTimeZone(name)) return;
  const nearest = nearestTimeZone(name);
  context.fault(path, {
    what: `is ${quoted(name)}, which is no name of a time zone`,
    allowed: "a name of the IANA time zone database, as Europe/Berlin or America/New_York",
    todo: nearest === undefined ? "look the name up and correct it" : `did you mean ${quoted(nearest)}?`,
  });
}

/** Coarser readings are made from finer ones, so they are kept at least as long. */
export function checkRetention(context: CheckContext): void {
  const { view } = context;
  const steps = ["raw_days", "oneMinute_days", "fifteenMinute_days"] as const;
  const kept = steps.map((step) => view.number(["store", "retention", step], retentionDefaults[step]));
  for (const [index, step] of steps.entries()) {
    const finer = steps[index - 1];
    const finerKept_days = kept[index - 1];
    const kept_days = kept[index];
    if (finer === undefined || finerKept_days === undefined || kept_days === undefined) continue;
    if (finerKept_days <= kept_days) continue;
    const path = ["store", "retention", view.has(["store", "retention", step]) ? step : finer];
    context.fault(path, {
      what: `makes ${step} (${kept_days}) shorter than ${finer} (${finerKept_days})`,
      allowed: "raw_days at most oneMinute_days, and that at most fifteenMinute_days",
      todo: `make ${step} longer, or ${finer} shorter`,
    });
  }
}

export function warnOfEmptySite(context: CheckContext): void {
  const sections = ["sensors", "vessels", "tanks", "valves"];
  if (sections.some((section) => context.view.has([section]))) return;
  context.warning([], {
    what: "names no sensor, vessel, tank or valve, so there is nothing to do",
    allowed: "at least one of them",
    todo: "add them after config/example.yaml",
  });
}
