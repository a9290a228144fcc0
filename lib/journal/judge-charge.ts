import {
  gasSpaceShare_ratio,
  highestAllowedGauge_bar,
  upperPressureGauge_bar,
} from "../charge-plan/charge-limits.js";
import { exactAcidPerBicarbonate_ratio } from "../charge-plan/plan-request.js";
import { NoConvergenceError, OutOfValidRangeError } from "../errors.js";
import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { sealedGasSpace_L, type Charge, type ResidualLiquor } from "../vessel/charge.js";
import type { FactOf } from "./journal-entry.js";

export type ChargeRemark =
  | { readonly kind: "little gas space"; readonly gasSpace_percent: number; readonly least_percent: number }
  | {
      readonly kind: "strong charge";
      readonly upperGauge_bar: number;
      readonly hottest_degC: number;
      readonly allowedGauge_bar: number;
    }
  | { readonly kind: "pressure not foreseen"; readonly reason: string }
  | {
      readonly kind: "acid out of proportion";
      readonly acid_g: number;
      /** What the bicarbonate would take to the last grain. */
      readonly exact_g: number;
    };

interface ChargedVessel {
  readonly volume_L: number;
  readonly ratedPressureGauge_bar: number | undefined;
  readonly reliefOpeningGauge_bar: number | undefined;
}

/** The hottest day where the keeper states none. */
const hottest_degC = 40;

/**
 * A closed vessel is a fact, whatever is in it, so a charge that no plan would have allowed is taken with a caution. Only
 * amounts that the vessel cannot hold are refused: then they, or the volume in the config, are wrong.
 * @see upperPressureGauge_bar for the pressure, its errors and sources
 */
export function judgeCharge(
  fact: FactOf<"charge closed">,
  vessel: ChargedVessel,
): readonly ChargeRemark[] | { readonly kind: "contradictory"; readonly reason: string } {
  const charge: Charge = {
    vesselVolume_L: vessel.volume_L,
    acid: fact.acid,
    sodiumBicarbonate_g: fact.sodiumBicarbonate_g,
    sealedAt_degC: fact.sealedAt_degC,
    ...(fact.residualLiquor_L === undefined ? {} : { residualLiquor: asWater(fact.residualLiquor_L) }),
    ...(fact.closedWith === "ice" ? { water_kg: 0, ice_kg: fact.water_kg } : { water_kg: fact.water_kg }),
  };
  let gasSpace_L: number;
  try {
    gasSpace_L = sealedGasSpace_L(charge);
  } catch (error) {
    if (!(error instanceof OutOfValidRangeError)) throw error;
    return {
      kind: "contradictory",
      reason:
        `it does not fit into ${String(vessel.volume_L)} L: ${error.quantity} is ${String(error.value)} ${error.unit}, and ` +
        `at most ${(Math.floor(100 * error.maximum) / 100).toFixed(2)} ${error.unit} could be in it at all; a plan leaves at least ` +
        `${100 * gasSpaceShare_ratio} % of it to the gas`,
    };
  }
  const remarks: ChargeRemark[] = [];
  if (gasSpace_L < gasSpaceShare_ratio * vessel.volume_L) {
    remarks.push({
      kind: "little gas space",
      gasSpace_percent: Math.floor((100 * gasSpace_L) / vessel.volume_L),
      least_percent: 100 * gasSpaceShare_ratio,
    });
  }
  return [...remarks, ...acidRemark(charge), ...pressureRemark(charge, vessel)];
}

/** Less than half of the exact acid, or more than twice: a judgement; a slip of the decimal point is tenfold. */
function acidRemark({ acid, sodiumBicarbonate_g }: Charge): readonly ChargeRemark[] {
  const exact_g = sodiumBicarbonate_g * exactAcidPerBicarbonate_ratio(acid.kind);
  return acid.mass_g < exact_g / 2 || acid.mass_g > 2 * exact_g
    ? [{ kind: "acid out of proportion", acid_g: acid.mass_g, exact_g }]
    : [];
}

/** What nobody weighed counts by its space alone: its salts would hold a little more gas back, and its bicarbonate give some. */
function asWater(volume_L: number): ResidualLiquor {
  return {
    volume_L,
    citrate_mol: 0,
    sodium_mol: 0,
    inorganicCarbon_mol: 0,
    waterBasis_mol: (volume_L * 1000) / molarMass_gPerMol.water,
  };
}

function pressureRemark(charge: Charge, vessel: ChargedVessel): readonly ChargeRemark[] {
  const { ratedPressureGauge_bar, reliefOpeningGauge_bar } = vessel;
  if (ratedPressureGauge_bar === undefined || reliefOpeningGauge_bar === undefined) return [];
  const allowedGauge_bar = highestAllowedGauge_bar({ ratedPressureGauge_bar, reliefOpeningGauge_bar });
  try {
    const upperGauge_bar = upperPressureGauge_bar(charge, hottest_degC);
    return upperGauge_bar > allowedGauge_bar
      ? [{ kind: "strong charge", upperGauge_bar, hottest_degC, allowedGauge_bar }]
      : [];
  } catch (error) {
    if (error instanceof OutOfValidRangeError || error instanceof NoConvergenceError) {
      return [{ kind: "pressure not foreseen", reason: error.message }];
    }
    throw error;
  }
}
