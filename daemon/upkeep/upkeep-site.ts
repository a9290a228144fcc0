import type { Hold } from "../../lib/control/hold.js";
import type { UpkeepSite } from "../../lib/upkeep/upkeep-items.js";
import type { SiteModel } from "../site-model.js";

/** What of the site needs upkeep, and which vessels are being refilled. */
export function upkeepSiteOf(model: SiteModel, holds: readonly Hold[]): UpkeepSite {
  return {
    vessels: [...model.vessels].map(([vesselId, { kind, retestBy, reliefDeviceBy }]) => ({
      vesselId,
      kind,
      retestBy,
      reliefDeviceBy,
      refillSince_epochMs: holds.find(
        (hold) => hold.kind === "refill in progress" && hold.subject.id === vesselId,
      )?.since_epochMs,
    })),
    valveIds: [...model.valves.keys()],
    tanks: [...model.tanks.values()].map(({ tankId, dropChecker }) => ({
      tankId,
      hasDropChecker: dropChecker !== undefined,
    })),
    phSensorIds: [...model.sensors].filter(([, { rules }]) => rules.quantity === "pH").map(([id]) => id),
    intervals: model.upkeep,
    timeZone: model.timeZone,
  };
}
