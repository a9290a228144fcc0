import type { WatchedVessel } from "../../lib/supply-watch/supply-watch.js";
import type { SiteModel } from "../site-model.js";

/** The lower of its plates, and the lines behind its valves. */
export function watchedVessel(vesselId: string, model: SiteModel): WatchedVessel {
  const vessel = model.vessels.get(vesselId);
  const plates_bar = [vessel?.ratedPressureGauge_bar, vessel?.reliefOpeningGauge_bar].filter(
    (plate_bar) => plate_bar !== undefined,
  );
  const branches = [...model.valves.values()]
    .filter((valve) => valve.vesselId === vesselId)
    .reduce((sum, { feeds }) => sum + feeds.length, 0);
  return {
    branches: Math.max(1, branches),
    ...(plates_bar.length === 0 ? {} : { rating: { ratedPressureGauge_bar: Math.min(...plates_bar) } }),
  };
}
