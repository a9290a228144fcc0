import {
  carbonDioxideDensity_molPerL,
  carbonDioxideIsotherm,
  type CarbonDioxideIsotherm,
} from "../chemistry/carbon-dioxide-gas.js";
import { crossVirialCo2Air_LPerMol, gasConstant_LBarPerMolK } from "../chemistry/gas-mixture.js";
import { dissolvedCarbonDioxide_molPerKg } from "../chemistry/henry-solubility.js";
import { waterDensity_kgPerL, waterVapourPressure_bar } from "../chemistry/water-properties.js";
import { NoConvergenceError, OutOfValidRangeError } from "../errors.js";
import { molarMass_gPerMol, standardAtmosphere_bar } from "../quantities/physical-constants.js";
import { absoluteFromGauge_bar, gaugeFromAbsolute_bar, kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange, type ValidRange } from "../quantities/valid-range.js";
import { equilibriumTemperatureRange, modelPressureError_ratio } from "./charge-equilibrium.js";
import { leastGasSpace_ratio } from "./charge.js";
import { findRoot } from "./find-root.js";
import { molarVolume_LPerMol } from "./liquor-constants.js";

/** Table sugar and yeast in water, closed in with the air above it. */
export interface FermentationCharge {
  readonly vesselVolume_L: number;
  readonly water_kg: number;
  readonly sucrose_g: number;
  readonly sealedAt_degC: number;
}

/** The closed vessel with so much CO2 made, settled. */
export interface FermentationState {
  readonly pressureAbsolute_bar: number;
  readonly pressureGauge_bar: number;
  readonly co2Made_mol: number;
  readonly co2Gas_mol: number;
  readonly co2Dissolved_mol: number;
  readonly dissolved_gPerL: number;
  readonly gasVolume_L: number;
  /** Sucrose fermented out, as a share of what was put in. */
  readonly fermented_ratio: number;
}

/**
 * Whether sugar and yeast bring the vessel to the pressure that is wanted.
 * - cannot-reach: not even if every gram ferments out, by mass balance
 * - not-expected-to-reach: yeast is expected to stop before
 * - may-reach: the expected plateau is as high as what is wanted
 */
export interface FermentationVerdict {
  readonly kind: "cannot-reach" | "not-expected-to-reach" | "may-reach";
  readonly evidence: "mass-balance" | "weak";
}

export interface FermentationForecast {
  /** Where yeast is expected to stop: growth ends, or the sugar. */
  readonly plateau: FermentationState;
  /** The same for the lowest and for the highest stop pressure that is published. */
  readonly plateauLow: FermentationState;
  readonly plateauHigh: FermentationState;
  readonly plateauEndsWith: "growth" | "sugar";
  /** Every gram fermented out: what safety counts, whatever yeast is expected to do. */
  readonly fullConversion: FermentationState;
  /** Upper bound of the absolute pressure of that, 95 %. */
  readonly fullConversionUpperAbsolute_bar: number;
  readonly verdict: FermentationVerdict;
}

/**
 * CO2 from sucrose, g/g: C12H22O11 + H2O = 4 C2H5OH + 4 CO2. Some sugar goes into yeast and glycerol, so that 0.45 to 0.48
 * comes out in practice (from memory); safety counts the whole.
 * @see [IUPAC2021]
 */
export const co2PerSucrose_ratio = (4 * molarMass_gPerMol.co2) / molarMass_gPerMol.sucrose;

/** Dissolved CO2 at which growth ends, the practice of pressure tanks for must. From memory. [RibereauGayon2006] */
export const growthStop_gPerL = 15;

/**
 * Published pressures of CO2 at which yeast stops, taken as met at 15 degC and as set by the CO2 dissolved, so that they
 * rise with temperature. Growth ends at 6 atm; some fermentation goes on until 30 atm. Weak evidence: secondary sources that
 * do not agree. [Jackson2014], seen at second hand
 */
export const publishedStops = { low_bar: 6.08, high_bar: 30.4, met_degC: 15 } as const;

/**
 * Half-width of the error on absolute pressure, 95 %: 4 % as for a charge of acid, and 2 % for what sugar and ethanol do to
 * the solubility, which is left out. A judgement.
 */
