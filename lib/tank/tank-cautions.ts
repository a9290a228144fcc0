import { bothWays, type ToldBothWays } from "../told/plain-text.js";
import { celsius, said } from "../told/said.js";
import type { Co2Limits } from "./co2-bands.js";

export interface TankMoment {
  /** Central value; undefined while not known. */
  readonly co2_mgPerL: number | undefined;
  readonly limits: Co2Limits;
  readonly lightsAreOn: boolean;
  /** Undefined where no lights are planned within a day. */
  readonly untilLightsOn_h: number | undefined;
  /** Since the lights went off; undefined while they are on or that is not known. */
  readonly sinceLightsOff_h: number | undefined;
  readonly temperature_degC: number | undefined;
  readonly keepsShrimp: boolean;
  readonly keepsFry: boolean;
}

export type TankCautionKind =
  "shrimp or fry" | "oxygen low before dawn" | "warm water holds less oxygen" | "lights off and CO2 high";

export interface TankCaution extends ToldBothWays {
  readonly kind: TankCautionKind;
  /** A lower alarm limit, offered to the person; never set by itself. */
  readonly suggestedAlarm_mgPerL?: number;
}

/** With shrimp or fry: the upper end of the usual target. Judgement; no published limit for dwarf shrimp was found. */
const gentleAlarm_mgPerL = 30;
/** Plants and fish breathe all night and nothing gives oxygen back: it is least in the last hours. Common practice, no source. */
const beforeDawn_h = 3;
/** Air-saturated fresh water holds 8.3 mg/L of oxygen at 25 degC, 7.8 at 28 and 7.6 at 30. From memory. */
const warm_degC = 28;
/** Gas closes before the lights go off, and two hours later CO2 should have left the target. Judgement. */
const settled_h = 2;

/**
 * Cautions for the animals of a tank at this moment; they move no valve. CO2 is told with oxygen, since fish bear less of the one
 * where the other is short.
 */
export function tankCautions(moment: TankMoment): readonly TankCaution[] {
  const { co2_mgPerL, limits, temperature_degC } = moment;
  const cautions: TankCaution[] = [];
  const aboveTarget = co2_mgPerL !== undefined && co2_mgPerL > limits.co2TargetHigh_mgPerL;
  if ((moment.keepsShrimp || moment.keepsFry) && limits.co2Alarm_mgPerL > gentleAlarm_mgPerL) {
    const who = moment.keepsShrimp ? (moment.keepsFry ? "Shrimp and fry" : "Shrimp") : "Fry";
    cautions.push({
      kind: "shrimp or fry",
      text: `${who} in the tank: no published CO2 limit for them was found. An alarm at ${String(gentleAlarm_mgPerL)} mg/L instead of ${String(limits.co2Alarm_mgPerL)} leaves more room; raise CO2 slowly, over days.`,
      suggestedAlarm_mgPerL: gentleAlarm_mgPerL,
    });
  }
  const isBeforeDawn =
    !moment.lightsAreOn && moment.untilLightsOn_h !== undefined && moment.untilLightsOn_h <= beforeDawn_h;
  if (isBeforeDawn && aboveTarget) {
    cautions.push({
      kind: "oxygen low before dawn",
      text: "CO2 is above the target while oxygen is at its lowest, before the lights come on. Move the surface or run an air stone now, and look at the fish.",
    });
  }
  if (aboveTarget && temperature_degC !== undefined && temperature_degC >= warm_degC) {
    cautions.push({
      kind: "warm water holds less oxygen",
      ...bothWays(
        said`The water has ${celsius(temperature_degC, 0)} and holds less oxygen, and fish need more of it: with CO2 above the target, aerate.`,
      ),
    });
  }
  const isSettled = moment.sinceLightsOff_h !== undefined && moment.sinceLightsOff_h >= settled_h;
  if (!moment.lightsAreOn && isSettled && aboveTarget) {
    cautions.push({
      kind: "lights off and CO2 high",
      text: "The lights are off and CO2 is still above the target. Gas should be shut: look whether the bubble counter stands still, and if not, shut the vessel by hand and aerate.",
    });
  }
  return cautions;
}
