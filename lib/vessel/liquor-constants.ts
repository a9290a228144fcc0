import { citricAcidPk } from "../chemistry/citric-acid.js";
import {
  bicarbonateLogK2,
  carbonicAcidLogK1,
  nahcoliteLogK,
  sodiumBicarbonatePairLogK,
  sodiumCarbonatePairLogK,
  waterLogKw,
} from "../chemistry/equilibrium-constants.js";
import { crossVirialCo2Air_LPerMol, gasConstant_LBarPerMolK } from "../chemistry/gas-mixture.js";
import { henryConstant_molPerKgBar } from "../chemistry/henry-solubility.js";
import { debyeHuckelA, waterDensity_kgPerL, waterVapourPressure_bar } from "../chemistry/water-properties.js";
import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { kelvinFromCelsius } from "../quantities/units.js";

/** All that the liquor and the gas above it need to know of the temperature. Constants are not logarithms here. */
export interface LiquorConstants {
  readonly K1: number;
  readonly K2: number;
  readonly Kw: number;
  readonly citricK1: number;
  readonly citricK2: number;
  readonly citricK3: number;
  /** Na+ + HCO3- = NaHCO3(aq). */
  readonly pair: number;
  /** Na+ + CO3-- = NaCO3-. */
  readonly carbonatePair: number;
  readonly nahcolite: number;
  readonly henry_molPerKgBar: number;
  /** Debye-Hueckel A for natural logarithms. */
  readonly debyeHuckelLn: number;
  readonly waterVolume_LPerKg: number;
  /** Density of the vapour over pure water, mol/L. */
  readonly vapourDensity_molPerL: number;
  readonly crossVirial_LPerMol: number;
  readonly RT_LBarPerMol: number;
}

/**
 * Partial molar volumes in the liquor, L/mol, taken as constant from 0 to 45 degC and 0.5 to 7 mol/kg. The citrate
 * forms and CO2 are from memory. Na+ and HCO3- are chosen so that the salts have their handbook densities:
 * 8 % NaHCO3 1.058 kg/L, 10 to 20 % trisodium citrate 1.07 to 1.15 kg/L. [CRC2016]
 */
export const molarVolume_LPerMol = {
  citrate: 0.0741,
  hydrogenCitrate: 0.0907,
  dihydrogenCitrate: 0.103,
  citricAcid: 0.1137,
  carbonDioxide: 0.034,
  sodium: 0.0025,
  bicarbonate: 0.0243,
} as const;

export const waterMolarMass_kgPerMol = molarMass_gPerMol.water / 1000;

/**
 * Constants of the liquor at one temperature, 0 to 50 degC.
 * @throws OutOfValidRangeError outside 0 to 50 degC
 * @see [PlummerBusenberg1982], [Goldberg2002], [Nordstrom1990], [ThermoChimie2014], [Kell1975], [WagnerPruss1993]
 */
export function liquorConstants(temperature_degC: number): LiquorConstants {
  const citric = citricAcidPk(temperature_degC);
  const RT_LBarPerMol = gasConstant_LBarPerMolK * kelvinFromCelsius(temperature_degC);
  return {
    K1: 10 ** carbonicAcidLogK1(temperature_degC),
    K2: 10 ** bicarbonateLogK2(temperature_degC),
    Kw: 10 ** waterLogKw(temperature_degC),
    citricK1: 10 ** -citric.pK1,
    citricK2: 10 ** -citric.pK2,
    citricK3: 10 ** -citric.pK3,
    pair: 10 ** sodiumBicarbonatePairLogK(temperature_degC),
    carbonatePair: 10 ** sodiumCarbonatePairLogK(temperature_degC),
    nahcolite: 10 ** nahcoliteLogK(temperature_degC),
    henry_molPerKgBar: henryConstant_molPerKgBar(temperature_degC),
    debyeHuckelLn: debyeHuckelA(temperature_degC) * Math.LN10,
    waterVolume_LPerKg: 1 / waterDensity_kgPerL(temperature_degC),
    vapourDensity_molPerL: waterVapourPressure_bar(temperature_degC) / RT_LBarPerMol,
    crossVirial_LPerMol: crossVirialCo2Air_LPerMol(temperature_degC),
    RT_LBarPerMol,
  };
}
