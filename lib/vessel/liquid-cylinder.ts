import { carbonDioxideIsotherm } from "../chemistry/carbon-dioxide-gas.js";
import {
  saturatedLiquidDensity_kgPerL,
  saturatedVapourDensity_kgPerL,
  saturationPressure_bar,
} from "../chemistry/carbon-dioxide-saturation.js";
import { OutOfValidRangeError } from "../errors.js";
import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { absoluteFromGauge_bar, gaugeFromAbsolute_bar } from "../quantities/units.js";
import { assertInRange, type ValidRange } from "../quantities/valid-range.js";
import { findRoot } from "./find-root.js";

/** A bought cylinder: its inner volume, and the CO2 in it by the scale (gross weight less the tare on the shoulder). */
export interface LiquidCylinder {
  readonly volume_L: number;
  readonly co2_kg: number;
  readonly temperature_degC: number;
  /** The most CO2 per litre that its own marking allows. Left out: 0.68, the limit of the usual class. */
  readonly fillingLimit_kgPerL?: number;
}

export interface LiquidCylinderState {
  readonly kind: "liquid-and-gas" | "gas-only";
  readonly pressureAbsolute_bar: number;
  readonly pressureGauge_bar: number;
  readonly liquid_kg: number;
  readonly gas_kg: number;
  readonly liquidVolume_L: number;
}

/** Filling ratio of CO2 cylinders of the usual class (test pressure 190 bar, or 1800 psi service). From memory. [ADR2023] */
export const usualFillingLimit_kgPerL = 0.68;

const ranges = {
  volume: { quantity: "cylinder volume", unit: "L", minimum: 0.05, maximum: 100 },
  /** A little below the critical point, where liquid and gas can no longer be told apart. */
  temperature: { quantity: "cylinder temperature", unit: "degC", minimum: -40, maximum: 30.9 },
  /** 0.76: the densest filling that the transport rules know, for 250 bar of test pressure. From memory. */
  fillingLimit: { quantity: "filling limit", unit: "kg/L", minimum: 0.1, maximum: 0.76 },
} as const satisfies Record<string, ValidRange>;

/** Temperatures at which a cylinder can hold liquid CO2 beside gas. */
export const liquidCylinderTemperatureRange: ValidRange = ranges.temperature;

function assertCylinder(cylinder: LiquidCylinder): void {
  const limit_kgPerL = cylinder.fillingLimit_kgPerL ?? usualFillingLimit_kgPerL;
  assertInRange(cylinder.volume_L, ranges.volume);
  assertInRange(cylinder.temperature_degC, ranges.temperature);
  assertInRange(limit_kgPerL, ranges.fillingLimit);
  const most_kgPerL = Math.min(limit_kgPerL, saturatedLiquidDensity_kgPerL(cylinder.temperature_degC));
  assertInRange(cylinder.co2_kg, {
    quantity: "CO2 in the cylinder",
    unit: "kg",
    minimum: 0,
    maximum: most_kgPerL * cylinder.volume_L,
  });
}

/**
 * What a cylinder of CO2 holds and the pressure it shows, -40 to 30.9 degC, well settled. While there is liquid, pressure
 * follows temperature alone; then it falls with the gas.
 * @throws OutOfValidRangeError for a temperature above 30.9 degC (the critical point is at 30.98 degC: no liquid, and a full
 *   cylinder is then far above these pressures) or below -40 degC, and for more CO2 than the filling limit allows or than
 *   leaves room for gas at this temperature
 * @see [SpanWagner1996]; filling limit [ADR2023]
 */
export function liquidCylinderState(cylinder: LiquidCylinder): LiquidCylinderState {
  assertCylinder(cylinder);
  const { volume_L, co2_kg, temperature_degC } = cylinder;
  const vapour_kgPerL = saturatedVapourDensity_kgPerL(temperature_degC);
  const liquid_kgPerL = saturatedLiquidDensity_kgPerL(temperature_degC);
  const liquidVolume_L = Math.max(0, (co2_kg - vapour_kgPerL * volume_L) / (liquid_kgPerL - vapour_kgPerL));
  const liquid_kg = liquid_kgPerL * liquidVolume_L;
  const saturation_bar = saturationPressure_bar(temperature_degC);
  const density_molPerL = (1000 * co2_kg) / molarMass_gPerMol.co2 / volume_L;
  const pressureAbsolute_bar =
    liquidVolume_L > 0
      ? saturation_bar
      : Math.min(
          saturation_bar,
          carbonDioxideIsotherm(temperature_degC).stateAt(density_molPerL).pressureAbsolute_bar,
        );
  return {
    kind: liquidVolume_L > 0 ? "liquid-and-gas" : "gas-only",
    pressureAbsolute_bar,
    pressureGauge_bar: gaugeFromAbsolute_bar(pressureAbsolute_bar),
    liquid_kg,
    gas_kg: co2_kg - liquid_kg,
    liquidVolume_L,
  };
}

