/** A site far larger than a home: 50 vessels with a valve each, 150 tanks, 1000 readings a second. */
export const loadSite = { vessels: 50, tanksPerVessel: 3, readingsPerSecond: 1000 } as const;

const vessels = Array.from({ length: loadSite.vessels }, (_, index) => `cellar-${index}`);
const tanksOf = (vessel: number): readonly string[] =>
  Array.from(
    { length: loadSite.tanksPerVessel },
    (_, index) => `pond-${vessel * loadSite.tanksPerVessel + index}`,
  );
const tanks = vessels.flatMap((_, index) => tanksOf(index));

export interface LoadSensor {
  readonly topic: string;
  /** A plausible value at the n-th saying, never quite still. */
  readonly payload: (count: number) => string;
}

const value = (middle: number, step: number) => (count: number) =>
  JSON.stringify({ value: Number((middle + step * ((count * 7) % 5)).toFixed(3)) });

export const loadSensors: readonly LoadSensor[] = [
  ...tanks.flatMap((tank) => [
    { topic: `load/${tank}/ph`, payload: value(6.81, 0.003) },
    { topic: `load/${tank}/temperature`, payload: value(24.1, 0.02) },
  ]),
  ...vessels.flatMap((vessel) => [
    { topic: `load/${vessel}/pressure`, payload: value(11.2, 0.004) },
    { topic: `load/${vessel}/temperature`, payload: value(19.4, 0.02) },
  ]),
];

const sensorLine = (id: string, measures: string, topic: string): string =>
  `  ${id}: { measures: ${measures}, topic: ${topic}, value: /value, maximumAge_s: 600 }`;

/** The windows are open around the clock but for its last minute. */
export function loadSiteYaml(place: {
  readonly address: string;
  readonly folder: string;
  readonly metricsPort?: number;
}): string {
  return `site: { id: mill-pond, timeZone: Etc/UTC }
broker: { addresses: ["${place.address}"], keepalive_s: 10 }
hub: { homie: {} }
log: { level: error }
sensors:
${tanks
  .flatMap((tank) => [
    sensorLine(`${tank}-ph`, "pH", `load/${tank}/ph`),
    sensorLine(`${tank}-temperature`, "temperature, unit: degC", `load/${tank}/temperature`),
  ])
  .join("\n")}
${vessels
  .flatMap((vessel) => [
    sensorLine(`${vessel}-pressure`, "pressure, unit: bar, reference: gauge", `load/${vessel}/pressure`),
    sensorLine(`${vessel}-temperature`, "temperature, unit: degC", `load/${vessel}/temperature`),
  ])
  .join("\n")}
vessels:
${vessels
  .map(
    (vessel) =>
      `  ${vessel}: { kind: generator, volume_L: 2, workingPressureGauge_bar: 3, pressureSensor: ${vessel}-pressure, temperatureSensor: ${vessel}-temperature }`,
  )
  .join("\n")}
tanks:
${tanks
  .map(
    (tank) =>
      `  ${tank}: { volume_L: 100, kh_dKH: 4, phSensor: ${tank}-ph, temperatureSensor: ${tank}-temperature, lead_min: 0, earlyClose_min: 0, photoperiods: [{ lightsOn: "00:00", lightsOff: "12:00" }, { lightsOn: "12:00", lightsOff: "23:59" }] }`,
  )
  .join("\n")}
valves:
${vessels
  .map(
    (vessel, index) => `  outlet-${index}:
    vessel: ${vessel}
    feeds: [${tanksOf(index)
      .map((tank, at) => `{ tank: ${tank}, share: ${at === 0 ? 0.34 : 0.33} }`)
      .join(", ")}]
    guardSensors: [${tanksOf(index)
      .map((tank) => `${tank}-ph`)
      .join(", ")}]
    longestOpen_min: 1440
    relay:
      commandTopic: load/outlet-${index}/command
      stateTopic: load/outlet-${index}/state
      payloadOn: "ON"
      payloadOff: "OFF"
      stateOn: "ON"
      stateOff: "OFF"
      autoOff_s: 120
      powerOnState: "off"`,
  )
  .join("\n")}
control: { clientSocket: ${place.folder}/control.sock }
store: { file: ${place.folder}/site.db }
`;
}
