import { gasConstant_LBarPerMolK } from "../chemistry/gas-mixture.js";
import { waterDensity_kgPerL } from "../chemistry/water-properties.js";
import { OutOfValidRangeError } from "../errors.js";
import { molarMass_gPerMol, standardAtmosphere_bar } from "../quantities/physical-constants.js";
import { kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange, type ValidRange } from "../quantities/valid-range.js";

/** Citric acid as it is weighed: with or without its water of crystallisation. */
export interface WeighedAcid {
  readonly kind: "citric-acid-anhydrous" | "citric-acid-monohydrate";
  readonly mass_g: number;
}

/** What a rinse would have taken out: liquor of an earlier charge that stays in the vessel. */
export interface ResidualLiquor {
  readonly volume_L: number;
  readonly citrate_mol: number;
  readonly sodium_mol: number;
  /** CO2, bicarbonate and carbonate together. */
  readonly inorganicCarbon_mol: number;
  /** As in VesselInventory. */
  readonly waterBasis_mol: number;
}

/** One filling of a rigid vessel, closed before any CO2 is lost. */
export interface Charge {
  readonly vesselVolume_L: number;
  readonly water_kg: number;
  /** Water put in as ice, besides `water_kg`. */
  readonly ice_kg?: number;
  readonly acid: WeighedAcid;
  readonly sodiumBicarbonate_g: number;
  readonly sealedAt_degC: number;
  /** Air that is shut in. Left out: dry air at 1 atm fills what the water and the crystals leave free. */
  readonly trappedAir_mol?: number;
  readonly residualLiquor?: ResidualLiquor;
}

/** The charge counted in moles of what reactions do not change. */
export interface VesselInventory {
  readonly vesselVolume_L: number;
  readonly citrate_mol: number;
  readonly sodium_mol: number;
  readonly carbon_mol: number;
  /** The water there would be if all carbon were CO2 and all sodium bound to acid: each bicarbonate ion takes one mole back. */
  readonly waterBasis_mol: number;
  readonly air_mol: number;
  /** CO2 that the acid can set free. */
  readonly co2Available_mol: number;
}

/** Crystal densities. [CRC2016] */
const crystalDensity_kgPerL = {
  "citric-acid-anhydrous": 1.665,
  "citric-acid-monohydrate": 1.542,
  sodiumBicarbonate: 2.2,
  ice: 0.9167,
} as const;

export const solidBicarbonateVolume_LPerMol =
  molarMass_gPerMol.sodiumBicarbonate / 1000 / crystalDensity_kgPerL.sodiumBicarbonate;

/** The least gas space over the unreacted charge: less, and warming or dissolved CO2 could fill the vessel with liquid. */
export const leastGasSpace_ratio = 0.05;

const ranges = {
  vesselVolume: { quantity: "vessel volume", unit: "L", minimum: 0.05, maximum: 50 },
  sealedAt: { quantity: "sealing temperature", unit: "degC", minimum: -20, maximum: 50 },
  /** Citric acid above this would not dissolve whole, and the activity model knows nothing so strong. */
  citratePerWater: { quantity: "citric acid in the water", unit: "mol/kg", minimum: 0, maximum: 5 },
} as const satisfies Record<string, ValidRange>;

const leastWater_kg = 0.01;

function acidMolarMass_gPerMol(acid: WeighedAcid): number {
  return acid.kind === "citric-acid-anhydrous"
    ? molarMass_gPerMol.citricAcidAnhydrous
    : molarMass_gPerMol.citricAcidMonohydrate;
}

/**
 * Volume that is left for gas at the moment of sealing, before anything dissolves, L.
 * @throws OutOfValidRangeError for negative or absurd amounts, solids that overfill the vessel, or water that does not
 *   fit beside them with 5 % of gas space
 * @see [CRC2016] crystal densities
 */