export const fermentationPressureError_ratio = modelPressureError_ratio + 0.02;

/** Volumes in water at 25 degC, from memory: sucrose 211.5 cm3/mol, the four of ethanol 55.1 each. */
const soluteVolume_LPerMol = { sucrose: 0.2115, ethanol: 0.0551 } as const;

const ranges = {
  vesselVolume: { quantity: "vessel volume", unit: "L", minimum: 0.05, maximum: 50 },
  sealedAt: { quantity: "sealing temperature", unit: "degC", minimum: 0, maximum: 45 },
  leastWorking: { quantity: "least working pressure", unit: "bar", minimum: 0, maximum: 60 },
} as const satisfies Record<string, ValidRange>;

/** What dissolves in it is 2 kg/kg at room temperature. From memory. */
export const mostSucrose_gPerKg = 2000;
const leastWater_kg = 0.01;
/** Above it the solubility of CO2 is no longer known well enough. */
const fugacityLimit_bar = 40;
const tolerance_ratio = 1e-11;

interface ClosedFermenter {
  readonly sucrose_mol: number;
  readonly water_kg: number;
  readonly vesselVolume_L: number;
  readonly temperature_degC: number;
  readonly air_mol: number;
}

/**
 * Volume of sugar dissolved in water before anything ferments, L, at 0 to 45 degC.
 * @throws OutOfValidRangeError for a temperature outside the range of the density of water
 * @see [Kell1975] water
 */
export function sugarWaterVolume_L(charge: FermentationCharge, temperature_degC: number): number {
  return liquidVolume_L(charge.water_kg, charge.sucrose_g / molarMass_gPerMol.sucrose, temperature_degC);
}

function liquidVolume_L(water_kg: number, sucrose_mol: number, temperature_degC: number): number {
  return water_kg / waterDensity_kgPerL(temperature_degC) + sucrose_mol * soluteVolume_LPerMol.sucrose;
}

function closedFermenter(charge: FermentationCharge, temperature_degC: number): ClosedFermenter {
  const { vesselVolume_L, water_kg, sucrose_g, sealedAt_degC } = charge;
  assertInRange(vesselVolume_L, ranges.vesselVolume);
  assertInRange(sealedAt_degC, ranges.sealedAt);
  assertInRange(temperature_degC, equilibriumTemperatureRange);
  const fillable_L = vesselVolume_L * (1 - leastGasSpace_ratio);
  assertInRange(water_kg, {
    quantity: "water",
    unit: "kg",
    minimum: leastWater_kg,
    maximum: fillable_L * waterDensity_kgPerL(sealedAt_degC),
  });
  const sucrose_mol = sucrose_g / molarMass_gPerMol.sucrose;
  const room_L = fillable_L - water_kg / waterDensity_kgPerL(sealedAt_degC);
  assertInRange(sucrose_g, {
    quantity: "sucrose",
    unit: "g",
    minimum: 0,
    maximum: Math.min(
      mostSucrose_gPerKg * water_kg,
      (room_L / soluteVolume_LPerMol.sucrose) * molarMass_gPerMol.sucrose,
    ),
  });
  const sealedGas_L = vesselVolume_L - liquidVolume_L(water_kg, sucrose_mol, sealedAt_degC);
  const air_mol =
    (standardAtmosphere_bar * sealedGas_L) / (gasConstant_LBarPerMolK * kelvinFromCelsius(sealedAt_degC));
  return { sucrose_mol, water_kg, vesselVolume_L, temperature_degC, air_mol };
}

/** What one temperature fixes, worked out once. */
interface FermenterSolver {
  /** The densest CO2 gas that is answered for: saturated, or at the fugacity limit. */
  readonly densityLimit_molPerL: number;
  stateAt(density_molPerL: number): FermentationState;
  /** Sucrose that would bring the gas to the density limit when it is all fermented out. */
  readonly mostSucrose_g: number;
}

