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
  const { residualLiquor } = supplied;
  return {
    vesselVolume_L: supplied.vesselVolume_L,
    water_kg: supplied.water_kg,
    acid: supplied.acid,
    sodiumBicarbonate_g: supplied.sodiumBicarbonate_g,
    sealedAt_degC: supplied.sealedAt_degC,
    ...(residualLiquor === undefined ? {} : { residualLiquor }),
  };
}

/**
 * @param known what is at hand already: the map of this very charge, the spans of a site's calendar in place of daily windows
 * @throws OutOfValidRangeError for a charge that the vessel model refuses
 * @throws UnknownNameError for a time zone
 */
export function createSupplyModel(
  charge: SuppliedCharge,
  known: { readonly map?: ChargePressureMap; readonly spans?: OpenSpans } = {},
): SupplyModel {
  const hasWindows = known.spans !== undefined || charge.windows.length > 0;
  return {
    charge,
    map: known.map ?? createChargePressureMap(chargeOf(charge)),
    spans:
      known.spans ?? createOpenSpans(hasWindows ? dailyRule(charge.windows) : undefined, charge.timeZone),
    hasWindows,
  };
}
