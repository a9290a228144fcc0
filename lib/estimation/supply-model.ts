import type { Charge } from "../vessel/charge.js";
import { createChargePressureMap, type ChargePressureMap } from "./charge-pressure-map.js";
import { createOpenSpans, dailyRule, type OpenSpans } from "./open-spans.js";
import type { SuppliedCharge } from "./supply-trace.js";

/** What does not change while a charge lasts: the charge, its pressure as a table, the dosing windows. */
export interface SupplyModel {
  readonly charge: SuppliedCharge;
  readonly map: ChargePressureMap;
  readonly spans: OpenSpans;
  readonly hasWindows: boolean;
}

export function chargeOf(supplied: SuppliedCharge): Charge {
  return {
    vesselVolume_L: supplied.vesselVolume_L,
    water_kg: supplied.water_kg,
    acid: supplied.acid,
    sodiumBicarbonate_g: supplied.sodiumBicarbonate_g,
    sealedAt_degC: supplied.sealedAt_degC,
  };
}

/**
 * @throws OutOfValidRangeError for a charge that the vessel model refuses
 * @throws UnknownNameError for a time zone
 */
export function createSupplyModel(charge: SuppliedCharge): SupplyModel {
  const hasWindows = charge.windows.length > 0;
  return {
    charge,
    map: createChargePressureMap(chargeOf(charge)),
    spans: createOpenSpans(hasWindows ? dailyRule(charge.windows) : undefined, charge.timeZone),
    hasWindows,
  };
}
