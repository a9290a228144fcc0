import type { LearningWater } from "./tank-learning-job.js";
import type { WaterNow } from "./tank-learning-knowledge.js";
import type { Aeration, TankLearning } from "./tank-learning-state.js";

/** What one minute shows of a tank. */
export interface LearningMinute {
  readonly now_epochMs: number;
  /** Undefined while it is not fresh. */
  readonly pH: number | undefined;
  readonly temperature_degC: number | undefined;
  /** How the pH is corrected: another text as soon as another calibration counts. */
  readonly correction: string;
  readonly water: LearningWater;
  /** The tank's estimate by all that is known; undefined while it is not known. */
  readonly estimate: { readonly co2_mgPerL: number; readonly co2Sigma_ln: number } | undefined;
  /** Of the valve that feeds the tank, as its relays report. */
  readonly gas: "on" | "confirmed off" | "not known";
  readonly lightsAreOn: boolean;
  /** Undefined where none are planned within a day, or none were on. */
  readonly lightsOn_epochMs: number | undefined;
  readonly lightsOff_epochMs: number | undefined;
  /** When gas is due next. */
  readonly opens_epochMs: number | undefined;
  readonly aeration: Aeration | "not known";
  readonly waterChanges_epochMs: readonly number[];
  readonly limits: { readonly co2TargetLow_mgPerL: number; readonly co2Alarm_mgPerL: number };
}

export function waterNow(state: TankLearning, minute: LearningMinute): WaterNow {
  const latest = state.samples.at(-1)?.[2];
  return { kh_dKH: minute.water.kh_dKH, temperature_degC: minute.temperature_degC ?? latest ?? null };
}
