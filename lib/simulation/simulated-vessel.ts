import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import {
  availableCo2_mol,
  contentsPhases,
  gasVolume_L,
  type ContentsNow,
  type ContentsPhases,
  type SimulatedFilling,
} from "./simulated-contents.js";
import type { VesselModel, VesselStep, Withdrawal } from "./vessel-model.js";

/** How heat and liquor move in one vessel. */
export interface SimulatedVesselPace {
  /** Lag of the contents behind the room when nothing reacts, 0.1 to 24. */
  readonly contentsLag_h: number;
  /** Share of the way from room to contents that lies between room and steel: where a sensor on the steel reads. */
  readonly outsideResistance_ratio: number;
  readonly steelHeatCapacity_JPerK: number;
  /** Time in which liquid water reaches 63 % of the crystals. */
  readonly mixing_h: number;
  /** Air in the gas that leaves over air in the gas space: above 1 where air lies at the outlet. */
  readonly airFirst_ratio: number;
}

export interface SimulatedVesselSpec {
  readonly filling: SimulatedFilling;
  readonly pace: SimulatedVesselPace;
  readonly air_mol: number;
  readonly start:
    | { readonly kind: "settled"; readonly contents_degC: number }
    | { readonly kind: "closed-with-water"; readonly water_degC: number; readonly room_degC: number }
    | { readonly kind: "closed-with-ice"; readonly ice_degC: number; readonly room_degC: number };
  readonly emptyMass_g: number;
}

/** The vessel at one instant, with what only the simulation knows. Immutable. */
export interface SimulatedVessel extends VesselModel {
  readonly steel_degC: number;
  readonly reacted_ratio: number;
  readonly melted_ratio: number;
  readonly carbon_mol: number;
  readonly phases: ContentsPhases;
  readonly spec: SimulatedVesselSpec;
  advance(step: VesselStep): { readonly vessel: SimulatedVessel; readonly left: Withdrawal };
}

/** [CRC2016]; specific heats from memory. */
const iceHeatOfFusion_kJPerKg = 333.55;
const specificHeat_JPerKgK = { water: 4180, ice: 2100, crystals: 1110 } as const;

/** Heat that a mole of bicarbonate takes up on its way from the crystal, J/mol. Values from memory, 10 %. @see [Wagman1982] */
const reactionHeat_JPerMol = { intoGas: 37_000, intoSolution: 17_000, asBicarbonate: 18_700 } as const;

/** Mean molar mass of dry air. From memory. */
const dryAir_gPerMol = 28.964;

/** Of a gas at one atmosphere in a room. */
const molarVolume_LPerMol = 24;

interface State extends ContentsNow {
  readonly steel_degC: number;
  readonly mass_g: number;
  /** Heat that the last step's reaction took up and the next one has to find. */
  readonly owed_J: number;
}

function contentsHeatCapacity_JPerK(filling: SimulatedFilling, melted_ratio: number): number {
  const crystals_kg =
    (filling.citricAcid_mol * molarMass_gPerMol.citricAcidAnhydrous +
      filling.sodiumBicarbonate_mol * molarMass_gPerMol.sodiumBicarbonate) /
    1000;
  const { water, ice, crystals } = specificHeat_JPerKgK;
  return filling.water_kg * (melted_ratio * water + (1 - melted_ratio) * ice) + crystals_kg * crystals;
}

function heatTaken_J(phases: ContentsPhases, gone_mol: number): number {
  return (
    reactionHeat_JPerMol.intoGas * (phases.gasCo2_mol + gone_mol) +
    reactionHeat_JPerMol.intoSolution * phases.dissolved_mol +
    reactionHeat_JPerMol.asBicarbonate * phases.bicarbonate_mol
  );
}

