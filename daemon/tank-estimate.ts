import { OutOfValidRangeError } from "../lib/errors.js";
import { co2FromHardness, type HardnessReading, type TankCo2 } from "../lib/tank/co2-from-hardness.js";
import type { JournalView } from "../lib/journal/journal-entry.js";
import type { FreshnessInstant } from "../lib/readings/sensor-freshness.js";
import type { SensorInbox } from "./sensor-inbox.js";
import type { TankModel } from "./site-model.js";

/** The carbonate hardness that the estimate is made with, and where it comes from. */
export interface HardnessInUse {
  readonly kh_dKH: number;
  /** "config": no test stands in the journal yet. */
  readonly from: "KH test" | "config";
  readonly khUncertainty_dKH: number | undefined;
  readonly testedAt_epochMs: number | undefined;
}

export interface TankEstimate {
  readonly tankId: string;
  readonly hardness: HardnessInUse;
  readonly pH: number | undefined;
  readonly temperature_degC: number | undefined;
  /** Undefined while the pH is not fresh, or where the formula does not hold. */
  readonly co2: TankCo2 | undefined;
}

/** Without a thermometer in the tank; 5 K beside it change the CO2 by about 7 %. */
const assumedTemperature_degC = 25;

/** The newest KH test wins; the config's value is only what a tank begins with. */
export function hardnessOf(tank: TankModel, journal: Pick<JournalView, "latest">): HardnessInUse {
  const test = journal.latest("kh test", tank.tankId);
  return {
    kh_dKH: test?.fact.kh_dKH ?? tank.kh_dKH,
    from: test === undefined ? "config" : "KH test",
    khUncertainty_dKH: test?.fact.khUncertainty_dKH,
    testedAt_epochMs: test?.at_epochMs,
  };
}

export function estimateTank(
  tank: TankModel,
  inbox: SensorInbox,
  hardness: HardnessInUse,
  now: FreshnessInstant,
): TankEstimate {
  const pH = inbox.freshValue(tank.phSensorId, now);
  const temperature_degC = inbox.freshValue(tank.temperatureSensorId, now);
  const { kh_dKH, khUncertainty_dKH } = hardness;
  return {
    tankId: tank.tankId,
    hardness,
    pH,
    temperature_degC,
    co2:
      pH === undefined
        ? undefined
        : co2WhereTheFormulaHolds({
            pH,
            kh_dKH,
            ...(khUncertainty_dKH === undefined ? {} : { khUncertainty_dKH }),
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
