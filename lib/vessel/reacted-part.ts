import { waterDensity_kgPerL } from "../chemistry/water-properties.js";
import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { equilibriumAt, fullPoint, type ChargeEquilibrium } from "./charge-equilibrium.js";
import { sealedGasSpace_L, vesselInventory, type Charge, type VesselInventory } from "./charge.js";
import { createVesselSolver } from "./vessel-solver.js";

/** How far a charge has come since it was closed. */
export interface ChargeProgress {
  /** 0 to 45. */
  readonly temperature_degC: number;
  /** Share of the added water, ice counted, that is liquid. */
  readonly melted_ratio: number;
  /** Share of acid and bicarbonate that has met the liquor; never above the melted share. */
  readonly reacted_ratio: number;
}

/**
 * Which water the CO2 of the reacted part shares: all that is liquid, or only the share in which the reaction ran, the
 * rest lying over it unmixed and without CO2.
 */
export type LiquorMixing = "all-liquid" | "reacted-share";

export interface PartlyReacted {
  readonly water_kg: number;
  /** Carbon in the vessel at any time: reacted, waiting as crystals, and from residual liquor. */
  readonly carbon_mol: number;
  /** Bicarbonate put in with this charge. */
  readonly sodiumBicarbonate_mol: number;
  /** Gas and liquor at equilibrium over what has reacted so far. */
  equilibrium(progress: ChargeProgress, mixing: LiquorMixing): ChargeEquilibrium;
}

/** [CRC2016] */
const iceDensity_kgPerL = 0.9167;

/** The model needs some water to count in; with less than this, next to nothing has reacted. */
const leastLiquid_kg = 0.005;

/**
 * A charge of which only a part has reacted: the reacted part is a charge of its own in the room that ice, waiting
 * crystals and unmixed water leave it, under all the air. Errors as vesselInventory and chargeEquilibrium.
 * @throws OutOfValidRangeError for a charge that vesselInventory refuses
 * @see [CRC2016] density of ice; the rest is a mass balance
 */
export function partlyReacted(charge: Charge): PartlyReacted {
  const whole = vesselInventory(charge);
  const residual = charge.residualLiquor;
  const water_kg = charge.water_kg + (charge.ice_kg ?? 0);
  const withoutCrystals: Charge = {
    ...charge,
    acid: { kind: charge.acid.kind, mass_g: 0 },
    sodiumBicarbonate_g: 0,
  };
  const crystals_L = sealedGasSpace_L(withoutCrystals) - sealedGasSpace_L(charge);
  const acid_mol = whole.citrate_mol - (residual?.citrate_mol ?? 0);
  const sodiumBicarbonate_mol = whole.sodium_mol - (residual?.sodium_mol ?? 0);
  const addedWater_mol = (water_kg * 1000) / molarMass_gPerMol.water;
  const residualWater_mol = residual?.waterBasis_mol ?? 0;
  /** Crystal water of the acid, and what the reaction makes. */
  const reactionWater_mol = whole.waterBasis_mol - addedWater_mol - residualWater_mol;

  const inventoryAt = (progress: ChargeProgress, mixing: LiquorMixing): VesselInventory => {
    const { reacted_ratio, melted_ratio } = progress;
    const liquid_kg = Math.max(leastLiquid_kg, melted_ratio * water_kg);
    const mixed_kg =
      mixing === "all-liquid"
        ? liquid_kg
        : Math.min(liquid_kg, Math.max(leastLiquid_kg, reacted_ratio * water_kg));
    const ice_L = (water_kg * (1 - melted_ratio)) / iceDensity_kgPerL;
    const unmixed_L = (liquid_kg - mixed_kg) / waterDensity_kgPerL(progress.temperature_degC);
    const citrate_mol = (residual?.citrate_mol ?? 0) + reacted_ratio * acid_mol;
    const sodium_mol = (residual?.sodium_mol ?? 0) + reacted_ratio * sodiumBicarbonate_mol;
    const carbon_mol = (residual?.inorganicCarbon_mol ?? 0) + reacted_ratio * sodiumBicarbonate_mol;
    return {
      vesselVolume_L: whole.vesselVolume_L - ice_L - unmixed_L - (1 - reacted_ratio) * crystals_L,
      citrate_mol,
      sodium_mol,
      carbon_mol,
      waterBasis_mol:
        residualWater_mol + reacted_ratio * reactionWater_mol + (mixed_kg * 1000) / molarMass_gPerMol.water,
      air_mol: whole.air_mol,
      co2Available_mol: Math.max(0, carbon_mol - Math.max(0, sodium_mol - 3 * citrate_mol)),
    };
  };

  return {
    water_kg,
    carbon_mol: whole.carbon_mol,
    sodiumBicarbonate_mol,
    equilibrium: (progress, mixing) => {
      const inventory = inventoryAt(progress, mixing);
      const solver = createVesselSolver(inventory, progress.temperature_degC);
      return equilibriumAt(inventory, progress.temperature_degC, fullPoint(solver, inventory));
    },
  };
}
