import { residualLiquorOf } from "../../lib/charge-plan/residual-liquor.js";
import type { Charge, WeighedAcid } from "../../lib/vessel/charge.js";

/** The keys of a charge as the config has them. */
export interface ChargeKeys {
  readonly sodiumBicarbonate_g: number;
  readonly citricAcidAnhydrous_g?: number;
  readonly citricAcidMonohydrate_g?: number;
  readonly water_kg: number;
  readonly closedWith: "water" | "ice";
  readonly residualLiquor_L?: number;
  readonly sealedAt_degC: number;
}

/** At which the liquor that was left in stood open. */
const openedAt_degC = 20;

/**
 * The charge that the config describes. Liquor that was left in is taken as that of the same recipe, spent: nobody wrote
 * down another.
 * @throws OutOfValidRangeError, NoConvergenceError as residualLiquorOf
 */
export function configuredCharge(vesselVolume_L: number, keys: ChargeKeys): Charge {
  const isIce = keys.closedWith === "ice";
  const charge: Charge = {
    vesselVolume_L,
    water_kg: isIce ? 0 : keys.water_kg,
    ...(isIce ? { ice_kg: keys.water_kg } : {}),
    acid: acidOf(keys),
    sodiumBicarbonate_g: keys.sodiumBicarbonate_g,
    sealedAt_degC: keys.sealedAt_degC,
  };
  const volume_L = keys.residualLiquor_L ?? 0;
  if (volume_L === 0) return charge;
  return {
    ...charge,
    residualLiquor: residualLiquorOf(charge, { volume_L, temperature_degC: openedAt_degC }),
  };
}

function acidOf({ citricAcidAnhydrous_g, citricAcidMonohydrate_g }: ChargeKeys): WeighedAcid {
  return citricAcidMonohydrate_g === undefined
    ? { kind: "citric-acid-anhydrous", mass_g: citricAcidAnhydrous_g ?? 0 }
    : { kind: "citric-acid-monohydrate", mass_g: citricAcidMonohydrate_g };
}
