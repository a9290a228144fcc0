import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { assertInRange } from "../quantities/valid-range.js";
import { equilibriumTemperatureRange } from "../vessel/charge-equilibrium.js";
import type { SurgeVerdict } from "../vessel/surge.js";
import type { Charge, ResidualLiquor, WeighedAcid } from "../vessel/charge.js";
import { residualLiquorOf, scaledLiquor } from "./residual-liquor.js";

/** A value with its 95 % bounds, in the unit of the field that holds it. */
export interface Bounded {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

export interface PlannedVessel {
  readonly volume_L: number;
  /** From the vessel's plate; undefined when nobody stated it, and then nothing is planned. */
  readonly ratedPressureGauge_bar: number | undefined;
  readonly reliefOpeningGauge_bar: number | undefined;
  /** Below it the regulator no longer holds its working pressure. */
  readonly leastInletGauge_bar: number;
  /** Inner width of the neck, through which ice must pass. */
  readonly neckWidth_mm?: number;
}

/** What a tank takes a day at present. */
export interface TankUse {
  readonly tank: string;
  readonly co2_gPerDay: Bounded;
}

/** Prices for a kilogram. What a plan costs is told where all that it needs is stated. */
export interface Prices {
  /** Any currency; only shown. */
  readonly currency: string;
  readonly sodiumBicarbonatePricePerKg?: number;
  /** Of the acid in the form that is planned. */
  readonly citricAcidPricePerKg?: number;
  readonly sucrosePricePerKg?: number;
  /** What a bought cylinder costs to fill, and the CO2 that is then in it. */
  readonly cylinderFill?: { readonly price: number; readonly co2_kg: number };
}

/** What the water is put in as. */
export type Filling =
  | { readonly kind: "water" | "ice"; readonly mass_kg?: number }
  /** `mass_kg` is that of both together. */
  | { readonly kind: "water-and-ice"; readonly mass_kg?: number; readonly ice_ratio: number };

/** Liquor of the last charge that was not poured out. */
export interface LeftInVessel {
  readonly volume_L: number;
  readonly lastCharge: Charge;
}

export type Wanted =
  | { readonly kind: "days"; readonly days: number }
  | { readonly kind: "bicarbonate"; readonly sodiumBicarbonate_g: number };

/** How long until the pressure has settled, in hours. */
export type ReadyTime = Bounded & { readonly remark?: string };

/** What the regulator makes of the falling pressure, from the full charge to the least inlet pressure. */
export interface SurgeOutlook {
  /** Largest flow over that at the start, needle valve untouched: the upper end of what is expected. */
  readonly flowAtEnd_ratio: number;
  readonly flowAtEndLow_ratio: number;
  /** Where the flow is largest, at the upper end. */
  readonly largestAtInletGauge_bar: number;
  /** Working pressure with the vessel full and where the flow is largest, at the upper end. */
  readonly outletAtFullGauge_bar: number;
  readonly outletAtLargestGauge_bar: number;
  readonly supplyPressureEffect_ratio: { readonly low: number; readonly high: number };
  /** By the upper end. */
  readonly verdict: SurgeVerdict;
  /** The same for a bought cylinder on this regulator; left out where there is no liquid to compare with. */
  readonly cylinder?: {
    readonly flowAtEnd_ratio: number;
    readonly flowAtEndLow_ratio: number;
    readonly verdict: SurgeVerdict;
  };
  readonly remark: string;
}

export interface Weighing {
  readonly powder_g: number;
  readonly water_kg: number;
}

export interface PlanRequest {
  readonly vessel: PlannedVessel;
  readonly wanted: Wanted;
  readonly acidForm: WeighedAcid["kind"];
  /** Acid beyond three bicarbonate to one acid. Left out: 0.08. */
  readonly acidExcess_ratio?: number;
  readonly filling?: Filling;
  /** Widest piece of the ice. */
  readonly icePiece_mm?: number;
  /** Left out: rinsed and poured out. */
  readonly residual?: LeftInVessel;
  readonly room_degC?: number;
  /** Left out: the room's temperature, or 0 degC with ice. */
  readonly sealedAt_degC?: number;
  /** The hottest the vessel may ever get. Left out: 40. Never taken below 30 or below the room. */
  readonly hottest_degC?: number;
  readonly use?: readonly TankUse[];
  readonly prices?: Prices;
  /** 95 % half-width of each weighing. Left out: 1 g for each powder, 10 g for the water. */
  readonly weighing?: Weighing;
  /** Undefined where it cannot be told. */
  readonly readyTime?: (charge: Charge) => ReadyTime | undefined;
  readonly surge?: (charge: Charge) => SurgeOutlook | undefined;
}

export const planDefaults = {
  acidExcess_ratio: 0.08,
  room_degC: 20,
  hottest_degC: 40,
  /** A room with the heating on or the sun in reaches this whatever was expected. */
  leastHottest_degC: 30,
  /** Enough to dissolve the salts of an ordinary charge; more takes gas space and lowers the pressure no further. */
  water_kgPerL: 0.25,
  weighing: { powder_g: 1, water_kg: 0.01 },
  /** Nobody measures what was not poured out. */
  residualError_ratio: 0.3,
} as const;

/** A piece of ice that is wider than this share of the neck may stick in it. Our judgement. */
export const icePassesNeck_ratio = 0.8;

/** The request with every default in it, checked. */
export interface PlanSetting {
  readonly vessel: PlannedVessel;
  readonly acidForm: WeighedAcid["kind"];
  readonly acidExcess_ratio: number;
  readonly filling: {
    readonly kind: Filling["kind"];
    readonly mass_kg: number;
    /** 0 for water, 1 for ice. */
    readonly ice_ratio: number;
  };
  readonly residualLiquor: ResidualLiquor | undefined;
  readonly room_degC: number;
  readonly sealedAt_degC: number;
  readonly hottest_degC: number;
  readonly weighing: Weighing;
}

/** Bicarbonate that would fill the vessel as crystals: above any charge. */
export function mostBicarbonate_g(vesselVolume_L: number): number {
  return 2200 * vesselVolume_L;
}

/** A bubble or two a day: who states less means something else. */
const leastUse_gPerDay = 1e-4;

/** @throws OutOfValidRangeError naming the quantity */
export function checked(
  quantity: string,
  unit: string,
  value: number,
  minimum: number,
  maximum: number,
): number {
  assertInRange(value, { quantity, unit, minimum, maximum });
  return value;
}

/** @throws OutOfValidRangeError naming the quantity */
export function checkVessel(vessel: PlannedVessel): void {
  checked("vessel volume", "L", vessel.volume_L, 0.1, 50);
  checked("least inlet pressure", "bar", vessel.leastInletGauge_bar, 0, 100);
  for (const [quantity, value] of [
    ["rated pressure", vessel.ratedPressureGauge_bar],
    ["relief opening pressure", vessel.reliefOpeningGauge_bar],
  ] as const) {
    if (value !== undefined) checked(quantity, "bar", value, 0.5, 1000);
  }
  if (vessel.neckWidth_mm !== undefined) checked("width of the neck", "mm", vessel.neckWidth_mm, 1, 500);
}

/** @throws OutOfValidRangeError naming the price */
export function checkPrices(prices: Prices): void {
  for (const [quantity, value] of [
    ["price of sodium bicarbonate", prices.sodiumBicarbonatePricePerKg],
    ["price of citric acid", prices.citricAcidPricePerKg],
    ["price of sugar", prices.sucrosePricePerKg],
  ] as const) {
    if (value !== undefined) checked(quantity, "per kg", value, 0, 1e9);
  }
  if (prices.cylinderFill === undefined) return;
  checked("price of a cylinder fill", "", prices.cylinderFill.price, 0, 1e9);
  checked("CO2 in a cylinder fill", "kg", prices.cylinderFill.co2_kg, 0.01, 100);
}

/** The hottest day that a plan is held to. @throws OutOfValidRangeError for a temperature outside that of the model */
export function hottestDay_degC(room_degC: number, stated_degC: number | undefined): number {
  const { unit, minimum, maximum } = equilibriumTemperatureRange;
  const hottest_degC = stated_degC ?? planDefaults.hottest_degC;
  checked("hottest expected temperature", unit, hottest_degC, minimum, maximum);
  return Math.max(planDefaults.leastHottest_degC, room_degC, hottest_degC);
}

/** @throws OutOfValidRangeError for a temperature outside that of the model */
export function roomTemperature_degC(stated_degC: number | undefined): number {
  const { unit, minimum, maximum } = equilibriumTemperatureRange;
  return checked("room temperature", unit, stated_degC ?? planDefaults.room_degC, minimum, maximum);
}

/** @throws OutOfValidRangeError for a weighing error below 0 or absurd */
export function checkedWeighing(weighing: Weighing = planDefaults.weighing): Weighing {
  checked("weighing error of the powders", "g", weighing.powder_g, 0, 1000);
  checked("weighing error of the water", "kg", weighing.water_kg, 0, 1);
  return weighing;
}

/** What is put in, in the words of a sentence. */
export const fillingWords: Readonly<Record<Filling["kind"], string>> = {
  water: "water",
  ice: "ice",
  "water-and-ice": "water and ice",
};

/**
 * Fills in the defaults and checks each number by itself; whether they fit together is for the plan to say.
 * @throws OutOfValidRangeError naming the quantity, and as residualLiquorOf
 * @throws NoConvergenceError as residualLiquorOf
 */
export function planSetting(request: PlanRequest): PlanSetting {
  const { vessel, wanted, residual } = request;
  checkVessel(vessel);
  if (wanted.kind === "days") checked("days wanted", "days", wanted.days, 0.1, 3650);
  else {
    const most_g = mostBicarbonate_g(vessel.volume_L);
    checked("sodium bicarbonate", "g", wanted.sodiumBicarbonate_g, 1, most_g);
  }
  for (const { co2_gPerDay } of request.use ?? []) {
    checked("CO2 use", "g/day", co2_gPerDay.value, co2_gPerDay.value === 0 ? 0 : leastUse_gPerDay, 1e5);
    checked("CO2 use, lower bound", "g/day", co2_gPerDay.low, 0, co2_gPerDay.value);
    checked("CO2 use, upper bound", "g/day", co2_gPerDay.high, co2_gPerDay.value, 1e6);
  }
  if (request.prices !== undefined) checkPrices(request.prices);
  if (request.icePiece_mm !== undefined) {
    checked("widest piece of ice", "mm", request.icePiece_mm, 0.1, 1000);
  }
  const room_degC = roomTemperature_degC(request.room_degC);
  const hottest_degC = hottestDay_degC(room_degC, request.hottest_degC);
  const filling = request.filling ?? { kind: "water" };
  const mass_kg = filling.mass_kg ?? planDefaults.water_kgPerL * vessel.volume_L;
  checked(fillingWords[filling.kind], "kg", mass_kg, 0.01, vessel.volume_L);
  const sealedAt_degC = request.sealedAt_degC ?? (filling.kind === "water" ? room_degC : 0);
  checked("sealing temperature", "degC", sealedAt_degC, -20, 50);
  return {
    vessel,
    acidForm: request.acidForm,
    acidExcess_ratio: checked(
      "acid beyond the exact proportion",
      "",
      request.acidExcess_ratio ?? planDefaults.acidExcess_ratio,
      -0.9,
      5,
    ),
    filling: { kind: filling.kind, mass_kg, ice_ratio: iceShare_ratio(filling) },
    residualLiquor:
      residual === undefined
        ? undefined
        : residualLiquorOf(residual.lastCharge, { volume_L: residual.volume_L, temperature_degC: room_degC }),
    room_degC,
    sealedAt_degC,
    hottest_degC,
    weighing: checkedWeighing(request.weighing),
  };
}

function iceShare_ratio(filling: Filling): number {
  if (filling.kind !== "water-and-ice") return filling.kind === "ice" ? 1 : 0;
  return checked("share of ice in the water", "", filling.ice_ratio, 0, 1);
}

/**
 * Acid that sets free all CO2 of a gram of bicarbonate, three bicarbonate to one acid: 0.762 g anhydrous, 0.834 g with its
 * crystal water.
 * @see [IUPAC2021]
 */
export function exactAcidPerBicarbonate_ratio(acidForm: WeighedAcid["kind"]): number {
  const acid_gPerMol =
    acidForm === "citric-acid-anhydrous"
      ? molarMass_gPerMol.citricAcidAnhydrous
      : molarMass_gPerMol.citricAcidMonohydrate;
  return acid_gPerMol / (3 * molarMass_gPerMol.sodiumBicarbonate);
}

/** The charge with so much bicarbonate. `error` shifts every weighing by that many of its half-widths. */
export function chargeOf(setting: PlanSetting, sodiumBicarbonate_g: number, error: -1 | 0 | 1 = 0): Charge {
  const { acidForm, filling, weighing, residualLiquor } = setting;
  const acid_g =
    sodiumBicarbonate_g * exactAcidPerBicarbonate_ratio(acidForm) * (1 + setting.acidExcess_ratio);
  const ice_kg = filling.mass_kg * filling.ice_ratio;
  const charge: Charge = {
    vesselVolume_L: setting.vessel.volume_L,
    water_kg: filling.kind === "ice" ? 0 : filling.mass_kg - ice_kg,
    ...(ice_kg > 0 ? { ice_kg } : {}),
    acid: { kind: acidForm, mass_g: acid_g },
    sodiumBicarbonate_g,
    sealedAt_degC: setting.sealedAt_degC,
    ...(residualLiquor === undefined ? {} : { residualLiquor }),
  };
  return error === 0 ? charge : misweighed(charge, weighing, error);
}

/** Which way liquid was weighed or taken wrongly, where not the way of the powders. */
interface LiquidError {
  readonly water: -1 | 1;
  readonly residual: -1 | 1;
}

/** A charge with every weighing off by so many of its half-widths, and the residual liquor by 30 %. */
export function misweighed(
  charge: Charge,
  weighing: Weighing,
  error: -1 | 1,
  liquid: LiquidError = { water: error, residual: error },
): Charge {
  const powder_g = error * weighing.powder_g;
  const ice_kg = charge.ice_kg ?? 0;
  const filled_kg = charge.water_kg + ice_kg;
  const misfilled_kg = Math.max(0.01, filled_kg + liquid.water * weighing.water_kg);
  const misfilledIce_kg = filled_kg > 0 ? (misfilled_kg * ice_kg) / filled_kg : 0;
  return {
    ...charge,
    water_kg: ice_kg > 0 && charge.water_kg === 0 ? 0 : misfilled_kg - misfilledIce_kg,
    ...(ice_kg > 0 ? { ice_kg: misfilledIce_kg } : {}),
    acid: { ...charge.acid, mass_g: Math.max(0, charge.acid.mass_g + powder_g) },
    sodiumBicarbonate_g: Math.max(0, charge.sodiumBicarbonate_g + powder_g),
    ...(charge.residualLiquor === undefined
      ? {}
      : {
          residualLiquor: scaledLiquor(
            charge.residualLiquor,
            1 + liquid.residual * planDefaults.residualError_ratio,
          ),
        }),
  };
}

/**
 * A charge with its powders weighed high, and water and old liquor off each way: more of them takes gas space, less
 * dissolves less CO2 and makes a stronger liquor.
 */
export function overweighedCharges(charge: Charge, weighing: Weighing): readonly Charge[] {
  const isAlone = charge.residualLiquor === undefined;
  return ([1, -1] as const).flatMap((water) =>
    (isAlone ? [water] : ([1, -1] as const)).map((residual) =>
      misweighed(charge, weighing, 1, { water, residual }),
    ),
  );
}
