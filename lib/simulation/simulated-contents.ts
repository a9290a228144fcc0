import { NoConvergenceError, OutOfValidRangeError } from "../errors.js";
import { gasConstant_JPerMolK, molarMass_gPerMol } from "../quantities/physical-constants.js";
import { gaugeFromAbsolute_bar, kelvinFromCelsius } from "../quantities/units.js";
import { findBracketedRoot } from "./bracketed-root.js";
import { carbonDioxideGas } from "./carbon-dioxide-phases.js";
import { liquorConstantsAt, liquorUnder, type LiquorHoldings } from "./simulated-liquor.js";

/** What was really put in, and by how much nature differs from this simulation's own equilibrium. */
export interface SimulatedFilling {
  readonly volume_L: number;
  readonly citricAcid_mol: number;
  readonly sodiumBicarbonate_mol: number;
  readonly water_kg: number;
  /** CO2 that went off before the lid was on. */
  readonly lostBeforeClosing_mol: number;
  /** Factor on the pressure of the CO2, for the whole charge. */
  readonly co2Pressure_ratio: number;
  /** Factor on the bicarbonate that the liquor keeps although there is acid for it. */
  readonly retainedBicarbonate_ratio: number;
}

/** What changes in the course of a charge. */
export interface ContentsNow {
  /** All carbon in the vessel: gas, dissolved, bicarbonate and crystals that wait for liquor. */
  readonly carbon_mol: number;
  readonly air_mol: number;
  readonly contents_degC: number;
  /** Shares of acid and bicarbonate that the liquor has reached, and of the water that is liquid. */
  readonly reacted_ratio: number;
  readonly melted_ratio: number;
}

/** How the carbon is divided, and the pressure that follows. */
export interface ContentsPhases {
  readonly pressureGauge_bar: number;
  readonly gasCo2_mol: number;
  readonly dissolved_mol: number;
  /** In the liquor, and its crystals. */
  readonly bicarbonate_mol: number;
  /** Bicarbonate for which there is no acid: it never comes out. */
  readonly bound_mol: number;
  readonly gasVolume_L: number;
  readonly liquor: LiquorHoldings;
  /** Start of the next solution, of no other meaning. */
  readonly densitySlope_L: number;
}

/** [CRC2016] */
const iceDensity_kgPerL = 0.9167;

/**
 * Volume of acid and bicarbonate, L/g: reacted in the liquor, from the liquid volumes of [Phreeqc2013]; as crystals,
 * from their densities [CRC2016].
 */
const solidsVolume_LPerG = { inLiquor: 0.4e-3, asCrystals: 0.52e-3 } as const;

const protonsPerCitricAcid = 3;
const gasConstant_LBarPerMolK = gasConstant_JPerMolK / 100;

/** Some liquor is there as soon as anything reacts. */
const leastLiquor_kg = 0.01;

/** Water expands by 5 millionths for each square of the distance from 4 degC: within 0.1 % up to 35 degC. From memory. */
function waterVolume_LPerKg(temperature_degC: number): number {
  return 1 + 4.9e-6 * (temperature_degC - 4) ** 2;
}

/** CO2 that the acid can set free. */
export function availableCo2_mol(filling: SimulatedFilling): number {
  return Math.min(filling.sodiumBicarbonate_mol, protonsPerCitricAcid * filling.citricAcid_mol);
}

export function gasVolume_L(filling: SimulatedFilling, now: ContentsNow): number {
  const solids_g =
    filling.citricAcid_mol * molarMass_gPerMol.citricAcidAnhydrous +
    filling.sodiumBicarbonate_mol * molarMass_gPerMol.sodiumBicarbonate;
  const liquid_kg = now.melted_ratio * filling.water_kg;
  const volume_L =
    filling.volume_L -
    liquid_kg * waterVolume_LPerKg(now.contents_degC) -
    (filling.water_kg - liquid_kg) / iceDensity_kgPerL -
    solids_g *
      (now.reacted_ratio * solidsVolume_LPerG.inLiquor +
        (1 - now.reacted_ratio) * solidsVolume_LPerG.asCrystals);
  if (!(volume_L > 0)) {
    throw new OutOfValidRangeError("gas space of the vessel", volume_L, "L", 0, filling.volume_L);
  }
  return volume_L;
}

/** Warm start of a solution: what the contents were a step ago. */
type Before = Pick<
  ContentsPhases,
  "gasCo2_mol" | "gasVolume_L" | "liquor" | "densitySlope_L" | "bicarbonate_mol"
>;

