import { pHFromCarbonDioxide } from "../chemistry/carbonate-speciation.js";
import type { DropCheckerColour } from "../journal/journal-entry.js";
import { alkalinityFromKh_meqPerL } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";
import {
  dropCheckerColourAt,
  dropCheckerSwatch,
  indicatorPka,
  swatchCaution,
  type Swatch,
} from "./drop-checker-colour.js";

/** A drop checker: an indicator in water of known hardness, under a bell of air in the tank. */
export interface DropChecker {
  /** Hardness of its liquid, 0.5 to 20 dKH; 4 where nothing is said. */
  readonly referenceKh_dKH?: number;
  /** How slowly its liquid follows the tank, 0.5 to 6 h; 1.5 where nothing is said. */
  readonly timeConstant_h?: number;
}

/** What the virtual drop checker remembers. */
export interface DropCheckerState {
  readonly liquidCo2_mgPerL: number;
}

export interface DropCheckerView {
  readonly pH: number;
  readonly colour: DropCheckerColour;
  readonly swatch: Swatch;
  readonly swatchCaution: string;
}

export const dropCheckerDefaults = { referenceKh_dKH: 4, timeConstant_h: 1.5 } as const;

const referenceKhRange = { quantity: "hardness of the drop checker", unit: "dKH", minimum: 0.5, maximum: 20 };
const timeConstantRange = {
  quantity: "time constant of the drop checker",
  unit: "h",
  minimum: 0.5,
  maximum: 6,
};
const fillRange = { quantity: "fill depth of the drop checker", unit: "cm", minimum: 0.29, maximum: 1 };
const co2Range = { quantity: "CO2", unit: "mg/L", minimum: 0, maximum: 1000 };
const durationRange = { quantity: "duration", unit: "h", minimum: 0, maximum: 1e6 };
/** Below this the liquid is as blue as it gets, and pH runs away. */
const leastCo2_mgPerL = 0.05;
/** Diffusion of CO2 in still water at 25 degC. From memory. [CRC2016] */
const diffusion_cm2PerS = 1.92e-5;

/**
 * Time constant of a drop checker by the depth of its liquid, h: diffusion from one side into still liquid, the slowest mode,
 * 4 d^2 / (pi^2 D). 0.3 cm: 0.5 h; 0.5 cm: 1.5 h; 1 cm: 5.9 h, less where the liquid stirs by itself. The gap of air is crossed
 * in minutes and does not count. Fill thinly.
 * @param depth_cm  0.29 to 1
 * @throws OutOfValidRangeError outside that range
 * @see [Crank1975] section 4.3, plane sheet
 */
export function timeConstantFromDepth_h(depth_cm: number): number {
  assertInRange(depth_cm, fillRange);
  return (4 * depth_cm * depth_cm) / (Math.PI * Math.PI * diffusion_cm2PerS) / 3600;
}

/**
 * The liquid's CO2 after some time under a tank whose CO2 stood still: a first-order lag, exact for any step.
 * @param step.tankCo2_mgPerL  0 to 1000
 * @throws OutOfValidRangeError outside the ranges
 * @see [Crank1975] for the lag
 */
export function advanceDropChecker(
  checker: DropChecker,
  state: DropCheckerState,
  step: { readonly tankCo2_mgPerL: number; readonly duration_h: number },
): DropCheckerState {
  const timeConstant_h = checker.timeConstant_h ?? dropCheckerDefaults.timeConstant_h;
  assertInRange(timeConstant_h, timeConstantRange);
  assertInRange(step.tankCo2_mgPerL, co2Range);
  assertInRange(step.duration_h, durationRange);
  assertInRange(state.liquidCo2_mgPerL, co2Range);
  const behind_mgPerL = state.liquidCo2_mgPerL - step.tankCo2_mgPerL;
  const left_mgPerL = behind_mgPerL * Math.exp(-step.duration_h / timeConstant_h);
  return { liquidCo2_mgPerL: step.tankCo2_mgPerL + left_mgPerL };
}

/**
 * pH of a drop checker's liquid from its CO2: pure bicarbonate water, so its ionic strength is its own alkalinity.
 * @throws OutOfValidRangeError for a hardness outside 0.5 to 20 dKH, CO2 outside 0 to 1000 mg/L
 * @see [PlummerBusenberg1982], [Davies1962]
 */
export function dropCheckerPh(
  checker: DropChecker,
  liquid: DropCheckerState & { readonly temperature_degC: number },
): number {
  assertInRange(liquid.liquidCo2_mgPerL, co2Range);
  return pHFromCarbonDioxide({
    ...referenceWater(checker, liquid.temperature_degC),
    co2_mgPerL: Math.max(liquid.liquidCo2_mgPerL, leastCo2_mgPerL),
  });
}

/**
 * What a person would see now: the liquid's pH, its colour in trade words, and a patch for a screen with its caution.
 * @throws OutOfValidRangeError as dropCheckerPh
 * @see [PlummerBusenberg1982], [HorobinKiernan2002]
 */
export function dropCheckerView(
  checker: DropChecker,
  liquid: DropCheckerState & { readonly temperature_degC: number },
): DropCheckerView {
  const pH = dropCheckerPh(checker, liquid);
  return {
    pH,
    colour: dropCheckerColourAt(pH, indicatorPka.value),
    swatch: dropCheckerSwatch(pH, indicatorPka.value),
    swatchCaution,
  };
}

/** The liquid as water of the carbonate system. */
export function referenceWater(
  checker: DropChecker,
  temperature_degC: number,
): {
  readonly alkalinity_meqPerL: number;
  readonly ionicStrength_molPerL: number;
  readonly temperature_degC: number;
} {
  const referenceKh_dKH = checker.referenceKh_dKH ?? dropCheckerDefaults.referenceKh_dKH;
  assertInRange(referenceKh_dKH, referenceKhRange);
  const alkalinity_meqPerL = alkalinityFromKh_meqPerL(referenceKh_dKH);
  return { alkalinity_meqPerL, ionicStrength_molPerL: alkalinity_meqPerL / 1000, temperature_degC };
}
