import { daviesRange } from "../chemistry/davies.js";
import { assertInRange } from "../quantities/valid-range.js";

/** What is known of the salts in a tank's water. */
export interface WaterSalts {
  /** At 25 degC, as a meter with compensation shows it. 0 to 35 000 uS/cm. */
  readonly conductivity_uSPerCm?: number;
  /** Of salts like the sea's, as in brackish tanks. 0 to 20 g/kg. */
  readonly salinity_gPerKg?: number;
}

export interface IonicStrength {
  readonly ionicStrength_molPerL: number;
  /** Standard deviation of its logarithm. */
  readonly sigma_ln: number;
}

export const conductivityRange = { quantity: "conductivity", unit: "uS/cm", minimum: 0, maximum: 35_000 };
const salinityRange = { quantity: "salinity", unit: "g/kg", minimum: 0, maximum: 20 };

/**
 * Ionic strength in mol/L of one uS/cm. Calcium and sulfate waters come to 1.7e-5, sodium bicarbonate or chloride to 1.0e-5:
 * the spread is the standard deviation below.
 */
const perConductivity = 1.3e-5;
const conductivitySigma_ln = 0.2;
/** The salt's composition is the sea's only roughly. */
const salinitySigma_ln = 0.1;
/** Chloride, sulfate and nitrate of an ordinary tank beside its bicarbonate. From memory. */
const otherSalts_molPerL = 0.003;
const assumedSigma_ln = 0.5;
/** Part of the bicarbonate comes with calcium and magnesium, which count four times: between 1 (sodium) and 1.5. From memory. */
const perBicarbonate = 1.25;

/**
 * Ionic strength of fresh water from its conductivity at 25 degC, mol/L. 0 to 35 000 uS/cm, 20 %.
 * @throws OutOfValidRangeError outside that range: beyond it the Davies equation fails too
 * @see [GriffinJurinak1973]
 */
export function ionicStrengthFromConductivity_molPerL(conductivity_uSPerCm: number): number {
  assertInRange(conductivity_uSPerCm, conductivityRange);
  return perConductivity * conductivity_uSPerCm;
}

/**
 * Ionic strength of water with the sea's salts, mol/L. 0 to 20 g/kg.
 * @throws OutOfValidRangeError outside that range
 * @see [Dickson2007] chapter 5, section 3.4
 */
export function ionicStrengthFromSalinity_molPerL(salinity_gPerKg: number): number {
  assertInRange(salinity_gPerKg, salinityRange);
  return (19.924 * salinity_gPerKg) / (1000 - 1.005 * salinity_gPerKg);
}

/**
 * Ionic strength of a tank's water, mol/L, from what is known of it: conductivity before salinity before an assumption
 * (0.0048 at 4 dKH, within a factor of 1.9 for 80 %). Never below that of the bicarbonate alone.
 * @param alkalinity_meqPerL  0 to 20
 * @throws OutOfValidRangeError for a conductivity or a salinity outside its range
 * @see [GriffinJurinak1973], [Dickson2007]
 */
export function tankIonicStrength(alkalinity_meqPerL: number, salts: WaterSalts = {}): IonicStrength {
  const bicarbonate_molPerL = alkalinity_meqPerL / 1000;
  const known = (ionicStrength_molPerL: number, sigma_ln: number): IonicStrength => ({
    ionicStrength_molPerL: Math.min(
      Math.max(ionicStrength_molPerL, bicarbonate_molPerL),
      daviesRange.maximum,
    ),
    sigma_ln,
  });
  if (salts.conductivity_uSPerCm !== undefined) {
    const ionicStrength_molPerL = ionicStrengthFromConductivity_molPerL(salts.conductivity_uSPerCm);
    return known(ionicStrength_molPerL, conductivitySigma_ln);
  }
  if (salts.salinity_gPerKg !== undefined) {
    const ionicStrength_molPerL = ionicStrengthFromSalinity_molPerL(salts.salinity_gPerKg);
    return known(ionicStrength_molPerL + bicarbonate_molPerL, salinitySigma_ln);
  }
  return known(otherSalts_molPerL + perBicarbonate * bicarbonate_molPerL, assumedSigma_ln);
}