function fermenterSolver(vessel: ClosedFermenter): FermenterSolver {
  const { sucrose_mol, water_kg, vesselVolume_L, temperature_degC } = vessel;
  const isotherm = carbonDioxideIsotherm(temperature_degC);
  const RT_LBarPerMol = gasConstant_LBarPerMolK * kelvinFromCelsius(temperature_degC);
  const crossVirial_LPerMol = crossVirialCo2Air_LPerMol(temperature_degC);
  const vapour_bar = waterVapourPressure_bar(temperature_degC);
  const freshVolume_L = liquidVolume_L(water_kg, sucrose_mol, temperature_degC);
  const airDensity_molPerL = vessel.air_mol / (vesselVolume_L - freshVolume_L);
  const airEffect = Math.exp(2 * crossVirial_LPerMol * airDensity_molPerL);
  // For each CO2 a quarter of a sucrose and of a water go, and an ethanol comes.
  const water_LPerMol = molarMass_gPerMol.water / 1000 / waterDensity_kgPerL(temperature_degC);
  const swelling_LPerMol = soluteVolume_LPerMol.ethanol - (soluteVolume_LPerMol.sucrose + water_LPerMol) / 4;
  const spentWater_kgPerMol = molarMass_gPerMol.water / 4000;

  const molality_molPerKg = (density_molPerL: number): number =>
    dissolvedCarbonDioxide_molPerKg({
      fugacity_bar: isotherm.stateAt(density_molPerL).fugacity_bar * airEffect,
      temperature_degC,
      sodium_molPerKg: 0,
    });
  // Share of the dissolved CO2 that remains when the gas it displaces by its volume is taken off.
  const beyondDisplaced = (density_molPerL: number): number =>
    1 - density_molPerL * molarVolume_LPerMol.carbonDioxide;
  const divisor = (density_molPerL: number, dissolved_molPerKg: number): number =>
    1 +
    density_molPerL * swelling_LPerMol +
    dissolved_molPerKg * spentWater_kgPerMol * beyondDisplaced(density_molPerL);

  const stateAt = (density_molPerL: number): FermentationState => {
    const dissolved_molPerKg = molality_molPerKg(density_molPerL);
    // made = density (vessel - fresh - swelling made - volume of the dissolved) + dissolved, with dissolved = molality
    // (water - spent made), solved for what was made.
    const held_mol =
      density_molPerL * (vesselVolume_L - freshVolume_L) +
      dissolved_molPerKg * water_kg * beyondDisplaced(density_molPerL);
    const co2Made_mol = held_mol / divisor(density_molPerL, dissolved_molPerKg);
    const co2Dissolved_mol = dissolved_molPerKg * (water_kg - spentWater_kgPerMol * co2Made_mol);
    const liquid_L =
      freshVolume_L + swelling_LPerMol * co2Made_mol + molarVolume_LPerMol.carbonDioxide * co2Dissolved_mol;
    const gas_L = vesselVolume_L - liquid_L;
    const air_bar =
      RT_LBarPerMol * (vessel.air_mol / gas_L) * (1 + 2 * crossVirial_LPerMol * density_molPerL);
    const pressureAbsolute_bar =
      isotherm.stateAt(density_molPerL).pressureAbsolute_bar + air_bar + vapour_bar;
    return {
      pressureAbsolute_bar,
      pressureGauge_bar: gaugeFromAbsolute_bar(pressureAbsolute_bar),
      co2Made_mol,
      co2Gas_mol: density_molPerL * gas_L,
      co2Dissolved_mol,
      dissolved_gPerL: (co2Dissolved_mol * molarMass_gPerMol.co2) / liquid_L,
      gasVolume_L: gas_L,
      fermented_ratio: sucrose_mol > 0 ? co2Made_mol / (4 * sucrose_mol) : 0,
    };
  };

  const densityLimit_molPerL = densestGas_molPerL(isotherm);
  const limit_molPerKg = molality_molPerKg(densityLimit_molPerL);
  const dry_L = vesselVolume_L - water_kg / waterDensity_kgPerL(temperature_degC);
  const most_mol =
    (densityLimit_molPerL * dry_L + limit_molPerKg * water_kg * beyondDisplaced(densityLimit_molPerL)) /
    (4 * divisor(densityLimit_molPerL, limit_molPerKg) + densityLimit_molPerL * soluteVolume_LPerMol.sucrose);
  return { densityLimit_molPerL, stateAt, mostSucrose_g: most_mol * molarMass_gPerMol.sucrose };
}

