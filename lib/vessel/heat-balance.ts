import { NoConvergenceError } from "../errors.js";
import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import type { ChargeEquilibrium } from "./charge-equilibrium.js";
import { equilibriumTemperatureRange } from "./charge-equilibrium.js";
import type { Charge } from "./charge.js";
import { findRoot } from "./find-root.js";
import { partlyReacted, type ChargeProgress, type PartlyReacted } from "./reacted-part.js";

/** Heat of melting at 0 degC. [CRC2016] */
export const iceHeatOfFusion_kJPerKg = 333.55;

/**
 * Heat that one mole of bicarbonate takes up on its way from the crystal, the acid's share of dissolving included:
 * into the gas, into solution as CO2, into solution as bicarbonate. From formation enthalpies, from memory, 10 %; the
 * change over 0 to 45 degC is inside that. [Wagman1982]
 */
export const reactionHeat_kJPerMol = { intoGas: 37, intoSolution: 17, asBicarbonate: 18.7 } as const;

/** Specific heats, from memory but for sodium bicarbonate. [CRC2016] */
const specificHeat_JPerKgK = { water: 4180, ice: 2100, citricAcid: 1200, sodiumBicarbonate: 1040 } as const;

/** Temperature, melted and reacted share, and what follows from them by interpolation. */
export interface HeatedState extends ChargeProgress {
  /** Gauge pressure with all liquid water mixed. */
  readonly pressureGauge_bar: number;
}

/** What one charge takes up in heat; zero is liquid water at 0 degC with nothing reacted. */
export interface HeatModel {
  readonly part: PartlyReacted;
  /** A sum of heats against which an error in heat is judged. */
  readonly scale_J: number;
  /** Heat in the contents and the body when closed. */
  readonly start_J: number;
  /** The state that holds a given heat with a given share reacted. */
  stateAt(heat_J: number, reacted_ratio: number): HeatedState;
  /** The parts of the heat of a state; below 0 degC the pressure and the reaction stand as at 0 degC. */
  heatOf(state: ChargeProgress): HeatParts;
}

export interface HeatParts {
  /** Warming or cooling of body, crystals, water and ice, from 0 degC. */
  readonly sensible_J: number;
  /** Less than zero while there is ice. */
  readonly melting_J: number;
  readonly reaction_J: number;
}

/** Temperatures before closing, and the body that goes along. */
export interface HeatStart {
  readonly body_degC: number;
  readonly water_degC: number;
  readonly ice_degC: number;
  readonly bodyHeatCapacity_JPerK: number;
}

/** Heat of reaction in a state of the reacted part. [Wagman1982] */
export function reactionHeat_J(state: ChargeEquilibrium): number {
  return (
    1000 *
    (reactionHeat_kJPerMol.intoGas * (state.co2Gas_mol + state.liquidCo2_mol) +
      reactionHeat_kJPerMol.intoSolution * state.co2Dissolved_mol +
      reactionHeat_kJPerMol.asBicarbonate * (state.bicarbonate_mol + state.carbonate_mol))
  );
}

/** Steps of the table: of the melted share at 0 degC, of the temperature above it, and of reacted over melted share. */
const meltedSteps = 16;
const temperatureStep_degC = 3;
const reactedSteps = 16;
/** A step above the range: a trial step of the integration, in a room at its very end, may go beyond it and is then taken back. */
const highestPhase = 1 + equilibriumTemperatureRange.maximum + temperatureStep_degC;
const lowestPhase = -60;

/**
 * Ice and liquor share one temperature, and as long as there is ice it is 0 degC: the phase is the melted share from 0
 * to 1, then 1 plus the temperature; below 0 it is the temperature of ice alone.
 */
function progressAt(
  phase: number,
  reacted_ratio: number,
): { readonly temperature_degC: number; readonly melted_ratio: number; readonly reacted_ratio: number } {
  if (phase > 1) return { temperature_degC: phase - 1, melted_ratio: 1, reacted_ratio };
  if (phase < 0) return { temperature_degC: phase, melted_ratio: 0, reacted_ratio: 0 };
  return { temperature_degC: 0, melted_ratio: phase, reacted_ratio };
}

function phaseOf(state: ChargeProgress): number {
  if (state.temperature_degC > 0) return 1 + state.temperature_degC;
  return state.temperature_degC < 0 ? state.temperature_degC : state.melted_ratio;
}

interface Node {
  readonly reaction_J: number;
  readonly pressureGauge_bar: number;
}

