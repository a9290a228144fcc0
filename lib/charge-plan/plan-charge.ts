import { NoConvergenceError, OutOfValidRangeError } from "../errors.js";
import { modelPressureError_ratio } from "../vessel/charge-equilibrium.js";
import type { Charge } from "../vessel/charge.js";
import { findRoot } from "../vessel/find-root.js";
import { grams, said, type Said } from "../told/said.js";
import { cautionsFor, type Caution } from "./cautions.js";
import {
  breachBy,
  breachOf,
  highestAllowedGauge_bar,
  largestCharge,
  leastBicarbonate_g,
  saidOfBreach,
  type Breach,
  type LargestCharge,
  type PlanLimit,
  type StatedPressures,
} from "./charge-limits.js";
import { coldestAfterSealing_degC } from "./cold-vessel.js";
import { daysOf, deliverable_g, delivery, totalUse_gPerDay, type Delivery } from "./delivery.js";
import {
  chargeOf,
  fillingWords,
  icePassesNeck_ratio,
  planSetting,
  type Bounded,
  type Filling,
  type PlannedVessel,
  type PlanRequest,
  type PlanSetting,
  type Prices,
  type ReadyTime,
  type SurgeOutlook,
  type TankUse,
} from "./plan-request.js";
import { pressureOutlook, type PressureOutlook } from "./pressure-outlook.js";

/** What to weigh. */
export interface ChargeAmounts {
  readonly sodiumBicarbonate_g: number;
  readonly acidForm: PlanRequest["acidForm"];
  readonly citricAcid_g: number;
  readonly acidExcess_ratio: number;
  readonly filling: {
    readonly kind: Filling["kind"];
    /** Water and ice together. */
    readonly mass_kg: number;
    /** Where both are put in. */
    readonly ice_kg?: number;
  };
  /** Liquor of the last charge that stays in, crystals at its bottom included. Left out: none. */
  readonly residualLiquor_L?: number;
}

export interface PlannedDays {
  readonly days: Bounded;
  readonly use_gPerDay: Bounded;
  /** What each tank gets of the charge; all run out on the same day. */
  readonly tanks: readonly { readonly tank: string; readonly co2_g: number; readonly use_gPerDay: Bounded }[];
}

export interface PlannedCost {
  readonly currency: string;
  readonly total: number;
  /** Undefined when nothing is delivered. */
  readonly perGramDelivered: number | undefined;
  /** A gram from a bought cylinder, for comparison. Left out: its price is not stated. */
  readonly perGramFromCylinder?: number;
}

export interface ChargePlan {
  readonly kind: "plan";
  readonly amounts: ChargeAmounts;
  readonly acidReason: string;
  readonly charge: Charge;
  readonly pressures: {
    readonly cold: PressureOutlook;
    readonly room: PressureOutlook;
    readonly hottest: PressureOutlook;
    /** The most that the upper pressure on the hottest day may be. */
    readonly highestAllowedGauge_bar: number;
  };
  readonly delivery: Delivery;
  readonly lasts?: PlannedDays;
  readonly cost?: PlannedCost;
  readonly readyTime?: ReadyTime;
  readonly surge?: SurgeOutlook;
  /** Why an outlook is left out whose model found no answer. */
  readonly untold?: { readonly readyTime?: string; readonly surge?: string };
  readonly cautions: readonly Caution[];
}

export interface RefusedPlan {
  readonly kind: "refused";
  readonly limit: PlanLimit;
  readonly reason: string;
  /** The same with its quantities as such; left out where it has none. */
  readonly said?: Said;
  /** What was asked for; undefined where it was asked for in days, or no pressure was stated. */
  readonly requested: ChargeAmounts | undefined;
  /** The largest charge that fits with the same proportion, water and temperatures; undefined when none does. */
  readonly largest:
    | (ChargeAmounts & {
        readonly limit: PlanLimit;
        readonly hottest_degC: number;
        readonly highGauge_bar: number;
        readonly deliverable_g: number;
        readonly days: number | undefined;
      })
    | undefined;
}

