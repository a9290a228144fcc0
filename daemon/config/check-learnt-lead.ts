import type { KeyPath } from "./config-faults.js";
import type { CheckContext } from "./config-view.js";
import { tankDefaults } from "./tank-schema.js";

const longestLead_min = 240;

/** The lead begins at lead_min and is learnt from pH and temperature: the limits must let it, and the probe must be there. */
export function checkLearntLead(context: CheckContext, tank: KeyPath, phSensor: string | undefined): void {
  const { view } = context;
  const path = [...tank, "useLearntLead"];
  if (!view.has(path)) return;
  const atLeast_min = view.number([...path, "atLeast_min"]);
  const atMost_min = view.number([...path, "atMost_min"]);
  if (phSensor === undefined && !view.has([...tank, "phSensor"])) {
    context.warning(path, {
      what: "does nothing, as the tank has no phSensor",
      allowed: "it beside phSensor",
      todo: "name the pH sensor of this tank, or remove the key",
    });
  }
  if (atLeast_min === undefined || atMost_min === undefined) return;
  if (atLeast_min > atMost_min) {
    context.fault([...path, "atLeast_min"], {
      what: `is ${atLeast_min}, which is above atMost_min (${atMost_min})`,
      allowed: "atLeast_min at or below atMost_min",
      todo: "exchange the two",
    });
    return;
  }
  const lead_min = view.number([...tank, "lead_min"], tankDefaults.lead_min);
  if (lead_min === undefined || (lead_min >= atLeast_min && lead_min <= atMost_min)) return;
  // What the schema refuses already needs no second fault.
  if (lead_min < 0 || lead_min > longestLead_min) return;
  const isOwn = view.has([...tank, "lead_min"]);
  context.fault(isOwn ? [...tank, "lead_min"] : path, {
    what: isOwn
      ? `is ${lead_min}, outside of useLearntLead (${atLeast_min} to ${atMost_min})`
      : `from ${atLeast_min} to ${atMost_min} leaves out lead_min (${lead_min}, the default), from which the lead begins`,
    allowed: "atLeast_min <= lead_min <= atMost_min",
    todo: isOwn ? "change one of them" : "write lead_min too, or widen the limits",
  });
}
