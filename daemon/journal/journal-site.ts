import type { JournalSite } from "../../lib/journal/judge-entry.js";
import type { SiteModel } from "../site-model.js";

/** What of the site an entry is held against. */
export function journalSiteOf(model: SiteModel): JournalSite {
  return {
    tanks: model.tanks,
    valves: model.valves,
    sensors: new Map(
      [...model.sensors].map(([id, { rules }]) => [id, { isPhSensor: rules.quantity === "pH" }]),
    ),
    vessels: new Map(
      [...model.vessels].map(([id, vessel]) => [
        id,
        {
          kind: vessel.kind,
          volume_L: vessel.volume_L,
          ratedPressureGauge_bar: vessel.ratedPressureGauge_bar,
          reliefOpeningGauge_bar: vessel.reliefOpeningGauge_bar,
        },
      ]),
    ),
  };
}
