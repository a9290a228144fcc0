import { standardAtmosphere_bar } from "../quantities/physical-constants.js";
import { assertInRange } from "../quantities/valid-range.js";
import {
  solidBicarbonateVolume_LPerMol,
  vesselInventory,
  type Charge,
  type ResidualLiquor,
} from "../vessel/charge.js";
import { depletionCurve } from "../vessel/depletion.js";

/**
 * What a charge leaves in the vessel when it was drawn down and opened and so much liquor was not poured out: its share of
 * citrate, sodium, CO2 and water, and every crystal of bicarbonate, since those lie at the bottom. At 1 atm and 0 to 45 degC.
 * @param left.volume_L liquor without the crystals, 0 to all that the charge made
 * @throws OutOfValidRangeError for more liquor than the charge made, and as depletionCurve
 * @throws NoConvergenceError as depletionCurve
 * @see [Grenthe1997]; the rest is a mass balance
 */
export function residualLiquorOf(
  lastCharge: Charge,
  left: { readonly volume_L: number; readonly temperature_degC: number },
): ResidualLiquor {
  const { temperature_degC } = left;
  const inventory = vesselInventory(lastCharge);
  const curve = depletionCurve(lastCharge, { temperature_degC, withdrawal: "headspace" });
  const answer = curve.remainingAt(standardAtmosphere_bar);
  const remaining_mol = answer.kind === "on-the-curve" ? answer.co2Remaining_mol : 0;
  const state = curve.afterRemoving(
    answer.kind === "above-full" ? 0 : curve.co2Available_mol - remaining_mol,
  );
  assertInRange(left.volume_L, {
    quantity: "residual liquor",
    unit: "L",
    minimum: 0,
    maximum: state.liquidVolume_L,
  });
  const share = left.volume_L / state.liquidVolume_L;
  const { solidBicarbonate_mol: solid_mol } = state;
  return {
    volume_L: left.volume_L + solid_mol * solidBicarbonateVolume_LPerMol,
    citrate_mol: inventory.citrate_mol * share,
    sodium_mol: (inventory.sodium_mol - solid_mol) * share + solid_mol,
    inorganicCarbon_mol:
      (state.co2Dissolved_mol + state.bicarbonate_mol + state.carbonate_mol) * share + solid_mol,
    waterBasis_mol: (inventory.waterBasis_mol - solid_mol) * share + solid_mol,
  };
}

/** So many times the liquor. */
export function scaledLiquor(liquor: ResidualLiquor, factor: number): ResidualLiquor {
  return {
    volume_L: liquor.volume_L * factor,
    citrate_mol: liquor.citrate_mol * factor,
    sodium_mol: liquor.sodium_mol * factor,
    inorganicCarbon_mol: liquor.inorganicCarbon_mol * factor,
    waterBasis_mol: liquor.waterBasis_mol * factor,
  };
}