/** Steel between room and contents; ice keeps the contents at 0 degC while there is any. */
function warmed(
  spec: SimulatedVesselSpec,
  state: State,
  step: VesselStep,
): Pick<State, "steel_degC" | "contents_degC" | "melted_ratio"> {
  const { pace, filling } = spec;
  const capacity_JPerK = contentsHeatCapacity_JPerK(filling, state.melted_ratio);
  const settledCapacity_JPerK = contentsHeatCapacity_JPerK(filling, 1);
  const whole_WPerK = settledCapacity_JPerK / (pace.contentsLag_h * 3600);
  const outside_WPerK = whole_WPerK / pace.outsideResistance_ratio;
  const inside_WPerK = whole_WPerK / (1 - pace.outsideResistance_ratio);
  const { duration_s } = step;
  // Implicit in the steel, whose own time is shorter than a step.
  const steel_degC =
    (pace.steelHeatCapacity_JPerK * state.steel_degC +
      duration_s * (outside_WPerK * step.room_degC + inside_WPerK * state.contents_degC)) /
    (pace.steelHeatCapacity_JPerK + duration_s * (outside_WPerK + inside_WPerK));
  const exchanged_ratio = 1 - Math.exp((-inside_WPerK * duration_s) / capacity_JPerK);
  let heat_J = capacity_JPerK * exchanged_ratio * (steel_degC - state.contents_degC) - state.owed_J;
  if (state.melted_ratio >= 1) {
    return { steel_degC, melted_ratio: 1, contents_degC: state.contents_degC + heat_J / capacity_JPerK };
  }
  const fusion_J = 1000 * iceHeatOfFusion_kJPerKg * filling.water_kg;
  heat_J += capacity_JPerK * state.contents_degC;
  if (heat_J <= 0) {
    return { steel_degC, melted_ratio: state.melted_ratio, contents_degC: heat_J / capacity_JPerK };
  }
  const melted_ratio = Math.min(1, state.melted_ratio + heat_J / fusion_J);
  const over_J = heat_J - (melted_ratio - state.melted_ratio) * fusion_J;
  return { steel_degC, melted_ratio, contents_degC: over_J / settledCapacity_JPerK };
}

function vesselWith(spec: SimulatedVesselSpec, state: State, phases: ContentsPhases): SimulatedVessel {
  const headspace_mol = phases.gasCo2_mol + state.air_mol;
  return {
    pressureGauge_bar: phases.pressureGauge_bar,
    contents_degC: state.contents_degC,
    co2_mol: state.carbon_mol - (spec.filling.sodiumBicarbonate_mol - availableCo2_mol(spec.filling)),
    air_mol: state.air_mol,
    mass_g: state.mass_g,
    steel_degC: state.steel_degC,
    reacted_ratio: state.reacted_ratio,
    melted_ratio: state.melted_ratio,
    carbon_mol: state.carbon_mol,
    phases,
    spec,
    advance(step) {
      const taken_mol = Math.min(Math.max(step.withdrawn_mol, 0), 0.95 * headspace_mol);
      const airShare = Math.min(1, (spec.pace.airFirst_ratio * state.air_mol) / headspace_mol);
      const air_mol = Math.min(state.air_mol, taken_mol * airShare);
      const left: Withdrawal = { air_mol, co2_mol: taken_mol - air_mol };
      const heat = warmed(spec, state, step);
      const mixed_ratio = 1 - Math.exp(-step.duration_s / 3600 / spec.pace.mixing_h);
      const reacted_ratio =
        state.reacted_ratio >= 1 - 1e-6
          ? 1
          : Math.max(
              state.reacted_ratio,
              state.reacted_ratio + mixed_ratio * (heat.melted_ratio - state.reacted_ratio),
            );
      const now = {
        carbon_mol: state.carbon_mol - left.co2_mol,
        air_mol: state.air_mol - left.air_mol,
        reacted_ratio,
        ...heat,
      };
      const next = contentsPhases(spec.filling, now, phases);
      const owed_J = heatTaken_J(next, left.co2_mol) - heatTaken_J(phases, 0);
      const mass_g = state.mass_g - left.co2_mol * molarMass_gPerMol.co2 - left.air_mol * dryAir_gPerMol;
      return { vessel: vesselWith(spec, { ...now, mass_g, owed_J }, next), left };
    },
  };
}

/**
 * A vessel with citric acid and bicarbonate, from closing or from settled on: ice that melts, crystals that liquor has to
 * reach, heat that the reaction takes, steel between room and contents, air that leaves first, bicarbonate that comes
 * out as the pressure falls. The truth against which an estimator is tried; its equations are its own.
 * @throws OutOfValidRangeError when solids and water leave no gas space
 * @see [Phreeqc2013] for its pressures, [Wagman1982] for its heats
 */
