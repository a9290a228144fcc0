import { OutOfValidRangeError } from "../errors.js";
import {
  gasConstant_JPerMolK,
  molarMass_gPerMol,
  standardAtmosphere_bar,
} from "../quantities/physical-constants.js";
import { gaugeFromAbsolute_bar, kelvinFromCelsius } from "../quantities/units.js";
import { findBracketedRoot } from "./bracketed-root.js";
import { carbonDioxideGas, carbonDioxideSolubility_molPerKgBar } from "./carbon-dioxide-phases.js";
import type { VesselModel, VesselStep, Withdrawal } from "./vessel-model.js";

export interface GeneratorVesselSpec {
  readonly volume_L: number;
  readonly sodiumBicarbonate_g: number;
  readonly citricAcidAnhydrous_g: number;
  readonly water_kg: number;
  /** When the lid was closed on room air. */
  readonly sealedAt_degC: number;
  readonly contents_degC: number;
  /** Share of the bicarbonate that the citrate buffer keeps back. Constant here; in truth it shrinks as pressure falls. */
  readonly retainedBicarbonate_ratio: number;
  /** First-order lag of the contents behind the room: heat capacity over heat loss. */
  readonly thermalLag_h: number;
  readonly emptyMass_g: number;
}

/**
 * Volume that a gram of acid or bicarbonate adds to the liquid once dissolved and reacted, L/g. From the liquid
 * volumes of seven equilibria computed with [Phreeqc2013]: 0.40 to 0.41 mL/g.
 */
const solidsVolume_LPerG = 0.4e-3;

/** Water at room temperature, to 0.4 %. */
const water_kgPerL = 1;

/** Specific-ion coefficient of CO2 with sodium, kg/mol: log10 of the salting-out for each mol/kg. @see [ThermoChimie2014] */
const saltingOutBySodium = 0.074;

/** The acid's three protons each free one bicarbonate. */
const protonsPerCitricAcid = 3;

/** Mean molar mass of dry air. From memory. */
const dryAir_gPerMol = 28.964;

interface Contents {
  readonly co2_mol: number;
  readonly air_mol: number;
  readonly contents_degC: number;
  readonly mass_g: number;
}

interface Fixed {
  readonly gasVolume_L: number;
  readonly water_kg: number;
  readonly sodium_molPerKg: number;
  readonly thermalLag_h: number;
}

interface Phases {
  readonly gasCo2_mol: number;
  readonly pressureAbsolute_bar: number;
}

/** Divides the CO2 between gas and water: one fugacity in both. */
function phasesOf(fixed: Fixed, contents: Contents): Phases {
  const { gasVolume_L } = fixed;
  const { contents_degC: temperature_degC } = contents;
  const dissolvedPerBar_mol =
    carbonDioxideSolubility_molPerKgBar(temperature_degC) *
    fixed.water_kg *
    10 ** (-saltingOutBySodium * fixed.sodium_molPerKg);
  const gasAt = (gas_mol: number) =>
    carbonDioxideGas({ density_molPerL: gas_mol / gasVolume_L, temperature_degC });
  const air_bar =
    (contents.air_mol * (gasConstant_JPerMolK / 100) * kelvinFromCelsius(temperature_degC)) / gasVolume_L;
  if (contents.co2_mol <= 0) return { gasCo2_mol: 0, pressureAbsolute_bar: air_bar };
  const gasCo2_mol = findBracketedRoot(
    "CO2 in the gas space",
    { low: 0, high: contents.co2_mol },
    1e-13,
    (gas_mol) => gas_mol + dissolvedPerBar_mol * gasAt(gas_mol).fugacity_bar - contents.co2_mol,
  );
  return { gasCo2_mol, pressureAbsolute_bar: gasAt(gasCo2_mol).pressureAbsolute_bar + air_bar };
}

function vesselWith(fixed: Fixed, contents: Contents): VesselModel {
  const phases = phasesOf(fixed, contents);
  const headspace_mol = phases.gasCo2_mol + contents.air_mol;
  const co2Share = headspace_mol > 0 ? phases.gasCo2_mol / headspace_mol : 0;
  return {
    ...contents,
    pressureGauge_bar: gaugeFromAbsolute_bar(phases.pressureAbsolute_bar),
    advance(step: VesselStep) {
      const taken_mol = Math.min(Math.max(step.withdrawn_mol, 0), headspace_mol);
      const left: Withdrawal = { co2_mol: taken_mol * co2Share, air_mol: taken_mol * (1 - co2Share) };
      const relaxed_ratio = Math.exp(-step.duration_s / 3600 / fixed.thermalLag_h);
      const next: Contents = {
        co2_mol: contents.co2_mol - left.co2_mol,
        air_mol: contents.air_mol - left.air_mol,
        contents_degC: step.room_degC + (contents.contents_degC - step.room_degC) * relaxed_ratio,
        mass_g: contents.mass_g - left.co2_mol * molarMass_gPerMol.co2 - left.air_mol * dryAir_gPerMol,
      };
      return { vessel: vesselWith(fixed, next), left };
    },
  };
}

/**
 * A vessel whose acid and bicarbonate have reacted out: real gas over salty water, closed in with the air of the
 * room. First model: one lag for heat, no kinetics, no release of the bicarbonate that the buffer holds.
 * Pressure within 2.5 % of the equilibria
 * of [Phreeqc2013] for charges without sediment at 5 to 35 degC, given their share of retained bicarbonate.
 * @throws OutOfValidRangeError when the liquid leaves no gas space
 * @see [PengRobinson1976] [PlummerBusenberg1982] [ThermoChimie2014]
 */
export function createGeneratorVessel(spec: GeneratorVesselSpec): VesselModel {
  const bicarbonate_mol = spec.sodiumBicarbonate_g / molarMass_gPerMol.sodiumBicarbonate;
  const protons_mol =
    (protonsPerCitricAcid * spec.citricAcidAnhydrous_g) / molarMass_gPerMol.citricAcidAnhydrous;
  const co2_mol = Math.min(bicarbonate_mol * (1 - spec.retainedBicarbonate_ratio), protons_mol);
  const solids_g = spec.sodiumBicarbonate_g + spec.citricAcidAnhydrous_g;
  const liquid_L = spec.water_kg / water_kgPerL + solids_g * solidsVolume_LPerG;
  const gasVolume_L = spec.volume_L - liquid_L;
  if (!(gasVolume_L > 0)) {
    throw new OutOfValidRangeError("gas space of the vessel", gasVolume_L, "L", 0, spec.volume_L);
  }
  // The water that the reaction sets free dilutes the salt and dissolves gas too.
  const water_kg = spec.water_kg + (co2_mol * molarMass_gPerMol.water) / 1000;
  const air_mol =
    (standardAtmosphere_bar * gasVolume_L) /
    ((gasConstant_JPerMolK / 100) * kelvinFromCelsius(spec.sealedAt_degC));
  return vesselWith(
    { gasVolume_L, water_kg, sodium_molPerKg: bicarbonate_mol / water_kg, thermalLag_h: spec.thermalLag_h },
    {
      co2_mol,
      air_mol,
      contents_degC: spec.contents_degC,
      mass_g: spec.emptyMass_g + solids_g + spec.water_kg * 1000,
    },
  );
}
