import type { SiteStatus } from "../site-status.js";
import type { SiteEvent } from "../ports/site-store.js";
import { supplyBrief } from "../supply/supply-text.js";
import type { SiteModel } from "../site-model.js";

/** The site's wall clock: "Tue 03 Mar 10:15". */
export function wallClock(at_epochMs: number, timeZone: string): string {
  return new Intl.DateTimeFormat("en-GB", {
    timeZone,
    weekday: "short",
    day: "2-digit",
    month: "short",
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
  })
    .format(at_epochMs)
    .replaceAll(",", "");
}

/** A line for an event. */
export function eventLine(event: SiteEvent, timeZone: string): string {
  const reason = event.reason === "" ? "" : `: ${event.reason}`;
  const subject = event.subject === "" ? event.area : `${event.area} ${event.subject}`;
  return `${wallClock(event.at_epochMs, timeZone)}  ${subject} ${event.what}${reason}`;
}

/** The whole site in one line that fits a terminal. */
export function statusLine(status: SiteStatus, model: SiteModel): string {
  const valueOf = (sensorId: string | undefined): number | undefined => {
    const view = status.sensors.find((candidate) => candidate.sensorId === sensorId);
    return view?.freshness.kind === "fresh" ? view.lastAccepted?.value : undefined;
  };
  const valves = status.valves.map((valve) => `${valve.valveId} ${valve.reported}`);
  const vessels = [...model.vessels].map(([id, vessel]) => {
    const supply = status.supplies.find(({ vesselId }) => vesselId === id);
    const left = supplyBrief(supply, model.timeZone);
    const pressure = `${id} ${fixed(valueOf(vessel.pressureSensor), 2)} bar`;
    return left === undefined ? pressure : `${pressure}, ${left}`;
  });
  const tanks = status.tanks.map(
    ({ tankId, co2, pH }) =>
      `${tankId} ${co2 === undefined ? "?" : `${digits(co2.co2_mgPerL)} (${digits(co2.co2Low80_mgPerL)}-${digits(co2.co2High80_mgPerL)})`} mg/L pH ${fixed(pH, 2)}`,
  );
  const alarms = status.alarms.filter((alarm) => alarm.raised).length;
  return [
    wallClock(status.at_epochMs, model.timeZone),
    ...valves,
    ...vessels,
    ...tanks,
    ...(alarms === 0 ? [] : [`${alarms} alarm${alarms === 1 ? "" : "s"}`]),
  ].join(" | ");
}

function fixed(value: number | undefined, places: number): string {
  return value === undefined ? "?" : value.toFixed(places);
}

function digits(value: number): string {
  return String(Number(value.toPrecision(2)));
}
