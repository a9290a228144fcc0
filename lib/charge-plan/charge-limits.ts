import { ionicStrengthRange } from "../chemistry/specific-ion.js";
import { OutOfValidRangeError } from "../errors.js";
import { absoluteFromGauge_bar, gaugeFromAbsolute_bar } from "../quantities/units.js";
import { chargeEquilibrium, modelPressureError_ratio } from "../vessel/charge-equilibrium.js";
import { sealedGasSpace_L, vesselInventory, type Charge } from "../vessel/charge.js";
import { plainText } from "../told/plain-text.js";
import { bar, celsius, said, type Said } from "../told/said.js";
import { fullConversion } from "./full-conversion.js";
import {
  chargeOf,
  fillingWords,
  mostBicarbonate_g,
  overweighedCharges,
  planDefaults,
  type PlanSetting,
  type Weighing,
} from "./plan-request.js";

/** What keeps a charge from being planned. */
export type PlanLimit =
  | "rated-pressure"
  | "relief-opening-pressure"
  | "gas-space"
  | "model-range"
  | "neck-width"
  | "pressure-not-stated"
  | "use-not-stated";

export interface Breach {
  readonly limit: PlanLimit;
  readonly reason: string;
  /** The same with its quantities as such; left out where it has none. */
  readonly said?: Said;
}

/** A limit that is broken, and by what. */
export function breachBy(limit: PlanLimit, reason: Said): Breach & { readonly said: Said } {
  return { limit, reason: plainText(reason), said: reason };
}

/** What is said of it, to go on from. */
export function saidOfBreach({ reason, said: withQuantities }: Breach): Said {
  return withQuantities ?? [reason];
}

/** A vessel whose two pressures were stated. */
export interface StatedPressures {
  readonly ratedPressureGauge_bar: number;
  readonly reliefOpeningGauge_bar: number;
}

/** The upper 95 % pressure on the hottest day stays at or below this share of the lower of the two pressures. */
export const pressureShare_ratio = 0.9;
/** The gas space is never less than this share of the vessel. */
export const gasSpaceShare_ratio = 0.3;
/** Above it neither solubility nor equilibrium was held against anything outside. */
export const highestModelPressureAbsolute_bar = 40;

export function highestAllowedGauge_bar(pressures: StatedPressures): number {
  return pressureShare_ratio * Math.min(pressures.ratedPressureGauge_bar, pressures.reliefOpeningGauge_bar);
}

/**
 * The pressure that a charge stays below with 95 % confidence, bar gauge: every weighing off to the high side, the worse of
 * equilibrium and full conversion, and 4 % of the absolute pressure for the model. The two errors are added, not combined
 * in quadrature: neither is new with each charge. 0 to 45 degC. Infinity when the CO2 does not fit in as a gas.
 * @throws OutOfValidRangeError, NoConvergenceError as chargeEquilibrium
 * @see [Grenthe1997], [SpanWagner1996]
 */
export function upperPressureGauge_bar(overweighed: Charge, temperature_degC: number): number {
  const full_bar = fullConversion(vesselInventory(overweighed), temperature_degC).pressureGauge_bar;
  if (!Number.isFinite(full_bar)) return full_bar;
  const held_bar = chargeEquilibrium(overweighed, temperature_degC).pressureGauge_bar;
  return withModelError_bar(Math.max(full_bar, held_bar), 1);
}

/** A gauge pressure with the model's error on the absolute one added or taken off. */
export function withModelError_bar(pressureGauge_bar: number, sign: 1 | -1): number {
  return gaugeFromAbsolute_bar(
    absoluteFromGauge_bar(pressureGauge_bar) * (1 + sign * modelPressureError_ratio),
  );
}

/**
 * The first limit that a charge breaks, or undefined when it keeps all of them: gas space, the range of the model, and the
 * upper pressure on the hottest day. Weighing errors count to the unsafe side.
 * @throws OutOfValidRangeError, NoConvergenceError as chargeEquilibrium
 */
export function breachOf(
  setting: PlanSetting,
  pressures: StatedPressures,
  sodiumBicarbonate_g: number,
): Breach | undefined {
  return breachOfCharge(chargeOf(setting, sodiumBicarbonate_g), pressures, setting);
}

/**
 * The same for a charge as it was weighed, each weighing with its error to the unsafe side.
 * @param day.hottest_degC 0 to 45 degC; left out: 40
 * @throws OutOfValidRangeError, NoConvergenceError as chargeEquilibrium
 */
export function breachOfCharge(
  charge: Charge,
  pressures: StatedPressures,
  day: { readonly hottest_degC?: number; readonly weighing?: Weighing } = {},
): Breach | undefined {
  const hottest_degC = day.hottest_degC ?? planDefaults.hottest_degC;
  for (const overweighed of overweighedCharges(charge, day.weighing ?? planDefaults.weighing)) {
    const breach = breachOfWeighed(overweighed, pressures, hottest_degC);
    if (breach !== undefined) return breach;
  }
  return undefined;
}

