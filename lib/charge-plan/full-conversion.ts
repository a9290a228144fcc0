import { carbonDioxideIsotherm } from "../chemistry/carbon-dioxide-gas.js";
import { sodiumInteraction_kgPerMol } from "../chemistry/specific-ion.js";
import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { gaugeFromAbsolute_bar } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";
import { equilibriumTemperatureRange } from "../vessel/charge-equilibrium.js";
import type { VesselInventory } from "../vessel/charge.js";
import { findRoot } from "../vessel/find-root.js";
import { liquorConstants, molarVolume_LPerMol as volume } from "../vessel/liquor-constants.js";

/** The vessel if no bicarbonate stayed behind that the acid can set free. */
export interface FullConversion {
  /** Infinity when the CO2 does not fit in as a gas. */
  readonly pressureGauge_bar: number;
  readonly gasVolume_L: number;
  readonly ionicStrength_molPerKg: number;
}

/** Volume of a mole of citrate that keeps so many of its three protons: 0 to 3, linear in between. */
function citrateVolume_LPerMol(protons: number): number {
  const volumes = [volume.citrate, volume.hydrogenCitrate, volume.dihydrogenCitrate, volume.citricAcid];
  const below = Math.min(2, Math.floor(protons));
  const lower = volumes[below] ?? volume.citrate;
  const upper = volumes[below + 1] ?? volume.citricAcid;
  return lower + (protons - below) * (upper - lower);
}

/**
 * Pressure of a closed charge when all CO2 that the acid can set free is free, as gas or dissolved: the bicarbonate that
 * the equilibrium keeps in the liquor counts as freed as well, and all sodium salts CO2 out. The upper end for safety; the
 * equilibrium lies below it. 0 to 45 degC.
 * @throws OutOfValidRangeError for a temperature outside 0 to 45 degC
 * @throws NoConvergenceError when the gas density is not found
 * @see [SpanWagner1996] gas, [PlummerBusenberg1982] solubility, [Grenthe1997] salting-out, [Tsonopoulos1974] air in the gas
 */
export function fullConversion(inventory: VesselInventory, temperature_degC: number): FullConversion {
  assertInRange(temperature_degC, equilibriumTemperatureRange);
  const { sodium_mol, citrate_mol, co2Available_mol, air_mol, vesselVolume_L } = inventory;
  const constants = liquorConstants(temperature_degC);
  const isotherm = carbonDioxideIsotherm(temperature_degC);
  const bicarbonateLeft_mol = inventory.carbon_mol - co2Available_mol;
  const boundSodium_mol = sodium_mol - bicarbonateLeft_mol;
  const protons = citrate_mol > 0 ? Math.min(3, Math.max(0, 3 - boundSodium_mol / citrate_mol)) : 0;
  const water_kg = ((inventory.waterBasis_mol - bicarbonateLeft_mol) * molarMass_gPerMol.water) / 1000;
  const charges = 3 - protons;
  const ionicStrength_molPerKg =
    (sodium_mol + bicarbonateLeft_mol + charges * charges * citrate_mol) / (2 * water_kg);
  const saltedOut = 10 ** (sodiumInteraction_kgPerMol.carbonDioxide * (sodium_mol / water_kg));
  const liquorWithoutCo2_L =
    water_kg * constants.waterVolume_LPerKg +
    citrate_mol * citrateVolume_LPerMol(protons) +
    sodium_mol * volume.sodium +
    bicarbonateLeft_mol * volume.bicarbonate;

  const settle = (density_molPerL: number) => {
    const gas = isotherm.stateAt(density_molPerL);
    // Air sits in the gas and raises its fugacity by a few parts in a thousand; the gas space moves that by far less.
    const roughGas_L = Math.max(vesselVolume_L - liquorWithoutCo2_L, 1e-3);
    const fugacity_bar =
      gas.fugacity_bar * Math.exp((2 * constants.crossVirial_LPerMol * air_mol) / roughGas_L);
    const dissolved_mol = (water_kg * constants.henry_molPerKgBar * fugacity_bar) / saltedOut;
    const gasVolume_L = vesselVolume_L - liquorWithoutCo2_L - dissolved_mol * volume.carbonDioxide;
    const airDensity_molPerL = air_mol / gasVolume_L;
    const pressureAbsolute_bar =
      gas.pressureAbsolute_bar +
      constants.RT_LBarPerMol *
        (airDensity_molPerL * (1 + 2 * constants.crossVirial_LPerMol * density_molPerL) +
          constants.vapourDensity_molPerL);
    return { gasVolume_L, pressureAbsolute_bar, co2_mol: density_molPerL * gasVolume_L + dissolved_mol };
  };

  const empty = settle(0);
  const overfull: FullConversion = {
    pressureGauge_bar: Infinity,
    gasVolume_L: Math.max(0, empty.gasVolume_L),
    ionicStrength_molPerKg,
  };
  // Below a hundredth of the vessel the liquor itself would press.
  if (empty.gasVolume_L < 0.01 * vesselVolume_L) return overfull;
  const capacity_L =
    empty.gasVolume_L + (water_kg * constants.henry_molPerKgBar * constants.RT_LBarPerMol) / saltedOut;
  const outcome = findRoot(
    {
      quantity: "density of the CO2 gas at full conversion",
      low: 0,
      high: isotherm.densityLimit_molPerL,
      start: co2Available_mol / capacity_L,
      slope: capacity_L,
      tolerance: Math.max(1e-10 * co2Available_mol, 1e-14),
    },
    (density_molPerL) => settle(density_molPerL).co2_mol - co2Available_mol,
  );
  if (outcome.kind === "above-high") return overfull;
  const full = outcome.kind === "found" ? settle(outcome.at) : empty;
  return {
    pressureGauge_bar: gaugeFromAbsolute_bar(full.pressureAbsolute_bar),
    gasVolume_L: full.gasVolume_L,
    ionicStrength_molPerKg,
  };
}