/** Nodes are solved when first asked for, and shared by every run with this charge. Linear between: within 0.1 %. */
function createTable(part: PartlyReacted): (phase: number, reacted_ratio: number) => Node {
  const nodes = new Map<number, Node>();
  const node = (row: number, column: number): Node => {
    const key = row * (reactedSteps + 1) + column;
    const known = nodes.get(key);
    if (known !== undefined) return known;
    const phase = row <= meltedSteps ? row / meltedSteps : 1 + (row - meltedSteps) * temperatureStep_degC;
    const melted = Math.min(1, phase);
    const state = part.equilibrium(progressAt(phase, (melted * column) / reactedSteps), "all-liquid");
    const solved = { reaction_J: reactionHeat_J(state), pressureGauge_bar: state.pressureGauge_bar };
    nodes.set(key, solved);
    return solved;
  };
  return (phase, reacted_ratio) => {
    const melted = Math.min(1, Math.max(0, phase));
    const row = phase <= 1 ? melted * meltedSteps : meltedSteps + (phase - 1) / temperatureStep_degC;
    const column = melted > 0 ? Math.min(1, Math.max(0, reacted_ratio / melted)) * reactedSteps : 0;
    const i = Math.floor(row);
    const j = Math.min(reactedSteps - 1, Math.floor(column));
    const down = row - i;
    const right = column - j;
    const a = node(i, j);
    const b = node(i, j + 1);
    const c = down > 0 ? node(i + 1, j) : a;
    const d = down > 0 ? node(i + 1, j + 1) : b;
    const mix = (pick: (of: Node) => number): number =>
      (1 - down) * ((1 - right) * pick(a) + right * pick(b)) +
      down * ((1 - right) * pick(c) + right * pick(d));
    return {
      reaction_J: mix((of) => of.reaction_J),
      pressureGauge_bar: mix((of) => of.pressureGauge_bar),
    };
  };
}

/**
 * Heat of a charge in its vessel, J, as a function of state: body, crystals, water and ice by their heat capacities, ice by
 * its heat of melting, the reaction by where its CO2 is at equilibrium. One temperature throughout.
 *
 * The freezing point of the liquor is taken as 0 degC. The finished liquor of a full charge freezes some 5 to 8 K lower, so
 * that ice in it is colder than shown and draws up to a third more heat from a room at 20 degC; this ends the melting
 * earlier, not later, lies inside the factor of two by which the heat loss is known, and leaves the heat to be found and
 * the settled pressure as they are. The equilibrium is not known below 0 degC.
 * @throws OutOfValidRangeError as vesselInventory and chargeEquilibrium
 * @throws NoConvergenceError when no state below 48 degC holds the heat
 * @see [Wagman1982], [CRC2016]
 */
export function createHeatModel(charge: Charge, start: HeatStart): HeatModel {
  const part = partlyReacted(charge);
  const { water_kg } = part;
  const ice_kg = charge.ice_kg ?? 0;
  const residualWater_kg = (charge.residualLiquor?.waterBasis_mol ?? 0) * (molarMass_gPerMol.water / 1000);
  const dry_JPerK =
    start.bodyHeatCapacity_JPerK +
    (charge.acid.mass_g / 1000) * specificHeat_JPerKgK.citricAcid +
    (charge.sodiumBicarbonate_g / 1000) * specificHeat_JPerKgK.sodiumBicarbonate +
    residualWater_kg * specificHeat_JPerKgK.water;
  const wet_JPerK = dry_JPerK + water_kg * specificHeat_JPerKgK.water;
  const frozen_JPerK = dry_JPerK + water_kg * specificHeat_JPerKgK.ice;
  const fusion_J = 1000 * iceHeatOfFusion_kJPerKg * water_kg;
  const table = createTable(part);

  const sensibleAt_J = (phase: number): number =>
    phase > 1 ? wet_JPerK * (phase - 1) : Math.min(0, phase) * frozen_JPerK;
  const meltingAt_J = (phase: number): number => (Math.min(1, Math.max(0, phase)) - 1) * fusion_J;

  const unreacted_J =
    dry_JPerK * start.body_degC +
    charge.water_kg * specificHeat_JPerKgK.water * start.water_degC +
    ice_kg * (specificHeat_JPerKgK.ice * start.ice_degC - 1000 * iceHeatOfFusion_kJPerKg);
  const startPhase =
    unreacted_J >= 0
      ? 1 + unreacted_J / wet_JPerK
      : unreacted_J >= -fusion_J
        ? 1 + unreacted_J / fusion_J
        : (unreacted_J + fusion_J) / frozen_JPerK;
  const scale_J =
    1000 * (iceHeatOfFusion_kJPerKg * ice_kg + reactionHeat_kJPerMol.intoGas * part.sodiumBicarbonate_mol) +
    10 * wet_JPerK;
  let lastPhase = startPhase;

  return {
    part,
    scale_J,
    start_J: unreacted_J + table(startPhase, 0).reaction_J,
    stateAt: (heat_J, reacted_ratio) => {
      const outcome = findRoot(
        {
          quantity: "melted share and temperature",
          low: lowestPhase,
          high: highestPhase,
          start: lastPhase,
          slope: lastPhase < 1 && lastPhase >= 0 ? fusion_J : wet_JPerK,
          tolerance: 1e-9 * scale_J,
        },
        (phase) => sensibleAt_J(phase) + meltingAt_J(phase) + table(phase, reacted_ratio).reaction_J - heat_J,
      );
      if (outcome.kind !== "found") {
        throw new NoConvergenceError("temperature of the contents", lowestPhase, highestPhase, 1);
      }
      lastPhase = outcome.at;
      const progress = progressAt(outcome.at, reacted_ratio);
      return {
        ...progress,
        reacted_ratio: Math.min(Math.max(0, progress.reacted_ratio), progress.melted_ratio),
        pressureGauge_bar: table(outcome.at, reacted_ratio).pressureGauge_bar,
      };
    },
    heatOf: (state) => {
      const phase = phaseOf(state);
      return {
        sensible_J: sensibleAt_J(phase),
        melting_J: meltingAt_J(phase),
        reaction_J: table(phase, state.reacted_ratio).reaction_J,
      };
    },
  };
}