/**
 * CO2 that a cylinder holds as gas alone, kg, as a function of its absolute pressure in bar: what is left when the gauge has
 * fallen to it. At the saturation pressure it is what is left when the last liquid has gone. -40 to 30.9 degC.
 * @throws OutOfValidRangeError for a temperature outside that range; the function for a pressure below 0 bar or above
 *   saturation
 * @see [SpanWagner1996]
 */
export function cylinderGas_kg(
  cylinder: Pick<LiquidCylinder, "volume_L" | "temperature_degC">,
): (pressureAbsolute_bar: number) => number {
  const { volume_L, temperature_degC } = cylinder;
  assertInRange(volume_L, ranges.volume);
  assertInRange(temperature_degC, ranges.temperature);
  const saturation_bar = saturationPressure_bar(temperature_degC);
  const isotherm = carbonDioxideIsotherm(temperature_degC);
  const densest_molPerL = isotherm.densityLimit_molPerL;
  return (pressureAbsolute_bar) => {
    assertInRange(pressureAbsolute_bar, {
      quantity: "cylinder pressure",
      unit: "bar absolute",
      minimum: 0,
      maximum: saturation_bar,
    });
    const outcome = findRoot(
      {
        quantity: "density of the CO2 gas",
        low: 0,
        high: densest_molPerL,
        start: (densest_molPerL * pressureAbsolute_bar) / saturation_bar,
        slope: saturation_bar / densest_molPerL,
        tolerance: 1e-11 * saturation_bar,
      },
      (density_molPerL) => isotherm.stateAt(density_molPerL).pressureAbsolute_bar - pressureAbsolute_bar,
    );
    // The fitted saturation pressure may lie a hair above the pressure of the fitted saturated gas.
    const density_molPerL = outcome.kind === "found" ? outcome.at : densest_molPerL;
    return (volume_L * density_molPerL * molarMass_gPerMol.co2) / 1000;
  };
}

export interface BoundedSpan {
  readonly value_days: number;
  readonly low_days: number;
  readonly high_days: number;
}

export interface CylinderRunOut {
  /** Until the last liquid has gone and the gauge begins to fall; 0 when it has. */
  readonly liquidLasts: BoundedSpan;
  /** Until the pressure has fallen to the least inlet pressure of the regulator. */
  readonly gasLasts: BoundedSpan;
  readonly deliverable_kg: number;
}

/**
 * Days that a cylinder still lasts, by mass balance: what is above the reserve over the daily use. The bounds take the
 * scale's whole error and the use's whole error together, the worst way round.
 * @param use.co2_gPerDay measured use, more than 0
 * @param use.accuracy_gPerDay half-width of its error, less than the use itself
 * @param use.massAccuracy_kg half-width of the error of the CO2 mass in the cylinder
 * @throws OutOfValidRangeError as liquidCylinderState, for a use of 0 or less, for an error as large as the use
 * @see [SpanWagner1996] for the gas that stays behind
 */
export function liquidCylinderRunOut(
  cylinder: LiquidCylinder,
  use: {
    readonly co2_gPerDay: number;
    readonly accuracy_gPerDay: number;
    readonly massAccuracy_kg: number;
    readonly leastInletGauge_bar: number;
  },
): CylinderRunOut {
  assertCylinder(cylinder);
  const { co2_gPerDay, accuracy_gPerDay, massAccuracy_kg } = use;
  if (!(co2_gPerDay > 0 && co2_gPerDay <= 1e5)) {
    throw new OutOfValidRangeError("daily use of CO2", co2_gPerDay, "g/day", Number.MIN_VALUE, 1e5);
  }
  if (!(accuracy_gPerDay >= 0 && accuracy_gPerDay < co2_gPerDay)) {
    throw new OutOfValidRangeError("error of the daily use", accuracy_gPerDay, "g/day", 0, co2_gPerDay);
  }
  assertInRange(massAccuracy_kg, { quantity: "error of the mass", unit: "kg", minimum: 0, maximum: 10 });
  const gas_kg = cylinderGas_kg(cylinder);
  const dry_kg = cylinder.volume_L * saturatedVapourDensity_kgPerL(cylinder.temperature_degC);
  const reserve_kg = gas_kg(absoluteFromGauge_bar(use.leastInletGauge_bar));
  const days = (mass_kg: number, rate_gPerDay: number): number =>
    (1000 * Math.max(0, mass_kg)) / rate_gPerDay;
  const bounded = (above_kg: number): BoundedSpan => ({
    value_days: days(above_kg, co2_gPerDay),
    low_days: days(above_kg - massAccuracy_kg, co2_gPerDay + accuracy_gPerDay),
    high_days: days(above_kg + massAccuracy_kg, co2_gPerDay - accuracy_gPerDay),
  });
  return {
    liquidLasts: bounded(cylinder.co2_kg - dry_kg),
    gasLasts: bounded(cylinder.co2_kg - reserve_kg),
    deliverable_kg: Math.max(0, cylinder.co2_kg - reserve_kg),
  };
}