function densestGas_molPerL(isotherm: CarbonDioxideIsotherm): number {
  const densest_molPerL = isotherm.densityLimit_molPerL;
  const outcome = findRoot(
    {
      quantity: "density of the CO2 gas",
      low: 0,
      high: densest_molPerL,
      start: densest_molPerL / 2,
      slope: fugacityLimit_bar / densest_molPerL,
      tolerance: 1e-9,
    },
    (density_molPerL) => isotherm.stateAt(density_molPerL).fugacity_bar - fugacityLimit_bar,
  );
  // A hair below, so that rounding does not put the fugacity over its limit.
  return outcome.kind === "found" ? outcome.at * (1 - 1e-9) : densest_molPerL;
}

/** The state in which a quantity that rises with the density of the gas has a value; undefined when it is never that much. */
function stateWith(
  solver: FermenterSolver,
  quantity: string,
  value: number,
  measure: (state: FermentationState) => number,
): FermentationState | undefined {
  const limit_molPerL = solver.densityLimit_molPerL;
  let state = solver.stateAt(0);
  const outcome = findRoot(
    {
      quantity,
      low: 0,
      high: limit_molPerL,
      start: limit_molPerL / 4,
      slope: Math.max(measure(solver.stateAt(limit_molPerL)), 1e-6) / limit_molPerL,
      tolerance: tolerance_ratio * Math.max(value, 1e-3),
    },
    (density_molPerL) => {
      state = solver.stateAt(density_molPerL);
      return measure(state) - value;
    },
  );
  return outcome.kind === "found" ? state : undefined;
}

/**
 * A vessel of sugar and yeast in which so much of the sugar has fermented out, settled, at 0 to 45 degC. CO2 in gas and
 * water, the air that was closed in (its oxygen is not counted as used), and the vapour. What sugar and ethanol do to
 * the solubility, a few percent, is left out.
 * @param at.fermented_ratio 0 to 1; 1 is what safety counts
 * @throws OutOfValidRangeError for a temperature outside 0 to 45 degC, a ratio outside 0 to 1, water or sugar that does not
 *   fit with 5 % of gas space, more than 2 kg of sugar a kg of water, and more sugar than gas below saturation and
 *   below 40 bar of fugacity can hold
 * @throws NoConvergenceError when the balance of CO2 does not close
 * @see [SpanWagner1996], [PlummerBusenberg1982], [IUPAC2021]
 */
export function fermentationState(
  charge: FermentationCharge,
  at: { readonly temperature_degC: number; readonly fermented_ratio: number },
): FermentationState {
  assertInRange(at.fermented_ratio, { quantity: "fermented share", unit: "", minimum: 0, maximum: 1 });
  const vessel = closedFermenter(charge, at.temperature_degC);
  const solver = fermenterSolver(vessel);
  return stateAtConversion(solver, vessel.sucrose_mol, at.fermented_ratio);
}

/**
 * CO2 that the vessel holds in gas and water at a gauge pressure of 0 to 60 bar, mol, with its air still in it: at least so
 * much stays behind when it is drawn down to that. All that the sugar makes, where the pressure is never reached.
 * @throws OutOfValidRangeError as fermentationState, and for a pressure outside 0 to 60 bar
 * @throws NoConvergenceError when a balance does not close
 * @see [SpanWagner1996], [PlummerBusenberg1982]
 */
export function fermentationHeldAt_mol(
  charge: FermentationCharge,
  at: { readonly temperature_degC: number; readonly pressureGauge_bar: number },
): number {
  assertInRange(at.pressureGauge_bar, { ...ranges.leastWorking, quantity: "pressure" });
  const vessel = closedFermenter(charge, at.temperature_degC);
  const solver = fermenterSolver(vessel);
  const full = stateAtConversion(solver, vessel.sucrose_mol, 1);
  if (full.pressureGauge_bar <= at.pressureGauge_bar) return full.co2Made_mol;
  if (solver.stateAt(0).pressureGauge_bar >= at.pressureGauge_bar) return 0;
  const state = stateWith(solver, "gauge pressure", at.pressureGauge_bar, (now) => now.pressureGauge_bar);
  if (state === undefined) throw new NoConvergenceError("gauge pressure", 0, full.pressureGauge_bar, 0);
  return state.co2Made_mol;
}

