import { OutOfValidRangeError } from "../errors.js";
import { gaugeFromAbsolute_bar } from "../quantities/units.js";
import { standardAtmosphere_bar } from "../quantities/physical-constants.js";
import { assertInRange, type ValidRange } from "../quantities/valid-range.js";
import { criticalTemperature_degC } from "../chemistry/carbon-dioxide-saturation.js";
import { vesselInventory, type Charge, type ResidualLiquor, type VesselInventory } from "./charge.js";
import { findRoot } from "./find-root.js";
import type { LiquorSolutes } from "./liquor-activity.js";
import { outsideModel, type OutsideModel } from "./outside-model.js";
import {
  createVesselSolver,
  type HeadspaceAir,
  type VesselPoint,
  type VesselSolver,
} from "./vessel-solver.js";

/** The closed vessel when the reaction is over and gas and liquor are mixed. */
export interface ChargeEquilibrium {
  readonly temperature_degC: number;
  readonly pressureAbsolute_bar: number;
  readonly pressureGauge_bar: number;
  /** Mole fraction of CO2 in the gas times total pressure. */
  readonly co2Pressure_bar: number;
  readonly co2Fugacity_bar: number;
  readonly pH: number;
  readonly co2Gas_mol: number;
  readonly co2Dissolved_mol: number;
  /** Dissolved HCO3- and the pair NaHCO3(aq). */
  readonly bicarbonate_mol: number;
  /** Dissolved CO3-- and the pair NaCO3-. */
  readonly carbonate_mol: number;
  readonly solidBicarbonate_mol: number;
  readonly liquidCo2_mol: number;
  /** All carbon in the vessel, in every form. */
  readonly carbon_mol: number;
  readonly air_mol: number;
  readonly waterVapour_mol: number;
  readonly water_kg: number;
  readonly liquidVolume_L: number;
  readonly gasVolume_L: number;
  readonly ionicStrength_molPerKg: number;
  readonly waterActivity: number;
  readonly solutes: LiquorSolutes;
  readonly outsideModel: readonly OutsideModel[];
}

export const equilibriumTemperatureRange: ValidRange = {
  quantity: "temperature",
  unit: "degC",
  minimum: 0,
  maximum: 45,
};

/**
 * Half-width of the model's error on absolute pressure: three activity models spread over 3 %, the volume of the liquor
 * adds 1 %. Taken as a 95 % bound.
 */
export const modelPressureError_ratio = 0.04;

/** Half-width of the model's error on the CO2 that stays behind as dissolved bicarbonate. */
export const modelBicarbonateError_ratio = 0.25;

const carbonTolerance_ratio = 2e-11;

/**
 * The vessel with a given total of carbon in it.
 * @throws OutOfValidRangeError when the carbon is less than the liquor keeps without any CO2, or so much that gas above the
 *   critical temperature would be denser than 10 mol/L
 */
export function pointWithCarbon(
  solver: VesselSolver,
  carbon_mol: number,
  air: HeadspaceAir,
  guess: { readonly low_molPerL: number; readonly high_molPerL: number; readonly start_molPerL: number },
): VesselPoint {
  let point: VesselPoint | undefined;
  const outcome = findRoot(
    {
      quantity: "density of the CO2 gas",
      low: guess.low_molPerL,
      high: guess.high_molPerL,
      start: guess.start_molPerL,
      slope: solver.roughCapacity_L,
      tolerance: Math.max(carbonTolerance_ratio * carbon_mol, 1e-15),
    },
    (density_molPerL) => {
      point = solver.settle(density_molPerL, air);
      return point.carbon_mol - carbon_mol;
    },
  );
  const last_mol = point?.carbon_mol ?? 0;
  if (outcome.kind === "found" && point !== undefined) return point;
  const fullOfGas = outcome.kind === "above-high" && guess.high_molPerL >= solver.densityLimit_molPerL;
  if (fullOfGas && solver.temperature_degC < criticalTemperature_degC) {
    return solver.settleSaturated(carbon_mol, air);
  }
  throw new OutOfValidRangeError(
    "carbon in the vessel",
    carbon_mol,
    "mol",
    outcome.kind === "below-low" ? last_mol : 0,
    outcome.kind === "above-high" ? last_mol : Infinity,
  );
}

/** The vessel as it was closed, nothing removed. */
export function fullPoint(solver: VesselSolver, inventory: VesselInventory): VesselPoint {
  return pointWithCarbon(
    solver,
    inventory.carbon_mol,
    { kind: "kept", air_mol: inventory.air_mol },
    {
      low_molPerL: 0,
      high_molPerL: solver.densityLimit_molPerL,
      start_molPerL: Math.min(
        (0.95 * inventory.co2Available_mol) / solver.roughCapacity_L,
        0.9 * solver.densityLimit_molPerL,
      ),
    },
  );
}