/**
 * A charge for a vessel, or why there is none. Refused unless the upper 95 % pressure on the hottest day stays at or below
 * 0.9 of the lower of rated and relief-opening pressure, with at least 30 % of the vessel left to the gas, and all of it
 * inside the model's range; a refusal names the limit and the largest charge that fits. Trapped air (1 atm) is counted.
 * @throws OutOfValidRangeError for a number that is absurd by itself (negative grams, 60 degC)
 * @throws NoConvergenceError when a balance does not close
 * @see [Grenthe1997], [SpanWagner1996], [JCGM100]
 */
export function planCharge(request: PlanRequest): ChargePlan | RefusedPlan {
  const setting = planSetting(request);
  const { ratedPressureGauge_bar, reliefOpeningGauge_bar } = request.vessel;
  if (ratedPressureGauge_bar === undefined || reliefOpeningGauge_bar === undefined) {
    return { kind: "refused", ...notStated(request.vessel), requested: undefined, largest: undefined };
  }
  const stuck = neckBreach(request, setting);
  if (stuck !== undefined) return { kind: "refused", ...stuck, requested: undefined, largest: undefined };
  const pressures = { ratedPressureGauge_bar, reliefOpeningGauge_bar };
  const sized =
    request.wanted.kind === "bicarbonate"
      ? sizeByMass(setting, pressures, request.wanted.sodiumBicarbonate_g)
      : sizeByDays(setting, pressures, request.wanted.days, request.use ?? []);
  if (sized.kind === "fits") return planOf(request, setting, pressures, sized.sodiumBicarbonate_g);
  return refusal(request, setting, sized);
}

/** Why nothing is planned for a vessel of which a pressure is not stated. */
export function notStated(vessel: PlannedVessel): Breach {
  const missing = [
    ...(vessel.ratedPressureGauge_bar === undefined ? ["the rated pressure"] : []),
    ...(vessel.reliefOpeningGauge_bar === undefined ? ["the pressure at which the relief device opens"] : []),
  ];
  const are = missing.length === 1 ? "is" : "are";
  const them = missing.length === 1 ? "it" : "them";
  return {
    limit: "pressure-not-stated",
    reason:
      `${missing.join(" and ")} of the vessel ${are} not stated; read ${them} off the plate and the device, ` +
      `never guess ${them}`,
  };
}

function neckBreach({ vessel, icePiece_mm }: PlanRequest, setting: PlanSetting): Breach | undefined {
  const { neckWidth_mm } = vessel;
  if (neckWidth_mm === undefined || icePiece_mm === undefined || setting.filling.ice_ratio === 0) {
    return undefined;
  }
  if (icePiece_mm <= icePassesNeck_ratio * neckWidth_mm) return undefined;
  return {
    limit: "neck-width",
    reason:
      `ice in pieces of ${String(icePiece_mm)} mm does not pass a neck of ${String(neckWidth_mm)} mm freely; crush it to ` +
      `${String(Math.floor(icePassesNeck_ratio * neckWidth_mm))} mm or less, or use water`,
  };
}

type Sized =
  | { readonly kind: "fits"; readonly sodiumBicarbonate_g: number }
  | { readonly kind: "breach"; readonly breach: Breach; readonly largest: LargestCharge };

function sizeByMass(setting: PlanSetting, pressures: StatedPressures, sodiumBicarbonate_g: number): Sized {
  const breach = breachOf(setting, pressures, sodiumBicarbonate_g);
  if (breach === undefined) return { kind: "fits", sodiumBicarbonate_g };
  return {
    kind: "breach",
    breach,
    largest: largestCharge(setting, pressures, { sodiumBicarbonate_g, breach }),
  };
}

/** No scale shows so little. */
const leastCo2_g = 1e-6;

