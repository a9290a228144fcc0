import { normalQuantile95 } from "../numerics/normal-distribution.js";
import type { AgedColour } from "./aged-colour.js";

export type ColourWitness = "for the lower figure" | "against the lower figure" | "says nothing";

/**
 * What a drop checker's colour says of two figures of a tank's CO2, of which the higher is the careful one. It speaks for the
 * lower only where its own 95 % interval holds that one and ends below the higher; a colour that bounds the CO2 from below, or
 * from before a rise, never does.
 */
export function colourWitness(
  colour: AgedColour,
  figures: { readonly lower_mgPerL: number; readonly higher_mgPerL: number },
): ColourWitness {
  if (colour.kind !== "counts") return "says nothing";
  const { co2_mgPerL, ownSigma_ln, reach } = colour.evidence;
  const factor = Math.exp(normalQuantile95 * ownSigma_ln);
  const low_mgPerL = reach === "at most" ? 0 : co2_mgPerL / factor;
  const high_mgPerL = reach === "at least" ? Infinity : co2_mgPerL * factor;
  const { lower_mgPerL, higher_mgPerL } = figures;
  if (lower_mgPerL < low_mgPerL) return "against the lower figure";
  if (colour.mayHaveRisen || lower_mgPerL > high_mgPerL || higher_mgPerL <= high_mgPerL)
    return "says nothing";
  return "for the lower figure";
}
