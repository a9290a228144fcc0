import type { Bounded } from "../charge-plan/plan-request.js";
import type { WeighedAcid } from "../vessel/charge.js";

/** An amount for a valve or a tank, g, 95 %. */
export interface DeliveredPart {
  readonly name: string;
  readonly co2_g: Bounded;
}

/** How a charge came to its end. */
export type ChargeEnd =
  | { readonly kind: "running" }
  /** The gauge fell to the working pressure for good. */
  | { readonly kind: "spent"; readonly at_epochMs: number }
  | { readonly kind: "refilled early"; readonly at_epochMs: number };

/** What was planned, where a plan was made. Bounds are 95 %. */
export interface PlannedCharge {
  readonly sodiumBicarbonate_g: number;
  readonly citricAcid_g: number;
  readonly deliverable_g?: Bounded;
  readonly ready_h?: Bounded;
  readonly settledGauge_bar?: Bounded;
}

/** A run-out that was forecast while the charge was in use. */
export interface ForecastRunOut {
  readonly made_epochMs: number;
  readonly median_epochMs: number;
  readonly low80_epochMs: number;
  readonly high80_epochMs: number;
}

/** Prices for a kilogram, in a currency that is only shown. */
export interface ChargePrices {
  readonly currency: string;
  readonly sodiumBicarbonatePricePerKg: number;
  /** Of the acid in the form that was weighed. */
  readonly citricAcidPricePerKg: number;
}

/** Everything that is kept of one charge. Bounds are 95 % unless said. */
export interface ChargeRecord {
  readonly chargeId: string;
  readonly vesselId: string;
  /** What the keeper calls it; left out: a name is made from the weights. */
  readonly recipe?: string;
  readonly planned?: PlannedCharge;
  readonly acid: WeighedAcid;
  readonly sodiumBicarbonate_g: number;
  /** Water, ice, or both. */
  readonly water_kg: number;
  readonly vesselVolume_L: number;
  /** 95 % half-width of weighing each powder. */
  readonly weighing_g: number;
  readonly closedWith: "water" | "ice";
  readonly closed_epochMs: number;
  readonly workingPressureGauge_bar: number;
  /** When the pressure had settled; undefined where nobody saw it. */
  readonly ready_epochMs: number | undefined;
  readonly settledGauge_bar: Bounded | undefined;
  /** In total; its parts share its error, and add up to its value. */
  readonly delivered_g: Bounded;
  readonly byValve: readonly DeliveredPart[];
  readonly byTank: readonly DeliveredPart[];
  readonly leak_gPerDay: Bounded | undefined;
  /** What the estimate said was still in it at the end. */
  readonly left_g: Bounded | undefined;
  /** By the calendar, those that it served. */
  readonly dosing_days: number;
  readonly forecastAtHalf: ForecastRunOut | undefined;
  readonly ended: ChargeEnd;
  readonly prices: ChargePrices | undefined;
}
