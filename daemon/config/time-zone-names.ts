import { nearestName } from "./nearest-name.js";

/** The zone that was most likely meant: a slip of the keyboard, or the city alone. */
export function nearestTimeZone(given: string): string | undefined {
  const zones = Intl.supportedValuesOf("timeZone");
  const wanted = given.trim().replaceAll(" ", "_").toLowerCase();
  const ofCity = zones.find((zone) => cityOf(zone).toLowerCase() === wanted);
  if (ofCity !== undefined) return ofCity;
  return nearestName(wanted, zones) ?? zoneOfNearestCity(wanted, zones);
}

function zoneOfNearestCity(wanted: string, zones: readonly string[]): string | undefined {
  const zoneOfCity = new Map(zones.map((zone) => [cityOf(zone), zone]));
  const city = nearestName(cityOf(wanted), [...zoneOfCity.keys()]);
  return city === undefined ? undefined : zoneOfCity.get(city);
}

function cityOf(zone: string): string {
  return zone.split("/").at(-1) ?? zone;
}
