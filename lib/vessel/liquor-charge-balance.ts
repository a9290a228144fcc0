import { NoConvergenceError } from "../errors.js";
import type { LiquorActivity, LiquorSolutes } from "./liquor-activity.js";
import type { LiquorConstants } from "./liquor-constants.js";

/** What the liquor holds in every form, and what it stands in contact with. */
export interface LiquorMakeup {
  readonly co2Fugacity_bar: number;
  readonly waterActivity: number;
  readonly citrateTotal_molPerKg: number;
  readonly sodiumTotal_molPerKg: number;
}

/** The liquor with no charge left over. */
export interface BalancedLiquor {
  /** ln of the hydrogen ion's activity. */
  readonly lnHydrogen: number;
  readonly solutes: LiquorSolutes;
  /** Solid bicarbonate stands beside the liquor. */
  readonly saturated: boolean;
}

const stepLimit = 80;
const lowestLn = Math.log(1e-14);
const highestLn = Math.log(10);

/**
 * The pH at which the liquor is neutral, and its solutes, for given activity coefficients. The charge balance rises with
 * ln of the hydrogen activity all the way, so the bracket holds one root. It is no smooth curve: free sodium is the lesser
 * of what is there and what solid bicarbonate allows, and around the first crystals its slope has a corner, across which
 * Newton's steps go to and fro. Each step is therefore at most half as long as the one before, or halves the bracket.
 * @param startLn where to begin, from a neighbouring liquor
 * @throws NoConvergenceError after 80 steps
 * @see [PlummerBusenberg1982], [Goldberg2002], [Nordstrom1990]; [DahlquistBjorck2008] section 6.3, Newton in a bracket
 */
export function balanceCharge(
  constants: LiquorConstants,
  gamma: LiquorActivity,
  makeup: LiquorMakeup,
  startLn: number,
): BalancedLiquor {
  const { waterActivity, citrateTotal_molPerKg, sodiumTotal_molPerKg } = makeup;
  const co2Activity = constants.henry_molPerKgBar * makeup.co2Fugacity_bar;
  const bicarbonateActivity = constants.K1 * co2Activity * waterActivity;
  const bicarbonateTimesH = bicarbonateActivity / gamma.bicarbonate;
  const carbonateTimesH2 = (constants.K2 * bicarbonateActivity) / gamma.carbonate;
  const hydroxideTimesH = (constants.Kw * waterActivity) / gamma.hydroxide;
  const step1 = constants.citricK1 / gamma.dihydrogenCitrate;
  const step2 = (constants.citricK2 * gamma.dihydrogenCitrate) / gamma.hydrogenCitrate;
  const step3 = (constants.citricK3 * gamma.hydrogenCitrate) / gamma.citrate;
  const pairConstant = constants.pair * gamma.sodium * gamma.bicarbonate;
  const carbonatePairConstant =
    (constants.carbonatePair * gamma.sodium * gamma.carbonate) / gamma.sodiumCarbonatePair;
  const solubilityProduct = constants.nahcolite / (gamma.sodium * gamma.bicarbonate);

  let low = lowestLn;
  let high = highestLn;
  let lnH = startLn;
  let finalStep = false;
  let lastStep = Infinity;
  for (let step = 0; step < stepLimit; step += 1) {
    const activity = Math.exp(lnH);
    const hydrogen = activity / gamma.hydrogen;
    const bicarbonate = bicarbonateTimesH / activity;
    const carbonate = carbonateTimesH2 / (activity * activity);
    const hydroxide = hydroxideTimesH / activity;
    const ratio1 = step1 / activity;
    const ratio2 = (ratio1 * step2) / activity;
    const ratio3 = (ratio2 * step3) / activity;
    const undissociated = 1 / (1 + ratio1 + ratio2 + ratio3);
    const meanCharge = undissociated * (ratio1 + 2 * ratio2 + 3 * ratio3);
    const variance = undissociated * (ratio1 + 4 * ratio2 + 9 * ratio3) - meanCharge * meanCharge;
    const paired = pairConstant * bicarbonate;
    const carbonatePaired = carbonatePairConstant * carbonate;
    const unsaturatedSodium = sodiumTotal_molPerKg / (1 + paired + carbonatePaired);
    const saturated = unsaturatedSodium * bicarbonate > solubilityProduct;
    const sodium = saturated ? solubilityProduct / bicarbonate : unsaturatedSodium;
    const positive = sodium + hydrogen;
    const carbonatePair = carbonatePaired * sodium;
    const negative =
      bicarbonate + 2 * carbonate + carbonatePair + hydroxide + citrateTotal_molPerKg * meanCharge;
    const excess = positive - negative;
    if (finalStep || Math.abs(excess) <= 1e-14 * positive) {
      const citric = citrateTotal_molPerKg * undissociated;
      return {
        lnHydrogen: lnH,
        saturated,
        solutes: {
          hydrogen_molPerKg: hydrogen,
          hydroxide_molPerKg: hydroxide,
          sodium_molPerKg: sodium,
          bicarbonate_molPerKg: bicarbonate,
          sodiumBicarbonatePair_molPerKg: paired * sodium,
          sodiumCarbonatePair_molPerKg: carbonatePair,
          carbonate_molPerKg: carbonate,
          citrate_molPerKg: citric * ratio3,
          hydrogenCitrate_molPerKg: citric * ratio2,
          dihydrogenCitrate_molPerKg: citric * ratio1,
          citricAcid_molPerKg: citric,
          carbonDioxide_molPerKg: co2Activity / gamma.carbonDioxide,
        },
      };
    }
    if (excess > 0) high = lnH;
    else low = lnH;
    const sodiumSlope = saturated
      ? sodium + carbonatePair
      : (sodium * (paired + carbonatePaired * (4 + paired))) / (1 + paired + carbonatePaired);
    const slope =
      sodiumSlope + hydrogen + bicarbonate + 4 * carbonate + hydroxide + citrateTotal_molPerKg * variance;
    const newton = lnH - excess / slope;
    const isShort = Math.abs(newton - lnH) <= lastStep / 2;
    const next = isShort && newton > low && newton < high ? newton : (low + high) / 2;
    lastStep = Math.abs(next - lnH);
    // Rounding can keep the excess above its limit; a step this small is the last that counts.
    finalStep = Math.abs(next - lnH) <= 1e-14 * Math.abs(lnH);
    lnH = next;
  }
  throw new NoConvergenceError("pH of the liquor", -high / Math.LN10, -low / Math.LN10, stepLimit);
}
