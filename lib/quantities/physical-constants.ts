/**
 * Constants of nature and molar masses. Exact values are marked; the rest carry their source.
 * @see [CODATA2018] [IUPAC2021]
 */

/** Molar gas constant, J/(mol K). Exact since the 2019 SI. [CODATA2018] */
export const gasConstant_JPerMolK = 8.31446261815324;

/** Faraday constant, C/mol. Exact since the 2019 SI. [CODATA2018] */
export const faraday_CPerMol = 96485.33212;

/** Standard atmosphere, bar. Exact by definition. */
export const standardAtmosphere_bar = 1.01325;

/** 0 degC in kelvin. Exact by definition. */
export const celsiusZero_K = 273.15;

/** Molar masses, g/mol, from the abridged standard atomic weights (H 1.008, C 12.011, N 14.007, O 15.999, Na 22.990, Ca 40.078). [IUPAC2021] */
export const molarMass_gPerMol = {
  co2: 44.009,
  water: 18.015,
  sodiumBicarbonate: 84.006,
  citricAcidAnhydrous: 192.123,
  citricAcidMonohydrate: 210.138,
  sucrose: 342.297,
  calciumOxide: 56.077,
} as const;
