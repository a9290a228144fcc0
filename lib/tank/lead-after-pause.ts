import { assertInRange } from "../quantities/valid-range.js";
import { fitBegins_h } from "./night-fit.js";

/** A tank between two windows of a day, on one scale, as nights and mornings taught it. */
export interface PausingTank {
  readonly k_perH: number;
  /** At rest without gas and light. */
  readonly settledCo2_mgPerL: number;
  /** At rest with gas and without light. */
  readonly plateau_mgPerL: number;
  /** Where the windows end. */
  readonly closingCo2_mgPerL: number;
  readonly target_mgPerL: number;
}

/** CO2 at the end of the gas, from where the fit of a night begins; on the scale of the fit. */
export function closingCo2_mgPerL(
  night: { readonly startCo2_mgPerL: number },
  tank: Pick<PausingTank, "k_perH" | "settledCo2_mgPerL">,
): number {
  const { k_perH, settledCo2_mgPerL } = tank;
  return settledCo2_mgPerL + (night.startCo2_mgPerL - settledCo2_mgPerL) * Math.exp(k_perH * fitBegins_h);
}

/**
 * Hours before the lights at which the gas must open, where it ended so long before the lights: the later it opens the emptier
 * the tank, and both are in C(lights) = P - (P - S) e^(-k lead) + (Cclosing - S) e^(-k pause), with the plateau P and the rest S.
 * 0 where enough is left of the window before; infinite where the plateau is not above the target.
 * @throws OutOfValidRangeError for a pause outside 0 to 168 h
 */
export function leadAfterPause_h(tank: PausingTank, pause_h: number): number {
  assertInRange(pause_h, { quantity: "pause between windows", unit: "h", minimum: 0, maximum: 168 });
  const { k_perH, settledCo2_mgPerL, plateau_mgPerL, target_mgPerL } = tank;
  const left_mgPerL = (tank.closingCo2_mgPerL - settledCo2_mgPerL) * Math.exp(-k_perH * pause_h);
  const missing_mgPerL = plateau_mgPerL - target_mgPerL + left_mgPerL;
  if (missing_mgPerL <= 0 || plateau_mgPerL <= target_mgPerL)
    return left_mgPerL + settledCo2_mgPerL >= target_mgPerL ? 0 : Infinity;
  return Math.max(0, -Math.log(missing_mgPerL / (plateau_mgPerL - settledCo2_mgPerL)) / k_perH);
}
