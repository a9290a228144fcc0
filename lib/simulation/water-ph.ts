import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { alkalinityFromKh_meqPerL, kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";
import { findBracketedRoot } from "./bracketed-root.js";

/** Davies' equation for an ion of charge z; `A` from 0.492 at 0 degC to 0.515 at 30 degC. @see [Davies1962] */
function activityCoefficient(
  charge: number,
  ionicStrength_molPerL: number,
  temperature_degC: number,
): number {
  const A = 0.492 + (0.515 - 0.492) * (temperature_degC / 30);
  const root = Math.sqrt(ionicStrength_molPerL);
  return 10 ** (-A * charge ** 2 * (root / (1 + root) - 0.3 * ionicStrength_molPerL));
}

/**
 * pH of tank water that holds this much free CO2: the whole carbonate equilibrium with the water's own ions, no
 * other buffer. Constants of another origin than the estimators', so that the two can be held against each other.
 * @param water.co2_mgPerL 0.05 to 500
 * @param water.kh_dKH 0 to 30
 * @param water.temperature_degC 5 to 40
 * @param water.ionicStrength_molPerL 0 to 0.1
 * @throws OutOfValidRangeError outside those ranges
 * @see [HarnedDavis1943] for K1, [HarnedScholes1941] for K2, [HarnedOwen1958] for Kw, [Davies1962]
 */
export function waterPh(water: {
  readonly co2_mgPerL: number;
  readonly kh_dKH: number;
  readonly temperature_degC: number;
  readonly ionicStrength_molPerL: number;
}): number {
  const { temperature_degC } = water;
  assertInRange(water.co2_mgPerL, { quantity: "CO2", unit: "mg/L", minimum: 0.05, maximum: 500 });
  assertInRange(water.kh_dKH, { quantity: "carbonate hardness", unit: "dKH", minimum: 0, maximum: 30 });
  assertInRange(temperature_degC, { quantity: "temperature", unit: "degC", minimum: 5, maximum: 40 });
  assertInRange(water.ionicStrength_molPerL, {
    quantity: "ionic strength",
    unit: "mol/L",
    minimum: 0,
    maximum: 0.1,
  });
  const T = kelvinFromCelsius(temperature_degC);
  const K1 = 10 ** -(3404.71 / T + 0.032786 * T - 14.8435);
  const K2 = 10 ** -(2902.39 / T + 0.02379 * T - 6.498);
  const Kw = 10 ** -(4470.99 / T + 0.01706 * T - 6.0875);
  const gamma1 = activityCoefficient(1, water.ionicStrength_molPerL, temperature_degC);
  const gamma2 = activityCoefficient(2, water.ionicStrength_molPerL, temperature_degC);
  const co2_molPerL = water.co2_mgPerL / 1000 / molarMass_gPerMol.co2;
  const alkalinity_molPerL = alkalinityFromKh_meqPerL(water.kh_dKH) / 1000;
  const chargeExcess = (pH: number): number => {
    const hydrogenActivity = 10 ** -pH;
    const bicarbonateActivity = (K1 * co2_molPerL) / hydrogenActivity;
    return (
      bicarbonateActivity / gamma1 +
      (2 * K2 * bicarbonateActivity) / hydrogenActivity / gamma2 +
      Kw / hydrogenActivity / gamma1 -
      hydrogenActivity / gamma1 -
      alkalinity_molPerL
    );
  };
  // The excess grows over many powers of ten; its cube root is close enough to a line for a quick search.
  return findBracketedRoot("pH", { low: 3, high: 12 }, 1e-12, (pH) => Math.cbrt(chargeExcess(pH)));
}
