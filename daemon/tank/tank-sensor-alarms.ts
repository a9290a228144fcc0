import type { AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import { silenceDelay_s } from "../../lib/control/first-word.js";
import { subjectsOfSensor, subjectsOfTank } from "../alarm-subjects.js";
import { refusedSince, type SensorView } from "../sensor-inbox.js";
import type { SiteModel, TankModel } from "../site-model.js";
import type { TankEstimate } from "./estimated-tank.js";

/** Methods part for minutes while gas or water moves; what lasts half an hour is a wrong value. Judgement. */
const disagreeOnDelay_s = 1800;
const day_min = 1440;

/** What makes a tank's estimate doubtful, or leaves one of its limits unwatched. */
export function tankSensorConditions(
  tanks: readonly TankEstimate[],
  sensors: readonly SensorView[],
  model: SiteModel,
  brokerAlarmId: string,
): readonly AlarmCondition[] {
  const conditions = [
    ...tanks.flatMap((tank) => [...faultOf(tank, model), ...disagreementOf(tank, model)]),
    ...tanks.flatMap((tank) => probeConditions(tank, model)),
    ...silentSensors(sensors, model, brokerAlarmId),
  ];
  // Two tanks may share a sensor.
  return conditions.filter(
    ({ alarmId }, index) => conditions.findIndex((other) => other.alarmId === alarmId) === index,
  );
}

const plain = { onDelay_s: 0, offDelay_s: 0, suppressedBy: [], latch: "none" } as const;

function faultOf({ tankId, fault }: TankEstimate, model: SiteModel): readonly AlarmCondition[] {
  if (fault === undefined) return [];
  return [
    {
      ...plain,
      alarmId: `tank-not-judged/${tankId}`,
      priority: "high",
      subjects: subjectsOfTank(model, tankId),
      cause: `nothing can be said of tank ${tankId}: ${fault}`,
      consequence: "Nothing watches its CO2. Its valves are closed; the other tanks go on.",
      whatToDo: "Gas is held off. Look at the fish and at the pH probe; restart, and report it.",
      allowableResponse_min: 60,
      offDelay_s: 60,
    },
  ];
}

function disagreementOf({ tankId, agreement }: TankEstimate, model: SiteModel): readonly AlarmCondition[] {
  if (agreement?.kind !== "methods disagree") return [];
  return [
    {
      ...plain,
      alarmId: `methods-disagree/${tankId}`,
      priority: "low",
      subjects: subjectsOfTank(model, tankId),
      cause: `tank ${tankId}: ${agreement.advice.why}`,
      consequence: "One of the methods is wrong: the CO2 may be another than is told, and alarms come early.",
      whatToDo: `${agreement.advice.whatToDo} Withdraw an entry that was a slip.`,
      allowableResponse_min: day_min,
      onDelay_s: disagreeOnDelay_s,
      offDelay_s: 600,
    },
  ];
}

function probeConditions({ tankId, probe }: TankEstimate, model: SiteModel): readonly AlarmCondition[] {
  const sensorId = model.tanks.get(tankId)?.phSensorId;
  if (probe === undefined || sensorId === undefined) return [];
  const { verdict } = probe;
  const subjects = subjectsOfSensor(model, sensorId);
  const why = probe.remarks.join(" ");
  const conditions: AlarmCondition[] = [];
  if (verdict === "clean" || verdict === "replace") {
    conditions.push({
      ...plain,
      alarmId: `probe/${sensorId}`,
      priority: "medium",
      subjects,
      cause: `pH probe ${sensorId} ${verdict === "clean" ? "needs cleaning" : "is worn out"}: ${why}`,
      consequence: "The pH may be off, and with it the CO2 by which the valve is closed.",
      whatToDo:
        verdict === "clean"
          ? "Clean the probe and calibrate it in two fresh buffers, best 7 and 4. Watch the fish."
          : "Replace the probe and calibrate the new one in two buffers, best 7 and 4. Watch the fish.",
      allowableResponse_min: 2 * day_min,
    });
  }
  // Of a probe that was never calibrated here its status tells; it has no day on which it was due.
  if (probe.calibrationIsDue && probe.calibratedAt_epochMs !== undefined) {
    conditions.push({
      ...plain,
      alarmId: `calibration-due/${sensorId}`,
      priority: "low",
      subjects,
      cause: `calibration of pH probe ${sensorId} is due: it may be off by +-${probe.phSigma.toFixed(2)} pH`,
      consequence: "The CO2 is known less and less, and the valve closes the earlier for it.",
      whatToDo: "Calibrate it in two buffers, best 7 and 4, and enter what it showed.",
      allowableResponse_min: 7 * day_min,
    });
  }
  return conditions;
}

type TankSensor = "phSensorId" | "temperatureSensorId" | "roomCo2SensorId";
const unwatched: Readonly<Record<TankSensor, { readonly limit: string; readonly consequence: string }>> = {
  temperatureSensorId: {
    limit: "the temperature limit cannot be watched",
    consequence:
      "A tank that gets too warm is not seen: warm water holds less oxygen, and gas flows on all the same.",
  },
  phSensorId: {
    limit: "neither CO2 nor the pH floor can be watched",
    consequence: "Too much CO2 is not seen.",
  },
  roomCo2SensorId: {
    limit: "the room's air is not known",
    consequence:
      "CO2 that gathers in the room is not seen, and a degassed pH that is entered now is worth less.",
  },
};

/** Sensors of tanks that nothing else watches: a guard's silence has its own alarm. */
function silentSensors(
  sensors: readonly SensorView[],
  model: SiteModel,
  brokerAlarmId: string,
): readonly AlarmCondition[] {
  const guards = new Set([...model.valves.values()].flatMap(({ rules }) => rules.guardSensorIds));
  const silent = (tank: TankModel, role: TankSensor): readonly AlarmCondition[] => {
    const sensorId = tank[role];
    if (sensorId === undefined || guards.has(sensorId)) return [];
    const view = sensors.find((candidate) => candidate.sensorId === sensorId);
    if (view === undefined || view.freshness.kind === "fresh" || view.isAwaitedAgain === true) return [];
    const lastRejected = refusedSince(view);
    const rejected =
      lastRejected === undefined ? "" : ` (last rejected: ${lastRejected.reason}, ${lastRejected.detail})`;
    return [
      {
        ...plain,
        alarmId: `tank-sensor/${sensorId}`,
        priority: "medium",
        subjects: subjectsOfSensor(model, sensorId),
        cause: `sensor ${sensorId} of tank ${tank.tankId} gives no believable value${rejected}: ${unwatched[role].limit}`,
        consequence: unwatched[role].consequence,
        whatToDo:
          "Look at the sensor, its power and the unit in which it speaks. Watch the tank by hand until then.",
        allowableResponse_min: 240,
        onDelay_s: silenceDelay_s(view.firstWord),
        suppressedBy: [brokerAlarmId],
      },
    ];
  };
  return [...model.tanks.values()].flatMap((tank) =>
    (["temperatureSensorId", "phSensorId", "roomCo2SensorId"] as const).flatMap((role) => silent(tank, role)),
  );
}