/** A solved point in the words of the result. */
export function equilibriumAt(
  inventory: VesselInventory,
  temperature_degC: number,
  point: VesselPoint,
): ChargeEquilibrium {
  const { solutes, water_kg } = point;
  const co2Pressure_bar =
    (point.pressureAbsolute_bar * point.co2Gas_mol) /
    (point.co2Gas_mol + point.air_mol + point.waterVapour_mol);
  return {
    temperature_degC,
    pressureAbsolute_bar: point.pressureAbsolute_bar,
    pressureGauge_bar: gaugeFromAbsolute_bar(point.pressureAbsolute_bar),
    co2Pressure_bar,
    co2Fugacity_bar: point.co2Fugacity_bar,
    pH: point.pH,
    co2Gas_mol: point.co2Gas_mol,
    co2Dissolved_mol: point.co2Dissolved_mol,
    bicarbonate_mol: water_kg * (solutes.bicarbonate_molPerKg + solutes.sodiumBicarbonatePair_molPerKg),
    carbonate_mol: water_kg * (solutes.carbonate_molPerKg + solutes.sodiumCarbonatePair_molPerKg),
    solidBicarbonate_mol: point.solidBicarbonate_mol,
    liquidCo2_mol: point.liquidCo2_mol,
    carbon_mol: point.carbon_mol,
    air_mol: point.air_mol,
    waterVapour_mol: point.waterVapour_mol,
    water_kg,
    liquidVolume_L: point.liquidVolume_L,
    gasVolume_L: point.gasVolume_L,
    ionicStrength_molPerKg: point.ionicStrength_molPerKg,
    waterActivity: point.waterActivity,
    solutes,
    outsideModel: outsideModel(inventory, point, { temperature_degC, co2Pressure_bar }),
  };
}

/**
 * Equilibrium of a closed vessel with citric acid, sodium bicarbonate, water and air at 0 to 45 degC. The water that the
 * reaction makes, solid bicarbonate, and liquid CO2 (flagged) are counted; citrate salts, hydrate and the time it takes
 * are not. Absolute pressure within 4 %; mass and charge close to 1e-9.
 * @throws OutOfValidRangeError for a temperature outside 0 to 45 degC, for a charge that vesselInventory refuses, and when
 *   liquor or CO2 would overfill the vessel
 * @throws NoConvergenceError when a balance does not close
 * @see [Grenthe1997], [ThermoChimie2014], [PlummerBusenberg1982], [Goldberg2002], [SpanWagner1996]
 */
export function chargeEquilibrium(charge: Charge, temperature_degC: number): ChargeEquilibrium {
  assertInRange(temperature_degC, equilibriumTemperatureRange);
  const inventory = vesselInventory(charge);
  const solver = createVesselSolver(inventory, temperature_degC);
  return equilibriumAt(inventory, temperature_degC, fullPoint(solver, inventory));
}

/**
 * Liquor that stays in the vessel when it was opened, stirred, and not emptied: a share of the old charge, after its gas
 * went off at 1 atm of CO2.
 * @param kept.volume_L how much was left in, 0 to all of the old liquor
 * @throws OutOfValidRangeError as chargeEquilibrium, and for more liquor than there is
 * @see [PlummerBusenberg1982], [Grenthe1997]
 */
export function residualLiquor(
  spent: Charge,
  kept: { readonly volume_L: number; readonly openedAt_degC: number },
): ResidualLiquor {
  assertInRange(kept.openedAt_degC, equilibriumTemperatureRange);
  const inventory = vesselInventory(spent);
  const solver = createVesselSolver(inventory, kept.openedAt_degC);
  const air: HeadspaceAir = { kind: "kept", air_mol: 0 };
  const full = fullPoint(solver, inventory);
  const atmospheric_molPerL = solver.idealDensity_molPerL(standardAtmosphere_bar);
  const opened = solver.settle(Math.min(full.co2Density_molPerL, atmospheric_molPerL), air);
  assertInRange(kept.volume_L, {
    quantity: "residual liquor",
    unit: "L",
    minimum: 0,
    maximum: opened.liquidVolume_L,
  });
  const share = kept.volume_L / opened.liquidVolume_L;
  const solid_mol = opened.solidBicarbonate_mol;
  return {
    volume_L: kept.volume_L,
    citrate_mol: share * inventory.citrate_mol,
    sodium_mol: share * (inventory.sodium_mol - solid_mol),
    inorganicCarbon_mol: share * (opened.carbon_mol - opened.co2Gas_mol - solid_mol),
    waterBasis_mol: share * (inventory.waterBasis_mol - opened.waterVapour_mol - solid_mol),
  };
}
