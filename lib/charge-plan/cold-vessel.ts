import { chargeEquilibrium } from "../vessel/charge-equilibrium.js";
import type { Charge } from "../vessel/charge.js";

/**
 * Heat that the reaction takes up per mole of CO2: as gas, and left dissolved. From formation enthalpies of the NBS tables
 * (from memory), with bicarbonate and acid dissolving from crystals.
 */
const heatTaken_kJPerMol = { gas: 37, dissolved: 17 } as const;

/** Specific heats, kJ/(kg K). [CRC2016] */
const heatCapacity_kJPerKgK = { water: 4.18, citricAcid: 1.2, sodiumBicarbonate: 1.04, steel: 0.46 } as const;

/** A steel vessel of 2 L weighs about 2.5 kg: common practice, no source. */
const steel_kgPerL = 1.25;

/**
 * The coldest the vessel can be after sealing, degC, 0 or more: 0 with ice; with water the sealing temperature less what
 * the reaction takes up if nothing comes from the room. An estimate, to within about 5 K.
 * @see [CRC2016] specific heats; [Wagman1982] heat of reaction
 */
export function coldestAfterSealing_degC(charge: Charge): number {
  if ((charge.ice_kg ?? 0) > 0) return 0;
  const start_degC = Math.min(45, Math.max(0, charge.sealedAt_degC));
  const { co2Gas_mol, co2Dissolved_mol } = chargeEquilibrium(charge, start_degC);
  const taken_kJ = heatTaken_kJPerMol.gas * co2Gas_mol + heatTaken_kJPerMol.dissolved * co2Dissolved_mol;
  const heatCapacity_JPerK =
    1000 * heatCapacity_kJPerKgK.water * charge.water_kg +
    heatCapacity_kJPerKgK.citricAcid * charge.acid.mass_g +
    heatCapacity_kJPerKgK.sodiumBicarbonate * charge.sodiumBicarbonate_g +
    1000 * heatCapacity_kJPerKgK.steel * steel_kgPerL * charge.vesselVolume_L;
  return Math.max(0, start_degC - (1000 * taken_kJ) / heatCapacity_JPerK);
}
