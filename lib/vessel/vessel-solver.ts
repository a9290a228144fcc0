import { carbonDioxideIsotherm } from "../chemistry/carbon-dioxide-gas.js";
import { saturatedLiquidDensity_molPerL } from "../chemistry/carbon-dioxide-saturation.js";
import { NoConvergenceError, OutOfValidRangeError } from "../errors.js";
import { solidBicarbonateVolume_LPerMol, type VesselInventory } from "./charge.js";
import {
  ionicStrengthOf_molPerKg,
  liquorActivity,
  liquorWaterActivity,
  sodiumSurroundings,
  type LiquorSolutes,
} from "./liquor-activity.js";
import { balanceCharge } from "./liquor-charge-balance.js";
import {
  liquorConstants,
  molarVolume_LPerMol as volume,
  waterMolarMass_kgPerMol,
} from "./liquor-constants.js";

/** The vessel at equilibrium with CO2 gas of one density above the liquor. */
export interface VesselPoint {
  readonly co2Density_molPerL: number;
  readonly pressureAbsolute_bar: number;
  readonly co2Fugacity_bar: number;
  readonly pH: number;
  readonly ionicStrength_molPerKg: number;
  readonly waterActivity: number;
  readonly water_kg: number;
  readonly waterVapour_mol: number;
  readonly liquidVolume_L: number;
  readonly gasVolume_L: number;
  readonly air_mol: number;
  readonly co2Gas_mol: number;
  readonly co2Dissolved_mol: number;
  readonly solidBicarbonate_mol: number;
  /** CO2 beyond saturation, as a liquid of its own. */
  readonly liquidCo2_mol: number;
  /** All carbon in the vessel. */
  readonly carbon_mol: number;
  readonly solutes: LiquorSolutes;
}

/** Air in the headspace: a fixed amount, or what is left after CO2 has carried it out since an earlier point. */
export type HeadspaceAir =
  | { readonly kind: "kept"; readonly air_mol: number }
  | { readonly kind: "swept"; readonly from: VesselPoint };

export interface VesselSolver {
  readonly temperature_degC: number;
  /** Moles of CO2 that gas space and water take up for each mol/L of gas, for a first guess. */
  readonly roughCapacity_L: number;
  idealDensity_molPerL(pressure_bar: number): number;
  /** The densest CO2 gas there can be: saturated vapour, or 10 mol/L above the critical temperature. */
  readonly densityLimit_molPerL: number;
  /** Equilibrium at a given density of the CO2 gas. */
  settle(co2Density_molPerL: number, air: HeadspaceAir): VesselPoint;
  /** Equilibrium with liquid CO2 beside saturated gas, for a given total of carbon. Below 30.98 degC only. */
  settleSaturated(carbon_mol: number, air: HeadspaceAir): VesselPoint;
}

/** Less gas than this share of the vessel, and the liquid itself would press. */
const leastGasSpace_ratio = 0.01;
const passLimit = 200;
const passTolerance = 2e-12;

/** Air that remains when CO2 goes from one point to another: both leave in the ratio in which they fill the gas space. */
function sweptAir_mol(from: VesselPoint, carbon_mol: number, co2Gas_mol: number): number {
  if (co2Gas_mol <= 0) return 0;
  const lost_mol = from.carbon_mol - carbon_mol;
  const spread_mol = from.co2Gas_mol - co2Gas_mol;
  // Integral of d(carbon) / (CO2 in the gas), with the gas linear in the carbon over this span.
  const integral =
    Math.abs(spread_mol) < 1e-6 * co2Gas_mol
      ? (2 * lost_mol) / (from.co2Gas_mol + co2Gas_mol)
      : (lost_mol * Math.log(from.co2Gas_mol / co2Gas_mol)) / spread_mol;
  return from.air_mol * Math.exp(-integral);
}

/** Dissolved sodium, paired or free. */
function sodiumIn_molPerKg(solutes: LiquorSolutes): number {
  return (
    solutes.sodium_molPerKg + solutes.sodiumBicarbonatePair_molPerKg + solutes.sodiumCarbonatePair_molPerKg
  );
}

/** Dissolved bicarbonate and carbonate, paired or free. */
function heldCarbon_molPerKg(solutes: LiquorSolutes): number {
  return (
    solutes.bicarbonate_molPerKg +
    solutes.sodiumBicarbonatePair_molPerKg +
    solutes.carbonate_molPerKg +
    solutes.sodiumCarbonatePair_molPerKg
  );
}

