import { assertInRange } from "../quantities/valid-range.js";

/** How long ago something was measured in a tank's water, and what happened to the water since. */
export interface WaterAge {
  /** Undefined: nobody knows when, as of a value in the config. */
  readonly age_days: number | undefined;
  /** Share of the water that is no longer the same, 0 to 1. */
  readonly replaced_ratio: number;
}

const ageRange = { quantity: "age of the measurement", unit: "days", minimum: 0, maximum: 36_500 };
const replacedRange = { quantity: "share of the water replaced", unit: "", minimum: 0, maximum: 1 };

/** A value without a date is taken to be so old. Judgement. */
export const unknownAge_days = 56;
/**
 * The alkalinity of a tank wanders: nitrification takes it, food, stones and topping up move it. 5 % after a week, 10 % after four.
 * Judgement.
 */
const wanderPerRootWeek_ln = 0.05;
/** New water may be that much harder or softer than what stood in the tank, as nobody has tested since. Judgement. */
const newWaterSigma_ln = 0.3;

/**
 * Share of the water that was replaced by several changes one after another, each of the water that was then in the tank.
 * @param changed_L  each 0 to the volume; more counts as all of it
 */
export function replacedShare(changed_L: readonly number[], volume_L: number): number {
  return 1 - changed_L.reduce((left, litres) => left * (1 - Math.min(Math.max(litres / volume_L, 0), 1)), 1);
}

/**
 * Standard deviation by which the logarithm of a tank's alkalinity may have moved since it was measured: a walk that grows with
 * the root of time, and the new water's own hardness in the share in which it was put in. 0 for a test of this minute.
 * @throws OutOfValidRangeError for an age below 0 or a share outside 0 to 1. Both rates are judgement, no source.
 */
export function waterDriftSigma_ln({ age_days, replaced_ratio }: WaterAge): number {
  const since_days = age_days ?? unknownAge_days;
  assertInRange(since_days, ageRange);
  assertInRange(replaced_ratio, replacedRange);
  return Math.hypot(wanderPerRootWeek_ln * Math.sqrt(since_days / 7), newWaterSigma_ln * replaced_ratio);
}
