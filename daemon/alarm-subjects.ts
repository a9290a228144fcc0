import type { AlarmSubject } from "../lib/alarm/alarm-condition.js";
import type { SiteModel } from "./site-model.js";

/** A valve, the vessel it sits on and the tanks it feeds. */
export function subjectsOfValve(model: SiteModel, valveId: string): readonly AlarmSubject[] {
  const valve = model.valves.get(valveId);
  return distinct([
    { kind: "valve", id: valveId },
    ...(valve === undefined ? [] : [{ kind: "vessel" as const, id: valve.vesselId }]),
    ...(valve?.rules.tankIds.map((id) => ({ kind: "tank" as const, id })) ?? []),
  ]);
}

/** A tank, and every valve that feeds it with its vessel. */
export function subjectsOfTank(model: SiteModel, tankId: string): readonly AlarmSubject[] {
  const feeding = [...model.valves].filter(([, { rules }]) => rules.tankIds.includes(tankId));
  return distinct([
    { kind: "tank", id: tankId },
    ...feeding.flatMap(([valveId, { vesselId }]): readonly AlarmSubject[] => [
      { kind: "valve", id: valveId },
      { kind: "vessel", id: vesselId },
    ]),
  ]);
}

/** A vessel, the valves on it and the tanks that they feed. */
export function subjectsOfVessel(model: SiteModel, vesselId: string): readonly AlarmSubject[] {
  const fed = [...model.valves].filter(([, valve]) => valve.vesselId === vesselId);
  return distinct([
    { kind: "vessel", id: vesselId },
    ...fed.flatMap(([valveId]) => subjectsOfValve(model, valveId)),
  ]);
}

/** A sensor, the tank or vessel in which it measures, and the valves that it guards. */
export function subjectsOfSensor(model: SiteModel, sensorId: string): readonly AlarmSubject[] {
  const tanks = [...model.tanks.values()].filter(({ phSensorId, temperatureSensorId, roomCo2SensorId }) =>
    [phSensorId, temperatureSensorId, roomCo2SensorId].includes(sensorId),
  );
  const vessels = [...model.vessels].filter(([, vessel]) =>
    [
      vessel.pressureSensor,
      vessel.temperatureSensor,
      vessel.roomCo2Sensor,
      vessel.massSensor,
      vessel.outletPressureSensor,
    ].includes(sensorId),
  );
  const guarded = [...model.valves].filter(([, { rules }]) => rules.guardSensorIds.includes(sensorId));
  return distinct([
    { kind: "sensor", id: sensorId },
    ...tanks.map(({ tankId }) => ({ kind: "tank" as const, id: tankId })),
    ...vessels.map(([id]) => ({ kind: "vessel" as const, id })),
    ...guarded.flatMap(([valveId]) => subjectsOfValve(model, valveId)),
  ]);
}

function distinct(subjects: readonly AlarmSubject[]): readonly AlarmSubject[] {
  return subjects.filter(
    (subject, index) =>
      subjects.findIndex((other) => other.kind === subject.kind && other.id === subject.id) === index,
  );
}
