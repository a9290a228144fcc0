import type { GuardView, TankView } from "../lib/control/interlock.js";
import type { FreshnessInstant } from "../lib/readings/sensor-freshness.js";
import { refusedSince, type SensorInbox } from "./sensor-inbox.js";
import type { SiteModel, ValveModel } from "./site-model.js";
import type { TankEstimate } from "./tank/estimated-tank.js";
import { stuckValveReason } from "./tank/learning-alarms.js";
import type { LearntTankStatus } from "./tank/learnt-tank-status.js";

/** The guard sensors of a valve, as the interlock sees them. */
export function guardsOf(
  { rules }: Pick<ValveModel, "rules">,
  inbox: Pick<SensorInbox, "view">,
  now: FreshnessInstant,
): readonly GuardView[] {
  return rules.guardSensorIds.map((sensorId) => {
    const view = inbox.view(sensorId, now);
    const rejected = refusedSince(view);
    const lastRejection = rejected === undefined ? undefined : `${rejected.reason}, ${rejected.detail}`;
    const state = view?.freshness ?? { kind: "never" as const };
    return { sensorId, state: state.kind === "fresh" ? state : { ...state, lastRejection } };
  });
}

/** The tanks that a valve feeds, as the interlock sees them. */
export function tanksOf(
  { rules }: Pick<ValveModel, "rules">,
  { tanks }: Pick<SiteModel, "tanks">,
  estimates: readonly TankEstimate[],
  learnt: readonly LearntTankStatus[],
): readonly TankView[] {
  return rules.tankIds.flatMap((tankId): readonly TankView[] => {
    const lesson = learnt.find((candidate) => candidate.tankId === tankId);
    const tank = tanks.get(tankId);
    const estimate = estimates.find((candidate) => candidate.tankId === tankId);
    if (tank === undefined || estimate === undefined) return [];
    return [
      {
        tankId,
        limits: tank.limits,
        pH: estimate.pHForFloor,
        temperature_degC: estimate.temperature_degC,
        co2High80_mgPerL: estimate.co2?.co2High80_mgPerL,
        widthReason: estimate.widthReason,
        fault: estimate.fault,
        co2RisesTooFast: estimate.risesTooFast,
        gasDidNotStop: lesson === undefined ? undefined : stuckValveReason(lesson),
        hasPHSensor: tank.phSensorId !== undefined,
        hasTemperatureSensor: tank.temperatureSensorId !== undefined,
      },
    ];
  });
}
