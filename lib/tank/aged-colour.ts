import type { DropCheckerColour } from "../journal/journal-entry.js";
import type { Co2Evidence } from "./co2-evidence.js";
import { readDropChecker } from "./drop-checker-reading.js";
import type { DropChecker } from "./drop-checker.js";

/** A colour that a person saw some time ago. */
export interface SeenColour {
  readonly colour: DropCheckerColour;
  readonly age_h: number;
  readonly checker: DropChecker;
  /** The tank when it was seen; undefined where the daemon did not run or had no pH. */
  readonly then:
    | {
        readonly pH: number;
        /** CO2 of the liquid as a multiple of the tank's by the model; undefined where it had not settled. */
        readonly lag_ratio: number | undefined;
      }
    | undefined;
}

/** The tank now, by the methods that use the probe. */
export interface TankByProbe {
  readonly pH: number;
  readonly co2_mgPerL: number;
  readonly temperature_degC: number;
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
const largestCo2_mgPerL = 1000;
/** Within the noise of a probe, 0.04 pH, nothing has moved. */
const still_ln = 0.1;

/**
 * A colour as evidence of the tank's CO2 now. Its own uncertainty grows with its age and with how far the tank has moved since by
 * the probe; it is not shifted. After 6 h, or a factor of 2, it counts no more: a colour entered wrongly goes as the right ones do.
 * @param seen.age_h  0 or more
 * @throws OutOfValidRangeError as readDropChecker
 * @see [HorobinKiernan2002] for the colours; how they age is judgement
 */
export function agedColour(seen: SeenColour, now: TankByProbe): AgedColour {
  if (!(seen.age_h <= colourCounts_h)) return { kind: "too old" };
  const { then } = seen;
  // At one alkalinity CO2 goes with the hydrogen ion, whatever hardness the estimate rests on.
  const moved_ln = then === undefined ? undefined : Math.LN10 * (then.pH - now.pH);
  if (moved_ln !== undefined && Math.abs(moved_ln) > overtaken_ln) {
    return { kind: "overtaken", moved_ratio: Math.exp(moved_ln) };
  }
  const tankThen_mgPerL = Math.min(now.co2_mgPerL * Math.exp(-(moved_ln ?? 0)), largestCo2_mgPerL);
  const lag_ratio = then?.lag_ratio;
  const { evidence } = readDropChecker({
    colour: seen.colour,
    ...seen.checker,
    temperature_degC: now.temperature_degC,
    ...(lag_ratio === undefined
      ? {}
      : {
          model: {
            tankCo2_mgPerL: tankThen_mgPerL,
            liquidCo2_mgPerL: Math.min(tankThen_mgPerL * lag_ratio, largestCo2_mgPerL),
          },
        }),
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
