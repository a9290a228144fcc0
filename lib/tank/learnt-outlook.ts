import type { FallOffer } from "./evening-fall.js";
import type { PausingTank } from "./lead-after-pause.js";
import type { FlowNeeded, Plateau } from "./lead-time.js";
import type { HoursToLimit } from "./overdose.js";
import type { DarkRespiration } from "./respiration.js";

/** Readings of some minutes by their median: the instant, the pH, the temperature where a thermometer told. */
export type LearningSample = readonly [at_epochMs: number, pH: number, temperature_degC: number | null];

export type LeadOffer =
  | {
      readonly kind: "reached";
      /** Up to whole 5 minutes. */
      readonly lead_min: number;
      readonly leadLow80_min: number;
      /** Undefined where the plateau may lie below the target. */
      readonly leadHigh80_min: number | undefined;
      readonly target_mgPerL: number;
      /** For windows that begin sooner than after a night. */
      readonly pausing?: PausingTank | undefined;
    }
  | {
      readonly kind: "out of reach";
      readonly target_mgPerL: number;
      /** Flow over today's at which the plateau would be the target. */
      readonly flowNeeded: FlowNeeded;
    }
  | { readonly kind: "not known"; readonly because: string };

/** What follows from nights and mornings, on the scale of the tank's own estimate. */
export interface LearntOutlook {
  readonly at_epochMs: number;
  readonly lead: LeadOffer;
  /** In the dark: plants in light hold it lower. */
  readonly plateau: Plateau | undefined;
  readonly respiration: DarkRespiration | undefined;
  /** When the CO2 of the day is below the wanted band. */
  readonly fall?: FallOffer | undefined;
}

export interface OverdoseOutlook {
  readonly at_epochMs: number;
  readonly limit_mgPerL: number;
  readonly asItIs: HoursToLimit;
  readonly aerated: HoursToLimit;
}
