import { assertInRange, type ValidRange } from "../quantities/valid-range.js";
import { debyeHuckelA } from "./water-properties.js";

/** The Davies equation is for fresh water and mild brines; the liquor in the vessel is far outside. */
export const daviesRange: ValidRange = {
  quantity: "ionic strength",
  unit: "mol/L",
  minimum: 0,
  maximum: 0.5,
};

/**
 * log10 of the activity coefficient of an ion in fresh water. Ionic strength 0 to 0.5 mol/L, 0 to 100 degC;
 * about 1 % at tank water's 0.002 to 0.02 mol/L, 5 % at 0.5 mol/L.
 * @throws OutOfValidRangeError outside either range
 * @see [Davies1962] p. 41, the form with 0.3
 */
export function daviesLogGamma(ion: {
  readonly charge: number;
  readonly ionicStrength_molPerL: number;
  readonly temperature_degC: number;
}): number {
  assertInRange(ion.ionicStrength_molPerL, daviesRange);
  const root = Math.sqrt(ion.ionicStrength_molPerL);
  const A = debyeHuckelA(ion.temperature_degC);
  return -A * ion.charge ** 2 * (root / (1 + root) - 0.3 * ion.ionicStrength_molPerL);
}
