import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { assertInRange } from "../quantities/valid-range.js";
import { daviesLogGamma } from "./davies.js";
import { bicarbonateLogK2, carbonicAcidLogK1, waterLogKw } from "./equilibrium-constants.js";

/** Fresh water whose alkalinity is carbonate alkalinity. Other buffers make CO2 read high. */
export interface TankWater {
  /** Acid-neutralising capacity, meq/L; one degree of carbonate hardness is 0.3567 meq/L. */
  readonly alkalinity_meqPerL: number;
  readonly temperature_degC: number;
  /** For activity. A bicarbonate solution has its alkalinity; a usual tank 0.005, hard tap water 0.01 mol/L. */
  readonly ionicStrength_molPerL: number;
}

export interface CarbonateSpeciation {
  readonly co2_mgPerL: number;
  readonly co2_mmolPerL: number;
  readonly bicarbonate_mmolPerL: number;
  readonly carbonate_mmolPerL: number;
}

interface ApparentConstants {
  readonly hydrogenGamma: number;
  readonly K1: number;
  readonly K2: number;
  readonly Kw: number;
}

/** Constants with activity of H+ and concentrations of the rest, mol/L. The litre of dilute water counts as a kilogram. */
function apparentConstants(water: Omit<TankWater, "alkalinity_meqPerL">): ApparentConstants {
  const { ionicStrength_molPerL, temperature_degC } = water;
  const gamma1 = 10 ** daviesLogGamma({ charge: 1, ionicStrength_molPerL, temperature_degC });
  const gamma2 = 10 ** daviesLogGamma({ charge: 2, ionicStrength_molPerL, temperature_degC });
  return {
    hydrogenGamma: gamma1,
    K1: 10 ** carbonicAcidLogK1(temperature_degC) / gamma1,
    K2: (10 ** bicarbonateLogK2(temperature_degC) * gamma1) / gamma2,
    Kw: 10 ** waterLogKw(temperature_degC) / gamma1,
  };
}

function assertWater(water: TankWater): void {
  assertInRange(water.alkalinity_meqPerL, {
    quantity: "alkalinity",
    unit: "meq/L",
    minimum: 0,
    maximum: 20,
  });
  assertInRange(water.temperature_degC, { quantity: "temperature", unit: "degC", minimum: 0, maximum: 50 });
}

/**
 * CO2, bicarbonate and carbonate of fresh water from its pH (activity scale), alkalinity and temperature.
 * pH 4 to 10, alkalinity 0 to 20 meq/L, 0 to 50 degC, ionic strength 0 to 0.5 mol/L. A pH error of 0.1 is 25 % of CO2.
 * @throws OutOfValidRangeError outside these ranges, or when the alkalinity is less than the free acid at this pH
 * @see [PlummerBusenberg1982], [Davies1962]
 */
export function carbonateSpeciation(water: TankWater & { readonly pH: number }): CarbonateSpeciation {
  assertInRange(water.pH, { quantity: "pH", unit: "", minimum: 4, maximum: 10 });
  assertWater(water);
  const { hydrogenGamma, K1, K2, Kw } = apparentConstants(water);
  const hydrogenActivity = 10 ** -water.pH;
  const noncarbonate_meqPerL = 1000 * (Kw / hydrogenActivity - hydrogenActivity / hydrogenGamma);
  assertInRange(water.alkalinity_meqPerL, {
    quantity: "alkalinity",
    unit: "meq/L",
    minimum: Math.max(0, noncarbonate_meqPerL),
    maximum: 20,
  });
  const carbonatePerBicarbonate = K2 / hydrogenActivity;
  const bicarbonate_mmolPerL =
    (water.alkalinity_meqPerL - noncarbonate_meqPerL) / (1 + 2 * carbonatePerBicarbonate);
  const co2_mmolPerL = (bicarbonate_mmolPerL * hydrogenActivity) / K1;
  return {
    co2_mgPerL: co2_mmolPerL * molarMass_gPerMol.co2,
    co2_mmolPerL,
    bicarbonate_mmolPerL,
    carbonate_mmolPerL: bicarbonate_mmolPerL * carbonatePerBicarbonate,
  };
}

/**
 * Alkalinity of fresh water from its pH (activity scale), CO2 and temperature, meq/L: carbonateSpeciation solved for what it
 * takes. pH 4 to 10, CO2 0.01 to 1000 mg/L, 0 to 50 degC.
 * @throws OutOfValidRangeError outside these ranges
 * @see [PlummerBusenberg1982], [Davies1962]
 */
export function alkalinityFromCarbonDioxide_meqPerL(
  water: Omit<TankWater, "alkalinity_meqPerL"> & { readonly pH: number; readonly co2_mgPerL: number },
): number {
  assertInRange(water.pH, { quantity: "pH", unit: "", minimum: 4, maximum: 10 });
  assertInRange(water.co2_mgPerL, { quantity: "CO2", unit: "mg/L", minimum: 0.01, maximum: 1000 });
  assertInRange(water.temperature_degC, { quantity: "temperature", unit: "degC", minimum: 0, maximum: 50 });
  const { hydrogenGamma, K1, K2, Kw } = apparentConstants(water);
  const hydrogenActivity = 10 ** -water.pH;
  const bicarbonate_molPerL = ((water.co2_mgPerL / molarMass_gPerMol.co2 / 1000) * K1) / hydrogenActivity;
  return (
    1000 *
    (bicarbonate_molPerL * (1 + (2 * K2) / hydrogenActivity) +
      Kw / hydrogenActivity -
      hydrogenActivity / hydrogenGamma)
  );
}

/**
 * pH (activity scale) of fresh water from its CO2, alkalinity and temperature: the inverse of carbonateSpeciation.
 * CO2 0.01 to 1000 mg/L, alkalinity 0.01 to 20 meq/L, 0 to 50 degC.
 * @throws OutOfValidRangeError outside these ranges
 * @see [PlummerBusenberg1982], [Davies1962]
 */
export function pHFromCarbonDioxide(water: TankWater & { readonly co2_mgPerL: number }): number {
  assertInRange(water.co2_mgPerL, { quantity: "CO2", unit: "mg/L", minimum: 0.01, maximum: 1000 });
  assertWater(water);
  assertInRange(water.alkalinity_meqPerL, {
    quantity: "alkalinity",
    unit: "meq/L",
    minimum: 0.01,
    maximum: 20,
  });
  const { hydrogenGamma, K1, K2, Kw } = apparentConstants(water);
  const co2_molPerL = water.co2_mgPerL / molarMass_gPerMol.co2 / 1000;
  const alkalinity_molPerL = water.alkalinity_meqPerL / 1000;
  // Excess of positive over negative charge; rises with h all the way, so bisection cannot miss.
  const excess = (h: number): number => {
    const bicarbonate_molPerL = (K1 * co2_molPerL) / h;
    return h / hydrogenGamma - Kw / h + alkalinity_molPerL - bicarbonate_molPerL * (1 + (2 * K2) / h);
  };
  let lowLog = Math.log(1e-13);
  let highLog = Math.log(1e-2);
  for (let iteration = 0; iteration < 60; iteration += 1) {
    const middle = (lowLog + highLog) / 2;
    if (excess(Math.exp(middle)) > 0) highLog = middle;
    else lowLog = middle;
  }
  return -(lowLog + highLog) / (2 * Math.LN10);
}
