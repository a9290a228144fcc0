import type { DropCheckerColour } from "../journal/journal-entry.js";
import type { Co2Evidence } from "./co2-evidence.js";
import { readDropChecker } from "./drop-checker-reading.js";
import type { DropChecker } from "./drop-checker.js";

/** What the models of tank and liquid held at one instant, mg/L. */
export interface ModelledCo2 {
  readonly tankCo2_mgPerL: number;
  readonly liquidCo2_mgPerL: number;
}

/** A colour that a person saw some time ago. */
export interface SeenColour {
  readonly colour: DropCheckerColour;
  readonly age_h: number;
  readonly checker: DropChecker;
  /** At the time of seeing it; undefined where the daemon did not run or had no pH. */
  readonly modelThen: ModelledCo2 | undefined;
}

export type AgedColour =
  | {
      readonly kind: "counts";
      readonly evidence: Co2Evidence;
      /** The tank may have risen since it was seen, so that it cannot speak for less CO2 now. */
      readonly mayHaveRisen: boolean;
    }
  | { readonly kind: "too old" }
  /** The tank has moved by so much that the colour says nothing of now. */
  | { readonly kind: "overtaken"; readonly moved_ratio: number };

/** A colour speaks of the hours before it was seen, and a tank moves through its whole range in as many. Judgement. */
export const colourCounts_h = 6;
/** Each hour adds to what is not known of it, whatever the probe says. Judgement. */
const agingSigma_lnPerH = 0.1;
/** Where no model tells how the tank moved since: half of its usual way. Judgement. */
const unknownMoveSigma_ln = 0.5;
const overtaken_ln = Math.LN2;
/** Within the noise of a probe, 0.04 pH, nothing has moved. */
const still_ln = 0.1;

/**
 * A colour as evidence of the tank's CO2 now. Its own uncertainty grows with its age and with how far the tank has moved since by
 * the probe; it is not shifted. After 6 h, or a factor of 2, it counts no more: a colour entered wrongly goes as the right ones do.
 * @param seen.age_h  0 or more
 * @param tankCo2_mgPerL  of the tank now, by the methods that use the probe
 * @throws OutOfValidRangeError as readDropChecker
 * @see [HorobinKiernan2002] for the colours; how they age is judgement
 */
export function agedColour(seen: SeenColour, tankCo2_mgPerL: number, temperature_degC: number): AgedColour {
  if (!(seen.age_h <= colourCounts_h)) return { kind: "too old" };
  const { modelThen } = seen;
  const moved_ln =
    modelThen === undefined ? undefined : Math.log(tankCo2_mgPerL / Math.max(modelThen.tankCo2_mgPerL, 0.1));
  if (moved_ln !== undefined && Math.abs(moved_ln) > overtaken_ln) {
    return { kind: "overtaken", moved_ratio: Math.exp(moved_ln) };
  }
  const { evidence } = readDropChecker({
    colour: seen.colour,
    ...seen.checker,
    temperature_degC,
    ...(modelThen === undefined ? {} : { model: modelThen }),
  });
  const ownSigma_ln = Math.hypot(
    evidence.ownSigma_ln,
    moved_ln === undefined ? unknownMoveSigma_ln : Math.abs(moved_ln),
    agingSigma_lnPerH * Math.max(seen.age_h, 0),
  );
  return {
    kind: "counts",
    evidence: { ...evidence, ownSigma_ln },
    mayHaveRisen: moved_ln === undefined || moved_ln > still_ln,
  };
}