/** The least bicarbonate, to 0.1 g upwards, that delivers what the tanks take in so many days. */
function sizeByDays(
  setting: PlanSetting,
  pressures: StatedPressures,
  days: number,
  use: readonly TankUse[],
): Sized {
  const daily = totalUse_gPerDay(use);
  const largest = largestCharge(setting, pressures);
  if (daily === undefined) {
    const reason = "the tanks' daily use is not stated, so that no charge can be sized by days";
    return { kind: "breach", breach: { limit: "use-not-stated", reason }, largest };
  }
  if (largest.kind === "none") return { kind: "breach", breach: largest.boundBy, largest };
  const needed_g = days * daily.value;
  const most_g = deliverable_g(setting, largest.sodiumBicarbonate_g);
  if (!(most_g > 0)) {
    const reason = said`not even the largest charge that fits reaches the regulator's least inlet pressure: ${saidOfBreach(largest.boundBy)}`;
    return { kind: "breach", breach: breachBy(largest.boundBy.limit, reason), largest };
  }
  if (most_g < needed_g) {
    const about_g = (largest.sodiumBicarbonate_g * needed_g) / most_g;
    const breach = breachOf(setting, pressures, about_g) ?? largest.boundBy;
    const reason = said`${days} days take ${grams(needed_g, 0)} of CO2, and the largest charge that fits delivers ${grams(most_g, 0)}. With about ${grams(about_g, 0)} of bicarbonate, ${saidOfBreach(breach)}`;
    return { kind: "breach", breach: breachBy(breach.limit, reason), largest };
  }
  const outcome = findRoot(
    {
      quantity: "bicarbonate for the days wanted",
      low: leastBicarbonate_g,
      high: largest.sodiumBicarbonate_g,
      start: (largest.sodiumBicarbonate_g * needed_g) / most_g,
      slope: most_g / largest.sodiumBicarbonate_g,
      tolerance: Math.max(1e-4 * needed_g, leastCo2_g),
    },
    (sodiumBicarbonate_g) => deliverable_g(setting, sodiumBicarbonate_g) - needed_g,
  );
  const atEnds_g = { "below-low": leastBicarbonate_g, "above-high": largest.sodiumBicarbonate_g } as const;
  const found_g = outcome.kind === "found" ? outcome.at : atEnds_g[outcome.kind];
  const sodiumBicarbonate_g = Math.min(largest.sodiumBicarbonate_g, Math.ceil(found_g * 10) / 10);
  return { kind: "fits", sodiumBicarbonate_g };
}

function amountsOf(setting: PlanSetting, charge: Charge): ChargeAmounts {
  return {
    sodiumBicarbonate_g: charge.sodiumBicarbonate_g,
    acidForm: setting.acidForm,
    citricAcid_g: charge.acid.mass_g,
    acidExcess_ratio: setting.acidExcess_ratio,
    filling: {
      kind: setting.filling.kind,
      mass_kg: setting.filling.mass_kg,
      ...(setting.filling.kind === "water-and-ice" ? { ice_kg: charge.ice_kg ?? 0 } : {}),
    },
    ...(charge.residualLiquor === undefined ? {} : { residualLiquor_L: charge.residualLiquor.volume_L }),
  };
}

const acidReason =
  "citric acid's third step is no stronger than carbonic acid under pressure, so an exact proportion leaves bicarbonate " +
  "unreacted until the vessel is nearly spent; 5 to 10 % more acid frees most of it, and far more is wasted";

function planOf(
  request: PlanRequest,
  setting: PlanSetting,
  pressures: StatedPressures,
  sodiumBicarbonate_g: number,
): ChargePlan {
  const charge = chargeOf(setting, sodiumBicarbonate_g);
  const at = (temperature_degC: number): PressureOutlook =>
    pressureOutlook(setting, sodiumBicarbonate_g, temperature_degC);
  const cold = at(coldestAfterSealing_degC(charge));
  const room = at(setting.room_degC);
  const hottest = at(setting.hottest_degC);
  const delivered = delivery(setting, sodiumBicarbonate_g);
  const lasts = plannedDays(delivered.deliverable_g, request.use ?? []);
  const readyTime = outlookOf(request.readyTime, charge);
  const surge = outlookOf(request.surge, charge);
  const cost = plannedCost(request, charge, delivered.deliverable_g.value);
  return {
    kind: "plan",
    amounts: amountsOf(setting, charge),
    acidReason,
    charge,
    pressures: { cold, room, hottest, highestAllowedGauge_bar: highestAllowedGauge_bar(pressures) },
    delivery: delivered,
    ...(lasts === undefined ? {} : { lasts }),
    ...(cost === undefined ? {} : { cost }),
    ...(readyTime.told === undefined ? {} : { readyTime: readyTime.told }),
    ...(surge.told === undefined ? {} : { surge: surge.told }),
    ...(readyTime.untold === undefined && surge.untold === undefined
      ? {}
      : {
          untold: {
            ...(readyTime.untold === undefined ? {} : { readyTime: readyTime.untold }),
            ...(surge.untold === undefined ? {} : { surge: surge.untold }),
          },
        }),
    cautions: cautionsFor(request, setting, {
      outsideModel: [...cold.outsideModel, ...room.outsideModel, ...hottest.outsideModel],
      deliverable_g: delivered.deliverable_g.value,
    }),
  };
}

