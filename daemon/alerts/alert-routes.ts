import type { AlarmSubject } from "../../lib/alarm/alarm-condition.js";
import type { AlertRoute } from "../../lib/alerts/alert-route.js";
import type { AlertConfig } from "../config/config-schema.js";

/** The routes of the config in the form in which they are followed. */
export function alertRoutesFrom({ routes }: AlertConfig): readonly AlertRoute[] {
  return routes.map((route) => ({
    channels: route.to,
    priorities: route.priorities,
    subjects: route.about.flatMap((text) => subjectFrom(text)),
    groupWithin_s: route.groupWithin_s,
    repeatAfter_min: route.repeatAfter_min,
    tellsReturn: route.tellsReturn,
    quietHours: route.quietHours,
    escalation:
      route.escalation === undefined
        ? undefined
        : { after_min: route.escalation.after_min, channels: route.escalation.to },
  }));
}

/** The config check has seen that each exists. */
function subjectFrom(text: string): readonly AlarmSubject[] {
  const [kind, id] = text.split("/");
  return id !== undefined && (kind === "vessel" || kind === "tank" || kind === "valve" || kind === "sensor")
    ? [{ kind, id }]
    : [];
}