function breachOfWeighed(
  charge: Charge,
  pressures: StatedPressures,
  hottest_degC: number,
): Breach | undefined {
  const least_L = gasSpaceShare_ratio * charge.vesselVolume_L;
  const tooFull = (gas_L: number): Breach => ({
    limit: "gas-space",
    reason:
      `powders and ${filledWith(charge)} leave ${((100 * gas_L) / charge.vesselVolume_L).toFixed(0)} % of the vessel to ` +
      `the gas; at least ${String(100 * gasSpaceShare_ratio)} % is needed`,
  });
  const sealed_L = gasSpaceOrNothing_L(charge);
  if (sealed_L < least_L) return tooFull(sealed_L);
  const tooStrong: Breach = {
    limit: "model-range",
    reason:
      "there is too little water for so much acid and salt: the model does not hold for so strong a liquor",
  };
  if (!isWaterEnough(charge)) return tooStrong;
  const full = fullConversion(vesselInventory(charge), hottest_degC);
  if (full.gasVolume_L < least_L) return tooFull(full.gasVolume_L);
  const breachAt = (upper_bar: number): Breach | undefined =>
    pressureBreach(upper_bar, pressures, hottest_degC);
  const overPressure = breachAt(withModelError_bar(full.pressureGauge_bar, 1));
  if (overPressure !== undefined) return overPressure;
  if (full.ionicStrength_molPerKg > ionicStrengthRange.maximum) return tooStrong;
  return breachAt(upperPressureGauge_bar(charge, hottest_degC));
}

function filledWith(charge: Charge): string {
  const isIced = (charge.ice_kg ?? 0) > 0;
  const kind = isIced ? (charge.water_kg > 0 ? "water-and-ice" : "ice") : "water";
  return `${charge.residualLiquor === undefined ? "" : "old liquor, "}${fillingWords[kind]}`;
}

/** Whether the upper pressure on the hottest day is more than is allowed, or more than the model answers for. */
export function pressureBreach(
  upper_bar: number,
  pressures: StatedPressures,
  hottest_degC: number,
): Breach | undefined {
  const { ratedPressureGauge_bar, reliefOpeningGauge_bar } = pressures;
  const day = said`on the hottest day (${celsius(hottest_degC)})`;
  const reachOf = (digits: number): Said =>
    Number.isFinite(upper_bar)
      ? said`the pressure may reach ${bar(upper_bar, digits)} ${day}`
      : said`so much CO2 does not stay a gas ${day}`;
  if (upper_bar > highestAllowedGauge_bar(pressures)) {
    const limit =
      ratedPressureGauge_bar <= reliefOpeningGauge_bar ? "rated-pressure" : "relief-opening-pressure";
    const name = limit === "rated-pressure" ? "rated pressure" : "pressure at which the relief device opens";
    const allowed_bar = highestAllowedGauge_bar(pressures);
    const digits = digitsApart(upper_bar, allowed_bar);
    return breachBy(
      limit,
      said`${reachOf(digits)}; allowed is ${bar(allowed_bar, digits)}, 90 % of the ${name}`,
    );
  }
  if (absoluteFromGauge_bar(upper_bar) > highestModelPressureAbsolute_bar) {
    return breachBy(
      "model-range",
      said`${reachOf(1)}; the model is good to ${bar(highestModelPressureAbsolute_bar)} absolute`,
    );
  }
  return undefined;
}

/** As many decimals as it takes to see that one pressure is above the other. */
function digitsApart(upper_bar: number, allowed_bar: number): number {
  const most = 4;
  let digits = 1;
  while (digits < most && upper_bar.toFixed(digits) === allowed_bar.toFixed(digits)) digits += 1;
  return digits;
}

function gasSpaceOrNothing_L(charge: Charge): number {
  try {
    return sealedGasSpace_L(charge);
  } catch (error) {
    if (error instanceof OutOfValidRangeError) return 0;
    throw error;
  }
}

function isWaterEnough(charge: Charge): boolean {
  try {
    vesselInventory(charge);
    return true;
  } catch (error) {
    if (error instanceof OutOfValidRangeError) return false;
    throw error;
  }
}

export type LargestCharge =
  | { readonly kind: "found"; readonly sodiumBicarbonate_g: number; readonly boundBy: Breach }
  /** Not even a gram fits. */
  | { readonly kind: "none"; readonly boundBy: Breach };

/** Less is no charge. */
export const leastBicarbonate_g = 1;
/** Searched to this share of the amount. */
const searchTolerance_ratio = 2e-5;

/** An amount that was found not to fit, and what it breaks. */
export interface TooMuch {
  readonly sodiumBicarbonate_g: number;
  readonly breach: Breach;
}

/**
 * The most bicarbonate that keeps every limit, by bisection, and the limit that a little more would break. Rounded down to
 * the 0.1 g that a plan prints.
 * @param tooMuch where to begin. Left out: as much as would fill the vessel.
 */
export function largestCharge(
  setting: PlanSetting,
  pressures: StatedPressures,
  tooMuch: TooMuch = {
    sodiumBicarbonate_g: mostBicarbonate_g(setting.vessel.volume_L),
    breach: { limit: "gas-space", reason: "so much powder would fill the vessel" },
  },
): LargestCharge {
  const atLeast = breachOf(setting, pressures, leastBicarbonate_g);
  if (atLeast !== undefined) return { kind: "none", boundBy: atLeast };
  let low_g = leastBicarbonate_g;
  let { sodiumBicarbonate_g: high_g, breach: boundBy } = tooMuch;
  while (high_g - low_g > searchTolerance_ratio * high_g) {
    const middle_g = (low_g + high_g) / 2;
    const breach = breachOf(setting, pressures, middle_g);
    if (breach === undefined) low_g = middle_g;
    else {
      high_g = middle_g;
      boundBy = breach;
    }
  }
  const sodiumBicarbonate_g = Math.floor(low_g * 10) / 10;
  return { kind: "found", sodiumBicarbonate_g, boundBy };
}