/** What stands beside a plan and never refuses it: where its model has no answer, the plan says so instead. */
function outlookOf<Outlook>(
  ask: ((charge: Charge) => Outlook | undefined) | undefined,
  charge: Charge,
): { readonly told?: Outlook | undefined; readonly untold?: string } {
  try {
    return { told: ask?.(charge) };
  } catch (error) {
    if (error instanceof OutOfValidRangeError || error instanceof NoConvergenceError) {
      return { untold: error.message };
    }
    throw error;
  }
}

function plannedDays(deliverable: Bounded, use: readonly TankUse[]): PlannedDays | undefined {
  const total = totalUse_gPerDay(use);
  if (total === undefined) return undefined;
  return {
    days: daysOf(deliverable, total),
    use_gPerDay: total,
    tanks: use.map(({ tank, co2_gPerDay }) => ({
      tank,
      co2_g: (deliverable.value * co2_gPerDay.value) / total.value,
      use_gPerDay: co2_gPerDay,
    })),
  };
}

function plannedCost(request: PlanRequest, charge: Charge, delivered_g: number): PlannedCost | undefined {
  const { prices } = request;
  if (prices?.sodiumBicarbonatePricePerKg === undefined) return undefined;
  if (prices.citricAcidPricePerKg === undefined) return undefined;
  const total =
    (charge.sodiumBicarbonate_g * prices.sodiumBicarbonatePricePerKg +
      charge.acid.mass_g * prices.citricAcidPricePerKg) /
    1000;
  return costOf(prices, total, delivered_g);
}

/** A cost beside what a gram from a bought cylinder costs. What such a cylinder keeps as gas, a few percent, is not taken off. */
export function costOf(prices: Prices, total: number, delivered_g: number): PlannedCost {
  const { currency, cylinderFill } = prices;
  return {
    currency,
    total,
    perGramDelivered: delivered_g > 0 ? total / delivered_g : undefined,
    ...(cylinderFill === undefined
      ? {}
      : { perGramFromCylinder: cylinderFill.price / (1000 * cylinderFill.co2_kg) }),
  };
}

function refusal(
  request: PlanRequest,
  setting: PlanSetting,
  refused: { readonly breach: Breach; readonly largest: LargestCharge },
): RefusedPlan {
  const { breach, largest } = refused;
  const { wanted } = request;
  const requested =
    wanted.kind === "days" ? undefined : amountsOf(setting, chargeOf(setting, wanted.sodiumBicarbonate_g));
  if (largest.kind === "none") {
    const reason = said`${saidOfBreach(breach)}; with this ${fillingWords[setting.filling.kind]} and these limits not even a gram fits`;
    return { kind: "refused", ...breachBy(breach.limit, reason), requested, largest: undefined };
  }
  const { sodiumBicarbonate_g, boundBy } = largest;
  const delivered_g = deliverable_g(setting, sodiumBicarbonate_g);
  const daily = totalUse_gPerDay(request.use ?? []);
  return {
    kind: "refused",
    ...breach,
    requested,
    largest: {
      ...amountsOf(setting, chargeOf(setting, sodiumBicarbonate_g)),
      limit: boundBy.limit,
      hottest_degC: setting.hottest_degC,
      highGauge_bar: pressureOutlook(setting, sodiumBicarbonate_g, setting.hottest_degC).highGauge_bar,
      deliverable_g: delivered_g,
      days: daily === undefined ? undefined : delivered_g / daily.value,
    },
  };
}

/** How the bounds were made, in words for the reader. */
export const boundsInWords =
  `Bounds are 95 %: ${String(100 * modelPressureError_ratio)} % of the absolute pressure for the model, and the weighing; ` +
  "the upper one counts every gram of CO2 as set free.";