function solveOnce(filling: SimulatedFilling, now: ContentsNow, before: Before | undefined): ContentsPhases {
  const { contents_degC: temperature_degC, reacted_ratio } = now;
  const volume_L = gasVolume_L(filling, now);
  const sodium_mol = reacted_ratio * filling.sodiumBicarbonate_mol;
  const citrate_mol = reacted_ratio * filling.citricAcid_mol;
  const bound_mol = Math.max(0, sodium_mol - protonsPerCitricAcid * citrate_mol);
  // Each bicarbonate that gives up its CO2 leaves a water behind.
  const freed_mol = Math.max(0, sodium_mol - (before?.bicarbonate_mol ?? bound_mol));
  const water_kg =
    Math.max(leastLiquor_kg, now.melted_ratio * filling.water_kg) +
    (freed_mol * molarMass_gPerMol.water) / 1000;
  const salts = { sodium_mol, citrate_mol, water_kg };
  const sodium_molPerKg = (sodium_mol - (before?.liquor.crystals_mol ?? 0)) / water_kg;
  const constants = liquorConstantsAt(
    temperature_degC,
    before?.liquor.ionicStrength_molPerKg ?? 1.6 * sodium_molPerKg,
    sodium_molPerKg,
  );
  const carbon_mol = now.carbon_mol - (1 - reacted_ratio) * filling.sodiumBicarbonate_mol;
  if (!(carbon_mol > bound_mol)) {
    throw new OutOfValidRangeError("carbon that reacted", carbon_mol, "mol", bound_mol, Infinity);
  }
  let pH = before?.liquor.pH ?? 5.5;
  let last: { liquor: LiquorHoldings; bicarbonate_mol: number; pressure_bar: number } | undefined;
  const residual = (density_molPerL: number): number => {
    const gas = carbonDioxideGas({ density_molPerL, temperature_degC });
    const liquor = liquorUnder(constants, salts, gas.fugacity_bar, { pH });
    ({ pH } = liquor);
    const bicarbonate_mol =
      bound_mol + filling.retainedBicarbonate_ratio * Math.max(0, liquor.bicarbonate_mol - bound_mol);
    last = { liquor, bicarbonate_mol, pressure_bar: gas.pressureAbsolute_bar };
    return density_molPerL * volume_L + liquor.co2Dissolved_mol + bicarbonate_mol - carbon_mol;
  };
  const root = secantOrBracket(
    before === undefined ? undefined : before.gasCo2_mol / before.gasVolume_L,
    before?.densitySlope_L ?? 2 * volume_L,
    carbon_mol / volume_L,
    1e-12 * carbon_mol,
    residual,
  );
  if (last === undefined) throw new NoConvergenceError("density of the CO2 gas", 0, 0, 0);
  const air_bar = (now.air_mol * gasConstant_LBarPerMolK * kelvinFromCelsius(temperature_degC)) / volume_L;
  return {
    pressureGauge_bar: gaugeFromAbsolute_bar(filling.co2Pressure_ratio * last.pressure_bar + air_bar),
    // What the other phases leave, so that the sum is exact.
    gasCo2_mol: carbon_mol - last.liquor.co2Dissolved_mol - last.bicarbonate_mol,
    dissolved_mol: last.liquor.co2Dissolved_mol,
    bicarbonate_mol: last.bicarbonate_mol,
    bound_mol,
    gasVolume_L: volume_L,
    liquor: last.liquor,
    densitySlope_L: root.slope_L,
  };
}

function secantOrBracket(
  start_molPerL: number | undefined,
  startSlope_L: number,
  highest_molPerL: number,
  tolerance_mol: number,
  residual: (density_molPerL: number) => number,
): { readonly slope_L: number } {
  let slope_L = startSlope_L;
  if (start_molPerL !== undefined && start_molPerL > 0) {
    let at = start_molPerL;
    let miss_mol = residual(at);
    for (let pass = 0; pass < 12; pass += 1) {
      if (Math.abs(miss_mol) <= tolerance_mol) return { slope_L };
      const next = at - miss_mol / slope_L;
      if (!(next > 0 && next < highest_molPerL)) break;
      const nextMiss_mol = residual(next);
      if (next !== at) {
        const between_L = (nextMiss_mol - miss_mol) / (next - at);
        if (between_L > 0) slope_L = between_L;
      }
      at = next;
      miss_mol = nextMiss_mol;
    }
  }
  findBracketedRoot("density of the CO2 gas", { low: 1e-9, high: highest_molPerL }, 1e-13, residual);
  return { slope_L };
}

/**
 * Divides the carbon of a vessel between gas, water, bicarbonate and crystals: one fugacity in all. The simulation's own
 * equilibrium, apart from that of the estimators: Peng-Robinson gas, Henry's law with salting-out, citrate and bicarbonate
 * with specific-ion coefficients. Without drawn errors within 2 % of the pressures of [Phreeqc2013].
 * @param before the contents a step ago; left out: solved from nothing
 * @throws OutOfValidRangeError when no gas space is left, or more CO2 has gone than has reacted
 * @see [PengRobinson1976] [PlummerBusenberg1982] [Grenthe1997]
 */
export function contentsPhases(
  filling: SimulatedFilling,
  now: ContentsNow,
  before?: ContentsPhases,
): ContentsPhases {
  let phases = solveOnce(filling, now, before);
  let previous: Before | undefined = before;
  for (let pass = 0; pass < 20; pass += 1) {
    const strengthMove =
      phases.liquor.ionicStrength_molPerKg - (previous?.liquor.ionicStrength_molPerKg ?? Infinity);
    if (Math.abs(strengthMove) < 2e-3) return phases;
    previous = phases;
    phases = solveOnce(filling, now, phases);
  }
  return phases;
}
