import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { absoluteFromGauge_bar } from "../quantities/units.js";
import { modelBicarbonateError_ratio, modelPressureError_ratio } from "../vessel/charge-equilibrium.js";
import { depletionCurve, type DepletionCurve } from "../vessel/depletion.js";
import { chargeOf, type Bounded, type PlanSetting, type TankUse } from "./plan-request.js";

/** Where the CO2 of the charge goes, by mass. */
export interface Delivery {
  /** CO2 that the acid can set free. */
  readonly co2Available_g: number;
  /** What leaves before the pressure is down to the least inlet pressure. */
  readonly deliverable_g: Bounded;
  /** What is then still in the vessel, and in which form. */
  readonly unusable: {
    readonly co2_g: number;
    readonly share_ratio: number;
    readonly gas_g: number;
    readonly dissolved_g: number;
    readonly bicarbonate_g: number;
  };
}

const g = (amount_mol: number): number => amount_mol * molarMass_gPerMol.co2;

function remaining_mol(curve: DepletionCurve, pressureAbsolute_bar: number): number {
  const answer = curve.remainingAt(pressureAbsolute_bar);
  if (answer.kind === "above-full") return curve.co2Available_mol;
  return answer.kind === "spent" ? 0 : answer.co2Remaining_mol;
}

function curveOf(setting: PlanSetting, sodiumBicarbonate_g: number, error: -1 | 0 | 1): DepletionCurve {
  return depletionCurve(chargeOf(setting, sodiumBicarbonate_g, error), {
    temperature_degC: setting.room_degC,
    withdrawal: "headspace",
  });
}

/** CO2 above the regulator's least inlet pressure at room temperature, g, without its bounds. */
export function deliverable_g(setting: PlanSetting, sodiumBicarbonate_g: number): number {
  const curve = curveOf(setting, sodiumBicarbonate_g, 0);
  const kept_mol = remaining_mol(curve, absoluteFromGauge_bar(setting.vessel.leastInletGauge_bar));
  return g(curve.co2Available_mol - kept_mol);
}

/**
 * What a charge delivers through the regulator at room temperature, and what it keeps. The bounds combine, as independent,
 * the model's 4 % on the pressure at which the regulator stops, 25 % on the bicarbonate held back then, and the weighing.
 * Leaks and what is blown off are not in it.
 * @throws OutOfValidRangeError, NoConvergenceError as depletionCurve
 * @see [JCGM100] section 5.1
 */
export function delivery(setting: PlanSetting, sodiumBicarbonate_g: number): Delivery {
  const least_bar = absoluteFromGauge_bar(setting.vessel.leastInletGauge_bar);
  const curve = curveOf(setting, sodiumBicarbonate_g, 0);
  const kept_mol = remaining_mol(curve, least_bar);
  const atEnd = curve.afterRemoving(curve.co2Available_mol - kept_mol);
  const value = curve.co2Available_mol - kept_mol;

  // A charge that never reaches the regulator's limit delivers nothing, however much is held back.
  const held_mol = value > 0 ? modelBicarbonateError_ratio * Math.min(kept_mol, atEnd.bicarbonate_mol) : 0;
  const moreKept_mol = remaining_mol(curve, least_bar / (1 - modelPressureError_ratio)) - kept_mol;
  const lessKept_mol = kept_mol - remaining_mol(curve, least_bar / (1 + modelPressureError_ratio));
  const weighed = (error: -1 | 1): number => {
    const other = curveOf(setting, sodiumBicarbonate_g, error);
    return other.co2Available_mol - remaining_mol(other, least_bar) - value;
  };
  const down_mol = Math.hypot(moreKept_mol, held_mol, Math.min(0, weighed(-1)));
  const up_mol = Math.hypot(lessKept_mol, held_mol, Math.max(0, weighed(1)));
  // Bicarbonate that the acid does not reach is no CO2 that could be had.
  const beyondAcid_mol = atEnd.carbon_mol - kept_mol;
  return {
    co2Available_g: g(curve.co2Available_mol),
    deliverable_g: {
      value: g(value),
      low: g(Math.max(0, value - down_mol)),
      high: g(Math.min(curve.co2Available_mol, value + up_mol)),
    },
    unusable: {
      co2_g: g(kept_mol),
      share_ratio: curve.co2Available_mol > 0 ? kept_mol / curve.co2Available_mol : 0,
      gas_g: g(atEnd.co2Gas_mol),
      dissolved_g: g(atEnd.co2Dissolved_mol),
      bicarbonate_g: g(
        Math.max(
          0,
          atEnd.bicarbonate_mol + atEnd.solidBicarbonate_mol + atEnd.carbonate_mol - beyondAcid_mol,
        ),
      ),
    },
  };
}

/** Use of all tanks on the vessel, g/day. Their errors are taken as independent. [JCGM100] */
export function totalUse_gPerDay(use: readonly TankUse[]): Bounded | undefined {
  const value = use.reduce((sum, { co2_gPerDay }) => sum + co2_gPerDay.value, 0);
  if (!(value > 0)) return undefined;
  const down = Math.hypot(...use.map(({ co2_gPerDay }) => co2_gPerDay.value - co2_gPerDay.low));
  const up = Math.hypot(...use.map(({ co2_gPerDay }) => co2_gPerDay.high - co2_gPerDay.value));
  return { value, low: value - down, high: value + up };
}

/**
 * Days that an amount lasts at a daily use, with 95 % bounds; the two errors as independent. The upper bound is Infinity
 * where the use may be nothing.
 * @see [JCGM100] section 5.1
 */
export function daysOf(amount_g: Bounded, use_gPerDay: Bounded): Bounded {
  const value = amount_g.value / use_gPerDay.value;
  const down = Math.hypot(
    value - amount_g.low / use_gPerDay.value,
    value - amount_g.value / use_gPerDay.high,
  );
  const up = Math.hypot(amount_g.high / use_gPerDay.value - value, amount_g.value / use_gPerDay.low - value);
  return { value, low: Math.max(0, value - down), high: value + up };
}