function stateAtConversion(
  solver: FermenterSolver,
  sucrose_mol: number,
  fermented_ratio: number,
): FermentationState {
  const made_mol = 4 * sucrose_mol * fermented_ratio;
  const state = stateWith(solver, "CO2 from the sugar", made_mol, (at) => at.co2Made_mol);
  if (state !== undefined) return state;
  throw new OutOfValidRangeError(
    "sucrose",
    sucrose_mol * molarMass_gPerMol.sucrose,
    "g",
    0,
    solver.mostSucrose_g,
  );
}

/** CO2 dissolved when pure CO2 stands at a pressure over water, g/kg. */
function dissolvedUnder_gPerKg(pressure_bar: number, temperature_degC: number): number {
  const density_molPerL = carbonDioxideDensity_molPerL({
    pressureAbsolute_bar: pressure_bar,
    temperature_degC,
  });
  const { fugacity_bar } = carbonDioxideIsotherm(temperature_degC).stateAt(density_molPerL);
  return (
    molarMass_gPerMol.co2 *
    dissolvedCarbonDioxide_molPerKg({ fugacity_bar, temperature_degC, sodium_molPerKg: 0 })
  );
}

/**
 * What a closed vessel of sugar and yeast will do at 0 to 45 degC: the plateau at which growth is expected to end, its
 * interval over the published stop pressures, the pressure if every gram ferments out, and the verdict. That yeast stops is
 * weak evidence: never count on it for safety.
 * @param wanted.leastWorkingGauge_bar the lower end of the pressures that the user wants to work with, 0 to 60 bar
 * @throws OutOfValidRangeError as fermentationState, and for a working pressure outside 0 to 60 bar
 * @throws NoConvergenceError when a balance does not close
 * @see [RibereauGayon2006], [Jackson2014], [KunkeeOugh1966]
 */
export function fermentationForecast(
  charge: FermentationCharge,
  wanted: { readonly temperature_degC: number; readonly leastWorkingGauge_bar: number },
): FermentationForecast {
  assertInRange(wanted.leastWorkingGauge_bar, ranges.leastWorking);
  const vessel = closedFermenter(charge, wanted.temperature_degC);
  const solver = fermenterSolver(vessel);
  const full = stateAtConversion(solver, vessel.sucrose_mol, 1);
  const stoppedAt = (
    quantity: string,
    stop: number,
    measure: (state: FermentationState) => number,
  ): FermentationState => {
    // Sugar may end before yeast does.
    if (measure(full) <= stop) return full;
    const state = stateWith(solver, quantity, stop, measure);
    if (state === undefined) throw new NoConvergenceError(quantity, 0, measure(full), 0);
    return state;
  };
  const underPressure = (pressure_bar: number): FermentationState =>
    stoppedAt(
      "dissolved CO2 in the water",
      dissolvedUnder_gPerKg(pressure_bar, publishedStops.met_degC),
      (state) => (state.co2Dissolved_mol * molarMass_gPerMol.co2) / charge.water_kg,
    );
  const plateau = stoppedAt("dissolved CO2", growthStop_gPerL, (state) => state.dissolved_gPerL);
  return {
    plateau,
    plateauLow: underPressure(publishedStops.low_bar),
    plateauHigh: underPressure(publishedStops.high_bar),
    plateauEndsWith: plateau === full ? "sugar" : "growth",
    fullConversion: full,
    fullConversionUpperAbsolute_bar: full.pressureAbsolute_bar * (1 + fermentationPressureError_ratio),
    verdict: verdictOf(plateau, full, wanted.leastWorkingGauge_bar),
  };
}

function verdictOf(
  plateau: FermentationState,
  full: FermentationState,
  leastWorking_bar: number,
): FermentationVerdict {
  if (
    full.pressureAbsolute_bar * (1 + fermentationPressureError_ratio) <
    absoluteFromGauge_bar(leastWorking_bar)
  ) {
    return { kind: "cannot-reach", evidence: "mass-balance" };
  }
  return plateau.pressureGauge_bar < leastWorking_bar
    ? { kind: "not-expected-to-reach", evidence: "weak" }
    : { kind: "may-reach", evidence: "weak" };
}
