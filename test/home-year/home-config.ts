import { parseConfig } from "../../daemon/config/load-config.js";
import type { SiteConfig } from "../../daemon/config/config-schema.js";

/** An invented home: three small tanks, a vessel filled with water in the cellar and one filled with ice in the study. */
export interface HomeVessel {
  readonly vesselId: string;
  readonly volume_L: number;
  readonly sodiumBicarbonate_g: number;
  readonly citricAcidAnhydrous_g: number;
  readonly water_kg: number;
  readonly closedWith: "water" | "ice";
}

const weights = { volume_L: 2.5, sodiumBicarbonate_g: 150, citricAcidAnhydrous_g: 123, water_kg: 0.5 };
export const homeVessels: readonly HomeVessel[] = [
  { vesselId: "cellar", closedWith: "water", ...weights },
  { vesselId: "study", closedWith: "ice", ...weights },
];

export const timeZone = "Europe/Berlin";
export const workingPressureGauge_bar = 2.5;
export const sealedAt_degC = 20;

/** Nobody is home: a week, a long weekend, three weeks, a week, the end of the year. */
export const awayDates = [
  { from: "2027-02-08", to: "2027-02-14" },
  { from: "2027-04-02", to: "2027-04-05" },
  { from: "2027-07-17", to: "2027-08-06" },
  { from: "2027-10-09", to: "2027-10-16" },
  { from: "2027-12-24", to: "2027-12-30" },
] as const;

export const year = { from: "2027-01-01T00:00:00+01:00", days: 365 } as const;
/** The charge that is in each vessel when it begins was closed so long before. */
const closedBefore_days = { cellar: 11, study: 4 } as const;

export interface HomeOptions {
  readonly folder: string;
  /** Where the keeper's phone is told. */
  readonly phoneUrl: string;
  readonly from_epochMs: number;
}

function sensors(tankId: string): string {
  return `
  ${tankId}-ph: { measures: pH, topic: ${tankId}/ph }
  ${tankId}-temperature: { measures: temperature, unit: degC, topic: ${tankId}/temperature }`;
}

function vessel(of: HomeVessel, closed: string): string {
  return `
  ${of.vesselId}:
    kind: generator
    volume_L: ${of.volume_L}
    ratedPressureGauge_bar: 25
    reliefOpeningGauge_bar: 22
    workingPressureGauge_bar: ${workingPressureGauge_bar}
    pressureSensor: ${of.vesselId}-gauge
    temperatureSensor: ${of.vesselId}-temperature
    charge:
      sodiumBicarbonate_g: ${of.sodiumBicarbonate_g}
      citricAcidAnhydrous_g: ${of.citricAcidAnhydrous_g}
      water_kg: ${of.water_kg}
      closedWith: ${of.closedWith}
      sealedAt_degC: ${sealedAt_degC}
      closedAt: "${closed}"
    refill: { from: "18:00", until: "21:30", handling_min: 45, closedWith: ${of.closedWith} }`;
}

function tank(tankId: string, volume_L: number, kh_dKH: number, lights: string): string {
  return `
  ${tankId}:
    volume_L: ${volume_L}
    kh_dKH: ${kh_dKH}
    phSensor: ${tankId}-ph
    temperatureSensor: ${tankId}-temperature
    conductivity_uSPerCm: ${60 * kh_dKH + 40}
    photoperiods: [${lights}]
    lead_min: 90
    earlyClose_min: 30`;
}

function valve(valveId: string, vesselId: string, feeds: string, guards: string): string {
  return `
  ${valveId}:
    vessel: ${vesselId}
    feeds: [${feeds}]
    guardSensors: [${guards}]
    longestOpen_min: 720
    relay:
      commandTopic: ${valveId}/relay/command
      payloadOn: "ON"
      payloadOff: "OFF"
      stateTopic: ${valveId}/relay/state
      stateOn: "ON"
      stateOff: "OFF"
      statusQuery: { topic: ${valveId}/relay/query, payload: "state" }
      confirmWithin_s: 10
      autoOff_s: 300
      powerOnState: off`;
}

export function homeYaml({ folder, phoneUrl, from_epochMs }: HomeOptions): string {
  const closedAt = ({ vesselId }: HomeVessel): string => {
    const days = vesselId === "cellar" ? closedBefore_days.cellar : closedBefore_days.study;
    return `${new Date(from_epochMs - days * 86_400_000).toISOString().slice(0, 19)}Z`;
  };
  const away = awayDates.map(({ from, to }) => `{ from: "${from}", to: "${to}" }`).join(", ");
  const gauges = homeVessels.map(
    ({ vesselId }) => `
  ${vesselId}-gauge: { measures: pressure, unit: bar, reference: gauge, topic: ${vesselId}/gauge, accuracy: 0.1 }
  ${vesselId}-temperature: { measures: temperature, unit: degC, topic: ${vesselId}/temperature }`,
  );
  return `
site: { id: alder-court, timeZone: ${timeZone}, away: [${away}] }
broker: { addresses: ["mqtt://127.0.0.1:1883"] }
sensors:${gauges.join("")}${["loach", "shrimp", "tetra"].map(sensors).join("")}
vessels:${homeVessels.map((of) => vessel(of, closedAt(of))).join("")}
tanks:${[
    tank("loach", 24, 4, '{ lightsOn: "10:00", lightsOff: "18:00" }'),
    tank("shrimp", 16, 5, '{ lightsOn: "10:00", lightsOff: "18:00" }'),
    tank("tetra", 43, 4, '{ lightsOn: "09:30", lightsOff: "17:30" }'),
  ].join("")}
valves:${[
    valve(
      "cellar-outlet",
      "cellar",
      "{ tank: loach, share: 0.56 }, { tank: shrimp, share: 0.44 }",
      "loach-ph, shrimp-ph",
    ),
    valve("study-outlet", "study", "{ tank: tetra, share: 1 }", "tetra-ph"),
  ].join("")}
alerts:
  channels: { phone: { kind: webhook, url: "${phoneUrl}", timeout_s: 10 } }
  routes: [{ to: [phone], repeatAfter_min: 720 }]
control: { clientSocket: ${folder}/control.sock }
store: { file: ${folder}/site.db, backup: { nights: 0 } }
`;
}

export function homeConfig(options: HomeOptions): SiteConfig {
  const parsed = parseConfig(homeYaml(options), `${options.folder}/home.yaml`);
  if (parsed.kind === "invalid") {
    throw new Error(parsed.faults.map(({ keyPath, what }) => `${keyPath}: ${what}`).join("\n"));
  }
  return parsed.config;
}