export function sealedGasSpace_L(charge: Charge): number {
  const { vesselVolume_L, acid, sodiumBicarbonate_g } = charge;
  const ice_kg = charge.ice_kg ?? 0;
  assertInRange(vesselVolume_L, ranges.vesselVolume);
  assertInRange(charge.sealedAt_degC, ranges.sealedAt);
  const massLimit_g = vesselVolume_L * 2200;
  for (const [quantity, mass_g] of [
    ["citric acid", acid.mass_g],
    ["sodium bicarbonate", sodiumBicarbonate_g],
  ] as const) {
    assertInRange(mass_g, { quantity, unit: "g", minimum: 0, maximum: massLimit_g });
  }
  const residual_L = charge.residualLiquor?.volume_L ?? 0;
  assertInRange(residual_L, { quantity: "residual liquor", unit: "L", minimum: 0, maximum: vesselVolume_L });
  const acid_L = acid.mass_g / 1000 / crystalDensity_kgPerL[acid.kind];
  const bicarbonate_L = sodiumBicarbonate_g / 1000 / crystalDensity_kgPerL.sodiumBicarbonate;
  const fillable_L = vesselVolume_L * (1 - leastGasSpace_ratio) - residual_L;
  const solids_L = acid_L + bicarbonate_L;
  if (solids_L > fillable_L) {
    const solids_g = acid.mass_g + sodiumBicarbonate_g;
    throw new OutOfValidRangeError(
      "citric acid and sodium bicarbonate together",
      solids_g,
      "g",
      0,
      Math.max(0, (solids_g * fillable_L) / solids_L),
    );
  }
  assertInRange(ice_kg, { quantity: "ice", unit: "kg", minimum: 0, maximum: vesselVolume_L });
  const ice_L = ice_kg / crystalDensity_kgPerL.ice;
  // Water below its freezing point is not refused: acid and salt keep it liquid.
  const density_kgPerL = waterDensity_kgPerL(Math.max(0, charge.sealedAt_degC));
  const waterThatFits_kg = (fillable_L - solids_L - ice_L) * density_kgPerL;
  const residualWater_kg = residual_L > 0 ? leastWater_kg : 0;
  assertInRange(charge.water_kg, {
    quantity: "water",
    unit: "kg",
    minimum: Math.max(0, leastWater_kg - ice_kg - residualWater_kg),
    maximum: Math.max(0, waterThatFits_kg),
  });
  return vesselVolume_L - residual_L - solids_L - ice_L - charge.water_kg / density_kgPerL;
}

/**
 * The charge in moles of citrate, sodium, carbon, water and air.
 * @throws OutOfValidRangeError as sealedGasSpace_L, and when there is too little water for the acid
 * @see [IUPAC2021] molar masses
 */
export function vesselInventory(charge: Charge): VesselInventory {
  const gasSpace_L = sealedGasSpace_L(charge);
  const residual = charge.residualLiquor;
  const acid_mol = charge.acid.mass_g / acidMolarMass_gPerMol(charge.acid);
  const bicarbonate_mol = charge.sodiumBicarbonate_g / molarMass_gPerMol.sodiumBicarbonate;
  const crystalWater_mol = charge.acid.kind === "citric-acid-monohydrate" ? acid_mol : 0;
  const addedWater_mol = ((charge.water_kg + (charge.ice_kg ?? 0)) * 1000) / molarMass_gPerMol.water;
  const citrate_mol = acid_mol + (residual?.citrate_mol ?? 0);
  const sodium_mol = bicarbonate_mol + (residual?.sodium_mol ?? 0);
  const carbon_mol = bicarbonate_mol + (residual?.inorganicCarbon_mol ?? 0);
  const waterBasis_mol =
    addedWater_mol + crystalWater_mol + bicarbonate_mol + (residual?.waterBasis_mol ?? 0);
  for (const [quantity, amount_mol] of [
    ["citrate in the residual liquor", residual?.citrate_mol ?? 0],
    ["sodium in the residual liquor", residual?.sodium_mol ?? 0],
    ["carbon in the residual liquor", residual?.inorganicCarbon_mol ?? 0],
    ["water in the residual liquor", residual?.waterBasis_mol ?? 0],
  ] as const) {
    assertInRange(amount_mol, { quantity, unit: "mol", minimum: 0, maximum: 60 * charge.vesselVolume_L });
  }
  const dissolvingWater_kg = ((waterBasis_mol - bicarbonate_mol) * molarMass_gPerMol.water) / 1000;
  assertInRange(citrate_mol / dissolvingWater_kg, ranges.citratePerWater);
  const air_mol =
    charge.trappedAir_mol ??
    (standardAtmosphere_bar * gasSpace_L) /
      (gasConstant_LBarPerMolK * kelvinFromCelsius(charge.sealedAt_degC));
  assertInRange(air_mol, {
    quantity: "trapped air",
    unit: "mol",
    minimum: 0,
    maximum: charge.vesselVolume_L,
  });
  return {
    vesselVolume_L: charge.vesselVolume_L,
    citrate_mol,
    sodium_mol,
    carbon_mol,
    waterBasis_mol,
    air_mol,
    co2Available_mol: Math.max(0, carbon_mol - Math.max(0, sodium_mol - 3 * citrate_mol)),
  };
}
