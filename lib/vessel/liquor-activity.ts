import { ionSizeTerm, sodiumInteraction_kgPerMol as epsilon } from "../chemistry/specific-ion.js";
import { waterMolarMass_kgPerMol } from "./liquor-constants.js";

/** Activity coefficients of the solutes. The pair NaHCO3(aq) and citric acid count as ideal, NaCO3- as a lone charge. */
export interface LiquorActivity {
  readonly hydrogen: number;
  readonly sodium: number;
  readonly bicarbonate: number;
  readonly carbonate: number;
  readonly sodiumCarbonatePair: number;
  readonly hydroxide: number;
  readonly dihydrogenCitrate: number;
  readonly hydrogenCitrate: number;
  readonly citrate: number;
  readonly carbonDioxide: number;
}

/** Solutes of the liquor, mol per kg of water. */
export interface LiquorSolutes {
  readonly hydrogen_molPerKg: number;
  readonly hydroxide_molPerKg: number;
  readonly sodium_molPerKg: number;
  readonly bicarbonate_molPerKg: number;
  readonly sodiumBicarbonatePair_molPerKg: number;
  readonly carbonate_molPerKg: number;
  /** NaCO3-. */
  readonly sodiumCarbonatePair_molPerKg: number;
  readonly citrate_molPerKg: number;
  readonly hydrogenCitrate_molPerKg: number;
  readonly dihydrogenCitrate_molPerKg: number;
  readonly citricAcid_molPerKg: number;
  readonly carbonDioxide_molPerKg: number;
}

/** epsilon for natural logarithms. */
const lnEpsilon = {
  citrate: epsilon.citrate * Math.LN10,
  hydrogenCitrate: epsilon.hydrogenCitrate * Math.LN10,
  dihydrogenCitrate: epsilon.dihydrogenCitrate * Math.LN10,
  bicarbonate: epsilon.bicarbonate * Math.LN10,
  carbonate: epsilon.carbonate * Math.LN10,
  hydroxide: epsilon.hydroxide * Math.LN10,
  carbonDioxide: epsilon.carbonDioxide * Math.LN10,
} as const;

/**
 * Activity coefficients by the specific-ion theory.
 * @param debyeHuckelLn A for natural logarithms, (kg/mol)^0.5
 * @param anionInteraction sum of epsilon ln 10 times molality over what sodium meets; see sodiumSurroundings
 * @see [Hummel2005] appendix B, equation B.1
 */
export function liquorActivity(
  debyeHuckelLn: number,
  ionicStrength_molPerKg: number,
  sodium_molPerKg: number,
  anionInteraction: number,
): LiquorActivity {
  const root = Math.sqrt(ionicStrength_molPerKg);
  const gamma1 = Math.exp((-debyeHuckelLn * root) / (1 + ionSizeTerm * root));
  const gamma4 = gamma1 * gamma1 * gamma1 * gamma1;
  return {
    hydrogen: gamma1,
    sodium: gamma1 * Math.exp(anionInteraction),
    bicarbonate: gamma1 * Math.exp(lnEpsilon.bicarbonate * sodium_molPerKg),
    carbonate: gamma4 * Math.exp(lnEpsilon.carbonate * sodium_molPerKg),
    sodiumCarbonatePair: gamma1,
    hydroxide: gamma1 * Math.exp(lnEpsilon.hydroxide * sodium_molPerKg),
    dihydrogenCitrate: gamma1 * Math.exp(lnEpsilon.dihydrogenCitrate * sodium_molPerKg),
    hydrogenCitrate: gamma4 * Math.exp(lnEpsilon.hydrogenCitrate * sodium_molPerKg),
    citrate: gamma4 * gamma4 * gamma1 * Math.exp(lnEpsilon.citrate * sodium_molPerKg),
    carbonDioxide: Math.exp(lnEpsilon.carbonDioxide * sodium_molPerKg),
  };
}

/** Sum of epsilon ln 10 times molality over the anions, and over CO2, that a sodium ion meets. */
export function sodiumSurroundings(solutes: LiquorSolutes): number {
  return (
    lnEpsilon.citrate * solutes.citrate_molPerKg +
    lnEpsilon.hydrogenCitrate * solutes.hydrogenCitrate_molPerKg +
    lnEpsilon.dihydrogenCitrate * solutes.dihydrogenCitrate_molPerKg +
    lnEpsilon.bicarbonate * solutes.bicarbonate_molPerKg +
    lnEpsilon.carbonate * solutes.carbonate_molPerKg +
    lnEpsilon.hydroxide * solutes.hydroxide_molPerKg +
    lnEpsilon.carbonDioxide * solutes.carbonDioxide_molPerKg
  );
}

/** Half the sum of molality times charge squared, mol/kg. */
export function ionicStrengthOf_molPerKg(solutes: LiquorSolutes): number {
  return (
    (solutes.sodium_molPerKg +
      solutes.hydrogen_molPerKg +
      solutes.bicarbonate_molPerKg +
      solutes.sodiumCarbonatePair_molPerKg +
      solutes.hydroxide_molPerKg +
      solutes.dihydrogenCitrate_molPerKg +
      4 * (solutes.hydrogenCitrate_molPerKg + solutes.carbonate_molPerKg) +
      9 * solutes.citrate_molPerKg) /
    2
  );
}

/**
 * Activity of the water from the osmotic coefficient of the specific-ion theory.
 * @see [Hummel2005] appendix B, equation B.11
 */
export function liquorWaterActivity(
  debyeHuckelLn: number,
  ionicStrength_molPerKg: number,
  solutes: LiquorSolutes,
  surroundings: number,
): number {
  const soluteSum_molPerKg =
    solutes.sodium_molPerKg +
    solutes.hydrogen_molPerKg +
    solutes.bicarbonate_molPerKg +
    solutes.sodiumBicarbonatePair_molPerKg +
    solutes.carbonate_molPerKg +
    solutes.sodiumCarbonatePair_molPerKg +
    solutes.hydroxide_molPerKg +
    solutes.citrate_molPerKg +
    solutes.hydrogenCitrate_molPerKg +
    solutes.dihydrogenCitrate_molPerKg +
    solutes.citricAcid_molPerKg +
    solutes.carbonDioxide_molPerKg;
  const sized = 1 + ionSizeTerm * Math.sqrt(ionicStrength_molPerKg);
  const longRange = (-2 * debyeHuckelLn * (sized - 2 * Math.log(sized) - 1 / sized)) / ionSizeTerm ** 3;
  const shortRange = solutes.sodium_molPerKg * surroundings;
  return Math.exp(-(soluteSum_molPerKg + longRange + shortRange) * waterMolarMass_kgPerMol);
}
