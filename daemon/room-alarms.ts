import type { AlarmCondition } from "../lib/alarm/alarm-condition.js";
import { silenceDelay_s } from "../lib/control/first-word.js";
import { roomAirHeld_ppm, roomAirLeave_ppm, roomAirShortTime_ppm } from "../lib/control/room-air.js";
import { subjectsOfSensor } from "./alarm-subjects.js";
import type { SensorView } from "./sensor-inbox.js";
import type { SiteModel } from "./site-model.js";
import type { SiteStatus } from "./site-status.js";
import { roomLeave, roomShortTime, tripAlarmId } from "./trip-alarms.js";

/** CO2 in the rooms, and sensors of it that are silent. Where a valve has tripped for it, its alarm says so in its place. */
export function roomConditions(
  { sensors, trips }: Pick<SiteStatus, "sensors" | "trips">,
  model: SiteModel,
  brokerAlarmId: string,
): readonly AlarmCondition[] {
  return roomSensors(model).flatMap((sensorId) => {
    const view = sensors.find((candidate) => candidate.sensorId === sensorId);
    if (view === undefined) return [];
    const valveIds = [...model.valves]
      .filter(([, { roomCo2SensorIds }]) => roomCo2SensorIds.includes(sensorId))
      .map(([id]) => id);
    const tripIds = trips
      .filter(({ subject, cause }) => valveIds.includes(subject.id) && cause.startsWith("CO2 in the room"))
      .map(tripAlarmId);
    return view.freshness.kind === "fresh"
      ? richAir(view, model, tripIds)
      : silence(view, model, brokerAlarmId);
  });
}

function roomSensors(model: SiteModel): readonly string[] {
  const named = [
    ...[...model.vessels.values()].map(({ roomCo2Sensor }) => roomCo2Sensor),
    ...[...model.valves.values()].flatMap(({ roomCo2SensorIds }) => roomCo2SensorIds),
  ];
  return [...new Set(named.filter((id) => id !== undefined))];
}

function richAir(
  { sensorId, lastAccepted }: SensorView,
  model: SiteModel,
  tripIds: readonly string[],
): readonly AlarmCondition[] {
  const co2InAir_ppm = lastAccepted?.value ?? 0;
  if (co2InAir_ppm < roomAirHeld_ppm) return [];
  const isCritical = co2InAir_ppm >= roomAirShortTime_ppm && tripIds.length === 0;
  const advice =
    co2InAir_ppm >= roomAirLeave_ppm
      ? roomLeave
      : co2InAir_ppm >= roomAirShortTime_ppm
        ? roomShortTime
        : {
            consequence:
              "5000 ppm is the most that is allowed as the mean of a working day; more, for long, tires and gives headaches. Where it comes from the vessel it can climb further.",
            whatToDo:
              "Gas is held off. Ventilate the room. Then look for the leak: vessel, fittings, hoses, a diffuser out of the water. Nobody sleeps there until it is found.",
            allowableResponse_min: 30,
          };
  return [
    {
      alarmId: `room-air/${sensorId}`,
      priority: isCritical ? "critical" : "high",
      subjects: subjectsOfSensor(model, sensorId),
      cause: `${sensorId} shows ${Math.round(co2InAir_ppm)} ppm CO2 in the air`,
      ...advice,
      onDelay_s: 0,
      offDelay_s: 300,
      suppressedBy: tripIds,
      latch: "none",
    },
  ];
}

/** A guard's silence, and that of a tank's sensor, have alarms of their own. */
function silence(view: SensorView, model: SiteModel, brokerAlarmId: string): readonly AlarmCondition[] {
  const { sensorId, firstWord } = view;
  const isToldElsewhere =
    [...model.valves.values()].some(({ rules }) => rules.guardSensorIds.includes(sensorId)) ||
    [...model.tanks.values()].some(({ roomCo2SensorId }) => roomCo2SensorId === sensorId);
  if (isToldElsewhere || view.isAwaitedAgain === true) return [];
  return [
    {
      alarmId: `room-sensor/${sensorId}`,
      priority: "medium",
      subjects: subjectsOfSensor(model, sensorId),
      cause: `sensor ${sensorId} of the room's air gives no believable value`,
      consequence: "CO2 that gathers in the room is not seen. Gas flows on all the same: it is no guard.",
      whatToDo:
        "Look at the sensor, its power and its network. Ventilate before you stay in the room; to have gas held off while it is silent, name it under guardSensors.",
      allowableResponse_min: 240,
      onDelay_s: silenceDelay_s(firstWord),
      offDelay_s: 0,
      suppressedBy: [brokerAlarmId],
      latch: "none",
    },
  ];
}
