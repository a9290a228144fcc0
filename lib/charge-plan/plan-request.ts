import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { assertInRange } from "../quantities/valid-range.js";
import { equilibriumTemperatureRange } from "../vessel/charge-equilibrium.js";
import type { Charge, WeighedAcid } from "../vessel/charge.js";

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
}

/** What a tank takes a day at present. */
export interface TankUse {
  readonly tank: string;
  readonly co2_gPerDay: Bounded;
}

export interface Prices {
  /** Any currency; only shown. */
  readonly currency: string;
  readonly sodiumBicarbonatePricePerKg: number;
  /** Of the acid in the form that is planned. */
  readonly citricAcidPricePerKg: number;
}

export type Wanted =
  | { readonly kind: "days"; readonly days: number }
  | { readonly kind: "bicarbonate"; readonly sodiumBicarbonate_g: number };

/** How long until the pressure has settled, in hours. */
export type ReadyTime = Bounded & { readonly remark?: string };

/** What the regulator makes of the falling pressure, from the full charge to the least inlet pressure. */
export interface SurgeOutlook {
  /** Flow near the end over flow at the start, needle valve untouched. */
  readonly flowAtEnd_ratio: number;
  readonly remark: string;
}

export interface PlanRequest {
  readonly vessel: PlannedVessel;
  readonly wanted: Wanted;
  readonly acidForm: WeighedAcid["kind"];
  /** Acid beyond three bicarbonate to one acid. Left out: 0.08. */
  readonly acidExcess_ratio?: number;
  readonly filling?: { readonly kind: "water" | "ice"; readonly mass_kg?: number };
  readonly room_degC?: number;
  /** Left out: the room's temperature, or 0 degC with ice. */
  readonly sealedAt_degC?: number;
  /** The hottest the vessel may ever get. Left out: 40. Never taken below 30 or below the room. */
  readonly hottest_degC?: number;
  readonly use?: readonly TankUse[];
  readonly prices?: Prices;
  /** 95 % half-width of each weighing. Left out: 1 g for each powder, 10 g for the water. */
  readonly weighing?: { readonly powder_g: number; readonly water_kg: number };
  readonly readyTime?: (charge: Charge) => ReadyTime;
  readonly surge?: (charge: Charge) => SurgeOutlook;
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
} as const;

/** The request with every default in it, checked. */
export interface PlanSetting {
  readonly vessel: PlannedVessel;
  readonly acidForm: WeighedAcid["kind"];
  readonly acidExcess_ratio: number;
  readonly filling: { readonly kind: "water" | "ice"; readonly mass_kg: number; readonly isDefault: boolean };
  readonly room_degC: number;
  readonly sealedAt_degC: number;
  readonly hottest_degC: number;
  readonly weighing: { readonly powder_g: number; readonly water_kg: number };
}

/** Bicarbonate that would fill the vessel as crystals: above any charge. */
export function mostBicarbonate_g(vesselVolume_L: number): number {
  return 2200 * vesselVolume_L;
}

/**
 * Fills in the defaults and checks each number by itself; whether they fit together is for the plan to say.
 * @throws OutOfValidRangeError naming the quantity
 */
export function planSetting(request: PlanRequest): PlanSetting {
  const { vessel, wanted } = request;
  const check = (quantity: string, unit: string, value: number, minimum: number, maximum: number): number => {
    assertInRange(value, { quantity, unit, minimum, maximum });
    return value;
  };
  check("vessel volume", "L", vessel.volume_L, 0.1, 50);
  check("least inlet pressure", "bar", vessel.leastInletGauge_bar, 0, 100);
  for (const [quantity, value] of [
    ["rated pressure", vessel.ratedPressureGauge_bar],
    ["relief opening pressure", vessel.reliefOpeningGauge_bar],
  ] as const) {
    if (value !== undefined) check(quantity, "bar", value, 0.5, 1000);
  }
  if (wanted.kind === "days") check("days wanted", "days", wanted.days, 0.1, 3650);
  else {
    const most_g = mostBicarbonate_g(vessel.volume_L);
    check("sodium bicarbonate", "g", wanted.sodiumBicarbonate_g, 1, most_g);
  }
  for (const { co2_gPerDay } of request.use ?? []) {
    check("CO2 use", "g/day", co2_gPerDay.value, 0, 1e5);
    check("CO2 use, lower bound", "g/day", co2_gPerDay.low, 0, co2_gPerDay.value);
    check("CO2 use, upper bound", "g/day", co2_gPerDay.high, co2_gPerDay.value, 1e6);
  }
  if (request.prices !== undefined) {
    check("price of sodium bicarbonate", "per kg", request.prices.sodiumBicarbonatePricePerKg, 0, 1e9);
    check("price of citric acid", "per kg", request.prices.citricAcidPricePerKg, 0, 1e9);
  }
  const range = equilibriumTemperatureRange;
  const room_degC = request.room_degC ?? planDefaults.room_degC;
  check("room temperature", range.unit, room_degC, range.minimum, range.maximum);
  const hottest_degC = request.hottest_degC ?? planDefaults.hottest_degC;
  check("hottest expected temperature", range.unit, hottest_degC, range.minimum, range.maximum);
  const kind = request.filling?.kind ?? "water";
  const given_kg = request.filling?.mass_kg;
  const mass_kg = given_kg ?? planDefaults.water_kgPerL * vessel.volume_L;
  check(kind, "kg", mass_kg, 0.01, vessel.volume_L);
  const sealedAt_degC = request.sealedAt_degC ?? (kind === "ice" ? 0 : room_degC);
  check("sealing temperature", "degC", sealedAt_degC, -20, 50);
  const weighing = request.weighing ?? planDefaults.weighing;
  check("weighing error of the powders", "g", weighing.powder_g, 0, 1000);
  check("weighing error of the water", "kg", weighing.water_kg, 0, 1);
  return {
    vessel,
    acidForm: request.acidForm,
    acidExcess_ratio: check(
      "acid beyond the exact proportion",
      "",
      request.acidExcess_ratio ?? planDefaults.acidExcess_ratio,
      -0.9,
      5,
    ),
    filling: { kind, mass_kg, isDefault: given_kg === undefined },
    room_degC,
    sealedAt_degC,
    hottest_degC: Math.max(planDefaults.leastHottest_degC, room_degC, hottest_degC),
    weighing,
  };
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
  const { acidForm, filling, weighing } = setting;
  const acid_g =
    sodiumBicarbonate_g * exactAcidPerBicarbonate_ratio(acidForm) * (1 + setting.acidExcess_ratio);
  const water_kg = Math.max(0.01, filling.mass_kg + error * weighing.water_kg);
  return {
    vesselVolume_L: setting.vessel.volume_L,
    water_kg: filling.kind === "water" ? water_kg : 0,
    ...(filling.kind === "ice" ? { ice_kg: water_kg } : {}),
    acid: { kind: acidForm, mass_g: Math.max(0, acid_g + error * weighing.powder_g) },
    sodiumBicarbonate_g: Math.max(0, sodiumBicarbonate_g + error * weighing.powder_g),
    sealedAt_degC: setting.sealedAt_degC,
  };
}