function soluteVolume_LPerKg(solutes: LiquorSolutes): number {
  return (
    volume.citrate * solutes.citrate_molPerKg +
    volume.hydrogenCitrate * solutes.hydrogenCitrate_molPerKg +
    volume.dihydrogenCitrate * solutes.dihydrogenCitrate_molPerKg +
    volume.citricAcid * solutes.citricAcid_molPerKg +
    volume.carbonDioxide * solutes.carbonDioxide_molPerKg +
    volume.sodium * sodiumIn_molPerKg(solutes) +
    volume.bicarbonate * heldCarbon_molPerKg(solutes)
  );
}

/** What one pass hands to the next, and one answer to the neighbouring one. */
interface Environment {
  readonly lnHydrogen: number;
  readonly ionicStrength_molPerKg: number;
  readonly sodium_molPerKg: number;
  readonly surroundings: number;
  readonly waterActivity: number;
  readonly water_kg: number;
  readonly gasVolume_L: number;
  readonly air_mol: number;
}

function widestDifference(before: Environment, after: Environment): number {
  return Math.max(
    Math.abs(after.lnHydrogen - before.lnHydrogen),
    Math.abs(after.ionicStrength_molPerKg - before.ionicStrength_molPerKg) /
      (before.ionicStrength_molPerKg + 1e-6),
    Math.abs(after.water_kg - before.water_kg) / before.water_kg,
    Math.abs(after.gasVolume_L - before.gasVolume_L) / before.gasVolume_L,
    Math.abs(after.waterActivity - before.waterActivity),
    Math.abs(after.air_mol - before.air_mol) / (before.air_mol + 1e-3),
  );
}

/**
 * A solver for one charge at one temperature, 0 to 50 degC. The charge balance is closed exactly in every pass; activity,
 * water, gas space and air follow by passes until none of them moves by more than 2e-12. Each answer starts from the
 * one before, so that neighbouring points cost little.
 * @throws OutOfValidRangeError for a temperature outside 0 to 50 degC, or when the liquor leaves no gas space
 * @throws NoConvergenceError after 200 passes
 * @see [Grenthe1997] activity, [SpanWagner1996] gas, [Tsonopoulos1974] air in it
 */
