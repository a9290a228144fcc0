import { gaugeFromAbsolute_bar } from "../quantities/units.js";
import { chargeEquilibrium } from "../vessel/charge-equilibrium.js";
import { hydratePressure_bar, type OutsideModel } from "../vessel/outside-model.js";
import { upperPressureGauge_bar, withModelError_bar } from "./charge-limits.js";
import { chargeOf, overweighedCharges, type PlanSetting } from "./plan-request.js";

/** Pressure of the settled charge at one temperature. */
export interface PressureOutlook {
  readonly temperature_degC: number;
  /** Equilibrium, with the bicarbonate that the liquor holds back. */
  readonly pressureGauge_bar: number;
  readonly lowGauge_bar: number;
  /** The worse of equilibrium and full conversion, the powders weighed high and the water off either way. The figure that the limits are held to. */
  readonly highGauge_bar: number;
  readonly outsideModel: readonly OutsideModel[];
}

/**
 * Settled gauge pressure at one temperature with 95 % bounds: the model's 4 % of the absolute pressure and the weighing
 * error, added. Where CO2 hydrate can form the lower bound is its own line. 0 to 45 degC.
 * @throws OutOfValidRangeError, NoConvergenceError as chargeEquilibrium
 * @see [Grenthe1997], [SpanWagner1996], [SloanKoh2008]
 */
export function pressureOutlook(
  setting: PlanSetting,
  sodiumBicarbonate_g: number,
  temperature_degC: number,
): PressureOutlook {
  const expected = chargeEquilibrium(chargeOf(setting, sodiumBicarbonate_g), temperature_degC);
  const least = chargeEquilibrium(chargeOf(setting, sodiumBicarbonate_g, -1), temperature_degC);
  const overweighed = overweighedCharges(chargeOf(setting, sodiumBicarbonate_g), setting.weighing);
  const hydrate_bar = hydratePressure_bar(temperature_degC);
  const besideCo2_bar = expected.pressureAbsolute_bar - expected.co2Pressure_bar;
  const hydrateGauge_bar =
    hydrate_bar === undefined ? Infinity : gaugeFromAbsolute_bar(hydrate_bar + besideCo2_bar);
  return {
    temperature_degC,
    pressureGauge_bar: expected.pressureGauge_bar,
    lowGauge_bar: Math.min(withModelError_bar(least.pressureGauge_bar, -1), hydrateGauge_bar),
    highGauge_bar: Math.max(...overweighed.map((charge) => upperPressureGauge_bar(charge, temperature_degC))),
    outsideModel: expected.outsideModel,
  };
}
