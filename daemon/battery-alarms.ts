import type { AlarmCondition } from "../lib/alarm/alarm-condition.js";
import { subjectsOfSensor } from "./alarm-subjects.js";
import type { BatteryView } from "./sensor-batteries.js";
import type { SiteModel } from "./site-model.js";
import type { SiteStatus } from "./site-status.js";

/** "9 %" or "2.61 V". */
export function batteryText({ value, unit }: Pick<BatteryView, "value" | "unit">): string {
  return unit === "percent" ? `${Number(value.toFixed(0))} %` : `${Number(value.toFixed(2))} V`;
}

/** Batteries of sensors that are nearly empty. */
export function batteryConditions(
  { sensors }: Pick<SiteStatus, "sensors">,
  model: SiteModel,
): readonly AlarmCondition[] {
  const guards = new Set([...model.valves.values()].flatMap(({ rules }) => rules.guardSensorIds));
  return sensors.flatMap(({ sensorId, battery }) => {
    if (battery?.isLow !== true) return [];
    const limit = batteryText({ ...battery, value: battery.low });
    return [
      {
        alarmId: `battery/${sensorId}`,
        priority: "low",
        subjects: subjectsOfSensor(model, sensorId),
        cause: `the battery of sensor ${sensorId} is low: ${batteryText(battery)}, the limit is ${limit}`,
        consequence: guards.has(sensorId)
          ? "Once it is empty the sensor is silent, and gas is held off until it speaks again."
          : "Once it is empty the sensor is silent.",
        whatToDo: "Replace or charge the battery, and look that the sensor speaks again.",
        allowableResponse_min: 7 * 1440,
        onDelay_s: 0,
        offDelay_s: 0,
        suppressedBy: [],
        latch: "none",
      },
    ];
  });
}
