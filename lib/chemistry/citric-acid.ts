import { gasConstant_JPerMolK } from "../quantities/physical-constants.js";
import { kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange, type ValidRange } from "../quantities/valid-range.js";

/** The three dissociation constants of citric acid at one temperature and zero ionic strength, as -log10. */
export interface CitricAcidPk {
  readonly pK1: number;
  readonly pK2: number;
  readonly pK3: number;
}

/** pK at 25 degC, enthalpy and change of heat capacity of each dissociation. */
const dissociation = [
  { pK25: 3.128, enthalpy_JPerMol: 4070, heatCapacity_JPerMolK: -131 },
  { pK25: 4.761, enthalpy_JPerMol: 2230, heatCapacity_JPerMolK: -178 },
  { pK25: 6.396, enthalpy_JPerMol: -3380, heatCapacity_JPerMolK: -254 },
] as const;

const batesPinching = [
  { constant: -646.5228, inverse: 14264.1855, logarithm: 115.3451, linear: -0.2204 },
  { constant: -52.1997, inverse: -1842.97387, logarithm: 11.19421, linear: -0.05487 },
  { constant: -129.89305, inverse: -394.04129, logarithm: 25.36088, linear: -0.09394 },
] as const;

const range: ValidRange = { quantity: "temperature", unit: "degC", minimum: 0, maximum: 50 };
const reference_K = 298.15;

function pKAt(row: (typeof dissociation)[number], T: number): number {
  const lnK =
    -row.pK25 * Math.LN10 -
    (row.enthalpy_JPerMol / gasConstant_JPerMolK) * (1 / T - 1 / reference_K) +
    (row.heatCapacity_JPerMolK / gasConstant_JPerMolK) * (reference_K / T - 1 + Math.log(T / reference_K));
  return -lnK / Math.LN10;
}

/**
 * pK1, pK2, pK3 of citric acid from the pK, enthalpy and heat capacity at 25 degC. 0 to 50 degC; within 0.005
 * of the emf measurements at 0 to 50 degC.
 * @throws OutOfValidRangeError outside 0 to 50 degC
 * @see [Goldberg2002] section 7.22 (values from memory, in line with [BatesPinching1949] to 0.003)
 */
export function citricAcidPk(temperature_degC: number): CitricAcidPk {
  assertInRange(temperature_degC, range);
  const T = kelvinFromCelsius(temperature_degC);
  return {
    pK1: pKAt(dissociation[0], T),
    pK2: pKAt(dissociation[1], T),
    pK3: pKAt(dissociation[2], T),
  };
}

/**
 * The same three pK by a fit to the emf measurements, the cross-check of citricAcidPk. 0 to 50 degC.
 * The printed fit carries the wrong sign of the 1/T terms of K2 and K3; they are put right here, as the
 * printed ones would give pK2 = -0.6.
 * @throws OutOfValidRangeError outside 0 to 50 degC
 * @see [BatesPinching1949]
 */
export function citricAcidPkByBatesPinching(temperature_degC: number): CitricAcidPk {
  assertInRange(temperature_degC, range);
  const T = kelvinFromCelsius(temperature_degC);
  const pK = (row: (typeof batesPinching)[number]): number =>
    -(row.constant + row.inverse / T + row.logarithm * Math.log(T) + row.linear * T) / Math.LN10;
  return { pK1: pK(batesPinching[0]), pK2: pK(batesPinching[1]), pK3: pK(batesPinching[2]) };
}