export function createVesselSolver(inventory: VesselInventory, temperature_degC: number): VesselSolver {
  const constants = liquorConstants(temperature_degC);
  const isotherm = carbonDioxideIsotherm(temperature_degC);
  const { densityLimit_molPerL } = isotherm;
  const allWater_kg = inventory.waterBasis_mol * waterMolarMass_kgPerMol;
  let start: Environment = {
    lnHydrogen: Math.log(1e-5),
    ionicStrength_molPerKg: (2 * inventory.sodium_mol) / allWater_kg + 1e-7,
    sodium_molPerKg: inventory.sodium_mol / allWater_kg,
    surroundings: 0,
    waterActivity: 0.95,
    water_kg: allWater_kg,
    gasVolume_L: inventory.vesselVolume_L / 2,
    air_mol: inventory.air_mol,
  };

  const solve = (
    density_molPerL: number,
    air: HeadspaceAir,
    carbonWithLiquidCo2_mol: number | undefined,
  ): VesselPoint => {
    const gas = isotherm.stateAt(density_molPerL);
    const liquidCo2_LPerMol =
      carbonWithLiquidCo2_mol === undefined ? 0 : 1 / saturatedLiquidDensity_molPerL(temperature_degC);
    let now = air.kind === "kept" ? { ...start, air_mol: air.air_mol } : start;
    let difference = Infinity;
    for (let pass = 0; pass < passLimit; pass += 1) {
      const { ionicStrength_molPerKg, water_kg, waterActivity, gasVolume_L } = now;
      const airDensity_molPerL = now.air_mol / gasVolume_L;
      const co2Fugacity_bar =
        gas.fugacity_bar * Math.exp(2 * constants.crossVirial_LPerMol * airDensity_molPerL);
      const gamma = liquorActivity(
        constants.debyeHuckelLn,
        ionicStrength_molPerKg,
        now.sodium_molPerKg,
        now.surroundings,
      );
      const { solutes, saturated, lnHydrogen } = balanceCharge(
        constants,
        gamma,
        {
          co2Fugacity_bar,
          waterActivity,
          citrateTotal_molPerKg: inventory.citrate_mol / water_kg,
          sodiumTotal_molPerKg: inventory.sodium_mol / water_kg,
        },
        now.lnHydrogen,
      );
      const solid_mol = saturated
        ? Math.max(0, inventory.sodium_mol - water_kg * sodiumIn_molPerKg(solutes))
        : 0;
      const retained_mol = solid_mol + water_kg * heldCarbon_molPerKg(solutes);
      const dissolved_mol = water_kg * solutes.carbonDioxide_molPerKg;
      const vapourDensity_molPerL = constants.vapourDensity_molPerL * waterActivity;
      const vapour_mol = vapourDensity_molPerL * gasVolume_L;
      const hydroxide_mol = water_kg * solutes.hydroxide_molPerKg;

      const liquidVolume_L = water_kg * (constants.waterVolume_LPerKg + soluteVolume_LPerKg(solutes));
      const room_L = inventory.vesselVolume_L - liquidVolume_L - solid_mol * solidBicarbonateVolume_LPerMol;
      const liquidCo2_mol =
        carbonWithLiquidCo2_mol === undefined
          ? 0
          : Math.max(
              0,
              (carbonWithLiquidCo2_mol - dissolved_mol - retained_mol - density_molPerL * room_L) /
                (1 - density_molPerL * liquidCo2_LPerMol),
            );
      const nextGasVolume_L = room_L - liquidCo2_mol * liquidCo2_LPerMol;
      assertGasSpace(nextGasVolume_L, inventory.vesselVolume_L);
      const co2Gas_mol = density_molPerL * nextGasVolume_L;
      const carbon_mol = co2Gas_mol + dissolved_mol + retained_mol + liquidCo2_mol;
      const surroundings = sodiumSurroundings(solutes);
      const next: Environment = {
        lnHydrogen,
        ionicStrength_molPerKg: ionicStrengthOf_molPerKg(solutes),
        sodium_molPerKg: solutes.sodium_molPerKg,
        surroundings,
        waterActivity: liquorWaterActivity(
          constants.debyeHuckelLn,
          ionicStrength_molPerKg,
          solutes,
          surroundings,
        ),
        water_kg:
          (inventory.waterBasis_mol - retained_mol - hydroxide_mol - vapour_mol) * waterMolarMass_kgPerMol,
        gasVolume_L: nextGasVolume_L,
        air_mol: air.kind === "kept" ? air.air_mol : sweptAir_mol(air.from, carbon_mol, co2Gas_mol),
      };
      difference = widestDifference(now, next);
      if (difference < passTolerance) {
        start = next;
        const other_bar =
          constants.RT_LBarPerMol *
          (airDensity_molPerL * (1 + 2 * constants.crossVirial_LPerMol * density_molPerL) +
            vapourDensity_molPerL);
        return {
          co2Density_molPerL: density_molPerL,
          pressureAbsolute_bar: gas.pressureAbsolute_bar + other_bar,
          co2Fugacity_bar,
          pH: -lnHydrogen / Math.LN10,
          ionicStrength_molPerKg: next.ionicStrength_molPerKg,
          waterActivity: next.waterActivity,
          water_kg: next.water_kg,
          waterVapour_mol: vapour_mol,
          liquidVolume_L,
          gasVolume_L: nextGasVolume_L,
          air_mol: next.air_mol,
          co2Gas_mol,
          co2Dissolved_mol: dissolved_mol,
          solidBicarbonate_mol: solid_mol,
          liquidCo2_mol,
          carbon_mol,
          solutes,
        };
      }
      now = next;
    }
    throw new NoConvergenceError(
      "ionic strength of the liquor",
      now.ionicStrength_molPerKg * (1 - difference),
      now.ionicStrength_molPerKg * (1 + difference),
      passLimit,
    );
  };

  return {
    temperature_degC,
    roughCapacity_L:
      Math.max(inventory.vesselVolume_L - 1.1 * allWater_kg, 0.05 * inventory.vesselVolume_L) +
      0.7 * allWater_kg * constants.henry_molPerKgBar * constants.RT_LBarPerMol,
    idealDensity_molPerL: (pressure_bar) => pressure_bar / constants.RT_LBarPerMol,
    densityLimit_molPerL,
    settle: (density_molPerL, air) => solve(density_molPerL, air, undefined),
    settleSaturated: (carbon_mol, air) => solve(densityLimit_molPerL, air, carbon_mol),
  };
}

function assertGasSpace(gasVolume_L: number, vesselVolume_L: number): void {
  const least_L = leastGasSpace_ratio * vesselVolume_L;
  if (!(gasVolume_L >= least_L)) {
    throw new OutOfValidRangeError("gas space over the liquor", gasVolume_L, "L", least_L, vesselVolume_L);
  }
}
