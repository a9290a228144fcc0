import { isInRange } from "../lib/quantities/valid-range.js";
import { co2FromHardness, pHRange, temperatureRange, type TankCo2 } from "../lib/tank/co2-from-hardness.js";
import type { SensorInbox } from "./sensor-inbox.js";
import type { TankModel } from "./site-model.js";

export interface TankEstimate {
  readonly tankId: string;
  readonly pH: number | undefined;
  readonly temperature_degC: number | undefined;
  /** Undefined while the pH is not fresh, or where the formula does not hold. */
  readonly co2: TankCo2 | undefined;
}

/** Without a thermometer in the tank; 5 K beside it change the CO2 by about 7 %. */
const assumedTemperature_degC = 25;

export function estimateTank(tank: TankModel, inbox: SensorInbox, now_monotonicMs: number): TankEstimate {
  const pH = inbox.freshValue(tank.phSensorId, now_monotonicMs);
  const temperature_degC = inbox.freshValue(tank.temperatureSensorId, now_monotonicMs);
  const forFormula_degC = temperature_degC ?? assumedTemperature_degC;
  const computable =
    pH !== undefined && isInRange(pH, pHRange) && isInRange(forFormula_degC, temperatureRange);
  return {
    tankId: tank.tankId,
    pH,
    temperature_degC,
    co2: computable
      ? co2FromHardness({ pH, kh_dKH: tank.kh_dKH, temperature_degC: forFormula_degC })
      : undefined,
  };
}
