import { OutOfValidRangeError } from "../lib/errors.js";
import { co2FromHardness, type HardnessReading, type TankCo2 } from "../lib/tank/co2-from-hardness.js";
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
  return {
    tankId: tank.tankId,
    pH,
    temperature_degC,
    co2:
      pH === undefined
        ? undefined
        : co2WhereTheFormulaHolds({
            pH,
            kh_dKH: tank.kh_dKH,
            temperature_degC: temperature_degC ?? assumedTemperature_degC,
          }),
  };
}

/** A value that a sensor may show and the formula does not cover must not break the pass. */
function co2WhereTheFormulaHolds(reading: HardnessReading): TankCo2 | undefined {
  try {
    return co2FromHardness(reading);
  } catch (error) {
    if (error instanceof OutOfValidRangeError) return undefined;
    throw error;
  }
}
