import { ionicStrengthRange } from "../chemistry/specific-ion.js";
import type { VesselInventory } from "./charge.js";
import type { VesselPoint } from "./vessel-solver.js";

/** Why a result may be wrong by more than the model's own error, in words for the person at the vessel. */
export interface OutsideModel {
  readonly kind: "hydrate" | "citrate-salt" | "liquid-carbon-dioxide" | "ionic-strength";
  readonly reason: string;
}

/**
 * CO2 pressure above which its hydrate can form in pure water; ends at 10 degC, at 45 bar [TakenouchiKennedy1965]. The two
 * below are from memory [SloanKoh2008]; their line meets the measured quadruple point with ice, -1.55 degC and 10.44 bar, to
 * 1 % [Semenov2023].
 */
const hydrateLine = [
  { temperature_degC: 0, pressure_bar: 12.6 },
  { temperature_degC: 5, pressure_bar: 23 },
  { temperature_degC: 10, pressure_bar: 45 },
] as const;

/** The least of the handbook values for trisodium citrate at 20 to 25 degC, g of anhydrous salt per 100 g of water. */
const citrateSolubility_gPerKg = 570;

const trisodiumCitrate_gPerMol = 258.07;

/**
 * Lowest CO2 pressure at which the hydrate can form, bar, or undefined above 10 degC, where it cannot below 45 bar. Salt
 * and acid raise it, so that this line is on the careful side. 0 to 10 degC.
 * @see [TakenouchiKennedy1965], [Semenov2023]; [SloanKoh2008] (values from memory)
 */
export function hydratePressure_bar(temperature_degC: number): number | undefined {
  for (let k = 1; k < hydrateLine.length; k += 1) {
    const lower = hydrateLine[k - 1];
    const upper = hydrateLine[k];
    if (lower === undefined || upper === undefined || temperature_degC > upper.temperature_degC) continue;
    const share =
      (temperature_degC - lower.temperature_degC) / (upper.temperature_degC - lower.temperature_degC);
    return lower.pressure_bar * (upper.pressure_bar / lower.pressure_bar) ** share;
  }
  return undefined;
}

/** What the equilibrium model leaves out and this state calls for. Empty for an ordinary charge. */
export function outsideModel(
  inventory: VesselInventory,
  point: VesselPoint,
  state: { readonly temperature_degC: number; readonly co2Pressure_bar: number },
): readonly OutsideModel[] {
  const found: OutsideModel[] = [];
  const hydrate_bar = hydratePressure_bar(state.temperature_degC);
  if (hydrate_bar !== undefined && state.co2Pressure_bar > hydrate_bar) {
    found.push({
      kind: "hydrate",
      reason:
        `CO2 at ${state.co2Pressure_bar.toFixed(1)} bar is above the ${hydrate_bar.toFixed(1)} bar at which solid ` +
        "CO2 hydrate can form in cold water: the cold pressure may be lower than shown and rises when the vessel warms",
    });
  }
  if (point.liquidCo2_mol > 0) {
    found.push({
      kind: "liquid-carbon-dioxide",
      reason:
        "the CO2 is at its saturation pressure and part of it is liquid: pressure no longer shows the contents",
    });
  }
  const { solutes } = point;
  const citrateBoundSodium_molPerKg =
    3 * solutes.citrate_molPerKg + 2 * solutes.hydrogenCitrate_molPerKg + solutes.dihydrogenCitrate_molPerKg;
  const trisodiumCitrate_gPerKg = (citrateBoundSodium_molPerKg / 3) * trisodiumCitrate_gPerMol;
  if (inventory.citrate_mol > 0 && trisodiumCitrate_gPerKg > citrateSolubility_gPerKg) {
    found.push({
      kind: "citrate-salt",
      reason:
        `${(trisodiumCitrate_gPerKg / 10).toFixed(0)} g of sodium citrate in 100 g of water can crystallise ` +
        `(above ${String(citrateSolubility_gPerKg / 10)} g): a crust may hold back reactants`,
    });
  }
  if (point.ionicStrength_molPerKg > ionicStrengthRange.maximum) {
    found.push({
      kind: "ionic-strength",
      reason:
        `ionic strength ${point.ionicStrength_molPerKg.toFixed(1)} mol/kg is above ` +
        `${String(ionicStrengthRange.maximum)}, where the activity model is not known to hold`,
    });
  }
  return found;
}