export function createSimulatedVessel(spec: SimulatedVesselSpec): SimulatedVessel {
  const { filling, start } = spec;
  const whole_mol = availableCo2_mol(filling);
  const gasSpace_L = gasVolume_L(filling, {
    carbon_mol: 0,
    air_mol: 0,
    contents_degC: 4,
    reacted_ratio: 0,
    melted_ratio: 1,
  });
  // The lid closes on one atmosphere: what is not air is CO2 that has come out already, and lies in the water too.
  const shut_mol = Math.max(0, gasSpace_L / molarVolume_LPerMol - spec.air_mol);
  const early_ratio = Math.min(1, (filling.lostBeforeClosing_mol + 1.3 * shut_mol) / whole_mol + 0.01);
  const room_degC = start.kind === "settled" ? start.contents_degC : start.room_degC;
  const progress =
    start.kind === "settled"
      ? { reacted_ratio: 1, melted_ratio: 1, contents_degC: start.contents_degC }
      : start.kind === "closed-with-water"
        ? { reacted_ratio: early_ratio, melted_ratio: 1, contents_degC: start.water_degC }
        : { reacted_ratio: early_ratio, melted_ratio: early_ratio, contents_degC: start.ice_degC };
  const now: ContentsNow = {
    carbon_mol: filling.sodiumBicarbonate_mol - filling.lostBeforeClosing_mol,
    air_mol: spec.air_mol,
    ...progress,
  };
  const solids_g =
    filling.citricAcid_mol * molarMass_gPerMol.citricAcidAnhydrous +
    filling.sodiumBicarbonate_mol * molarMass_gPerMol.sodiumBicarbonate;
  const mass_g =
    spec.emptyMass_g +
    solids_g +
    filling.water_kg * 1000 -
    filling.lostBeforeClosing_mol * molarMass_gPerMol.co2 +
    spec.air_mol * dryAir_gPerMol;
  const phases = contentsPhases(filling, now);
  return vesselWith(spec, { ...now, steel_degC: room_degC, mass_g, owed_J: 0 }, phases);
}

/**
 * CO2 that can leave before the gauge is at a pressure, mol, at the temperature that the contents have now, all
 * crystals reacted. 0 where the gauge is there already.
 */
export function deliverableCo2_mol(vessel: SimulatedVessel, workingPressureGauge_bar: number): number {
  const { filling, pace } = vessel.spec;
  let now: ContentsNow = {
    carbon_mol: vessel.carbon_mol,
    air_mol: vessel.air_mol,
    contents_degC: Math.max(0, vessel.contents_degC),
    reacted_ratio: 1,
    melted_ratio: 1,
  };
  let phases = contentsPhases(filling, now, vessel.reacted_ratio === 1 ? vessel.phases : undefined);
  if (phases.pressureGauge_bar <= workingPressureGauge_bar) return 0;
  const steps = 24;
  const step_mol = (vessel.carbon_mol - phases.bound_mol) / steps;
  let delivered_mol = 0;
  for (let step = 0; step < steps; step += 1) {
    const share = Math.min(1, (pace.airFirst_ratio * now.air_mol) / (phases.gasCo2_mol + now.air_mol));
    const next: ContentsNow = {
      ...now,
      carbon_mol: now.carbon_mol - step_mol,
      // Exponential in the step: the air that a step takes thins out as it goes.
      air_mol: now.air_mol * Math.exp(-(step_mol * share) / ((1 - share) * Math.max(now.air_mol, 1e-12))),
    };
    if (next.carbon_mol <= phases.bound_mol) break;
    const nextPhases = contentsPhases(filling, next, phases);
    if (nextPhases.pressureGauge_bar <= workingPressureGauge_bar) {
      const fall_bar = phases.pressureGauge_bar - nextPhases.pressureGauge_bar;
      return delivered_mol + (step_mol * (phases.pressureGauge_bar - workingPressureGauge_bar)) / fall_bar;
    }
    delivered_mol += step_mol;
    now = next;
    phases = nextPhases;
  }
  return delivered_mol;
}
