import { assertInRange, type ValidRange } from "../quantities/valid-range.js";
import { debyeHuckelA } from "./water-properties.js";

/**
 * Specific-ion interaction theory for a liquor whose one cation of weight is sodium:
 * log10 gamma_j = -z_j^2 D + sum over k of epsilon(j, k) m_k, D = A sqrt(I) / (1 + 1.5 sqrt(I)).
 * Held to ionic strength 7 mol/kg here; the theory itself promises about 3.5 to 4.
 * @see [Grenthe1997], [ThermoChimie2014] and [Hummel2005] for the coefficients
 */

/** epsilon with Na+, kg/mol. Uncharged CO2 is salted out by it. */
export const sodiumInteraction_kgPerMol = {
  citrate: -0.076,
  hydrogenCitrate: -0.04,
  dihydrogenCitrate: -0.05,
  bicarbonate: 0,
  carbonate: -0.08,
  hydroxide: 0.04,
  carbonDioxide: 0.074,
} as const;

/** The 1.5 of D, (kg/mol)^0.5: the ion-size term that the theory fixes for all ions. */
export const ionSizeTerm = 1.5;

export const ionicStrengthRange: ValidRange = {
  quantity: "ionic strength",
  unit: "mol/kg",
  minimum: 0,
  maximum: 7,
};

/**
 * D of the specific-ion theory: minus log10 of the activity coefficient that long-range forces give a single charge.
 * Ionic strength 0 to 7 mol/kg, 0 to 100 degC.
 * @throws OutOfValidRangeError outside either range
 * @see [Hummel2005] appendix B, equation B.4
 */
export function debyeHuckelTerm(liquor: {
  readonly ionicStrength_molPerKg: number;
  readonly temperature_degC: number;
}): number {
  assertInRange(liquor.ionicStrength_molPerKg, ionicStrengthRange);
  const root = Math.sqrt(liquor.ionicStrength_molPerKg);
  return (debyeHuckelA(liquor.temperature_degC) * root) / (1 + ionSizeTerm * root);
}

/**
 * log10 of the activity coefficient of one solute in a sodium liquor.
 * @param solute its charge, and its epsilon with Na+ in kg/mol
 * @throws OutOfValidRangeError for an ionic strength above 7 mol/kg or a temperature outside 0 to 100 degC
 * @see [Hummel2005] appendix B, equation B.1
 */
export function specificIonLogGamma(
  solute: { readonly charge: number; readonly epsilon_kgPerMol: number },
  liquor: {
    readonly ionicStrength_molPerKg: number;
    readonly sodium_molPerKg: number;
    readonly temperature_degC: number;
  },
): number {
  return -(solute.charge ** 2) * debyeHuckelTerm(liquor) + solute.epsilon_kgPerMol * liquor.sodium_molPerKg;
}
