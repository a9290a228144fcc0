import type { AlarmCondition } from "../lib/alarm/alarm-condition.js";
import { silenceDelay_s } from "../lib/control/first-word.js";
import { subjectsOfSensor } from "./alarm-subjects.js";
import { refusedSince, type SensorView } from "./sensor-inbox.js";
import type { SiteModel } from "./site-model.js";

/** A supply reading that pauses holds no gas off, so nobody need hear of a short pause. A judgement. */
const silentOnDelay_s = 600;

/** A vessel whose pressure sensor has fallen silent, or says what cannot be: no valve closes for it, and its rating is unwatched. */
export function silentPressureConditions(
  sensors: readonly SensorView[],
  model: SiteModel,
  brokerAlarmId: string,
): readonly AlarmCondition[] {
  return [...model.vessels].flatMap(([vesselId, { pressureSensor }]): readonly AlarmCondition[] => {
    const view = sensors.find(({ sensorId }) => sensorId === pressureSensor);
    if (view === undefined || view.freshness.kind === "fresh" || view.isAwaitedAgain === true) return [];
    const refused = refusedSince(view);
    const why = refused === undefined ? "" : ` (last rejected: ${refused.reason}, ${refused.detail})`;
    return [
      {
        alarmId: `pressure-silent/${vesselId}`,
        priority: "medium",
        subjects: subjectsOfSensor(model, view.sensorId),
        cause: `sensor ${view.sensorId} of vessel ${vesselId} gives no believable pressure${why}`,
        consequence:
          "A pressure above the vessel's rating, and the end of its charge, are not seen. Gas flows on all the same, and what is left grows less sure each day.",
        whatToDo:
          "Look at the sensor, its power, its wire and its unit in the config. Until then read the gauge on the vessel and enter it: journal gauge.",
        allowableResponse_min: 1440,
        onDelay_s: Math.max(silentOnDelay_s, silenceDelay_s(view.firstWord)),
        offDelay_s: 0,
        suppressedBy: [brokerAlarmId],
        latch: "none",
      },
    ];
  });
}
