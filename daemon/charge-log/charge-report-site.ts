import type { ChargePrices } from "../../lib/charge-log/charge-record.js";
import { recordOf, type FollowedCharge } from "../../lib/charge-log/followed-charge.js";
import { reportCharge, type ChargeReport } from "../../lib/charge-log/charge-report.js";
import { freshReadyAfter } from "../../lib/refill/fresh-ready.js";
import { wallClockAt } from "../../lib/schedule/civil-time.js";
import type { SiteModel } from "../site-model.js";

/** Of the room, where nobody said at which temperature the charge was closed; as a plan takes it. */
const usualRoom_degC = 20;

/**
 * The report of a charge with what the config knows now: prices, and which valve feeds which tank.
 * @throws OutOfValidRangeError as reportCharge
 */
export function siteReport(
  charge: FollowedCharge,
  site: SiteModel,
  now_epochMs: number,
  options: { readonly withReadyForecast: boolean } = { withReadyForecast: false },
): ChargeReport {
  const ready = options.withReadyForecast ? readyForecast(charge) : undefined;
  const record = recordOf(charge, {
    closedOn: wallClockAt(charge.closed_epochMs, site.timeZone).date,
    prices: pricesOf(charge.vesselId, site),
    feeds: new Map([...site.valves].map(([valveId, { feeds }]) => [valveId, feeds])),
    ...(ready === undefined ? {} : { ready_h: ready }),
  });
  return reportCharge(record, now_epochMs);
}

function readyForecast(charge: FollowedCharge): ReturnType<typeof boundsOf> | undefined {
  const { acid, sodiumBicarbonate_g, water_kg, vesselVolume_L, closedWith } = charge;
  const sealedAt_degC = charge.sealedAt_degC ?? usualRoom_degC;
  const ready = freshReadyAfter(
    { acid, sodiumBicarbonate_g, water_kg, vesselVolume_L, sealedAt_degC },
    closedWith,
    sealedAt_degC,
  );
  return ready === undefined ? undefined : boundsOf(ready);
}

function boundsOf({ value_h, low_h, high_h }: NonNullable<ReturnType<typeof freshReadyAfter>>) {
  return { value: value_h, low: low_h, high: high_h };
}

/** Only where both powders have one. */
function pricesOf(vesselId: string, { vessels }: SiteModel): ChargePrices | undefined {
  const prices = vessels.get(vesselId)?.prices;
  if (prices?.sodiumBicarbonate_perKg === undefined || prices.citricAcid_perKg === undefined)
    return undefined;
  return {
    currency: prices.currency,
    sodiumBicarbonatePricePerKg: prices.sodiumBicarbonate_perKg,
    citricAcidPricePerKg: prices.citricAcid_perKg,
  };
}
