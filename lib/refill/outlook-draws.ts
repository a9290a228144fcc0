import { normalQuantile } from "../estimation/normal-quantile.js";
import type { RunOut } from "../estimation/run-out.js";
import { normalQuantile80, normalQuantile95 } from "../numerics/normal-distribution.js";
import { assertInRange } from "../quantities/valid-range.js";
import type { DosingDays } from "./dosing-days.js";

/** An amount with the interval that holds it in 80 of 100 cases, g. */
export interface Amount80 {
  readonly value_g: number;
  readonly low80_g: number;
  readonly high80_g: number;
}

/** The time from closing to settled pressure, with 95 % bounds. */
export interface ReadyAfter {
  readonly value_h: number;
  readonly low_h: number;
  readonly high_h: number;
}

/** One equally likely course of the charge that is in the vessel. */
export interface RunOutDraw {
  /** Dosing time until the end. */
  readonly open_ms: number;
  readonly deliverable_g: number;
}

const runOutDraws = 100;
const readyDraws = 9;
const hour_ms = 3_600_000;

function shares(count: number): readonly number[] {
  return Array.from({ length: count }, (_, k) => (k + 0.5) / count);
}

/**
 * Equally likely run-outs in dosing time, by a normal distribution of different width on either side of the median. In civil
 * time the same distribution would put run-outs into nights and days off, where nothing is used. The amount goes with the time:
 * a charge that lasts longer than expected is one that holds more.
 */
export function runOutDrawsOf(
  runOut: RunOut,
  deliverable: Amount80,
  days: DosingDays,
): readonly RunOutDraw[] {
  const median_ms = days.openUntil_ms(runOut.median_epochMs);
  const down_ms = median_ms - days.openUntil_ms(runOut.low80_epochMs);
  const up_ms = days.openUntil_ms(runOut.high80_epochMs) - median_ms;
  const { value_g, low80_g, high80_g } = deliverable;
  return shares(runOutDraws).map((share) => {
    const deviate = normalQuantile(share) / normalQuantile80;
    return {
      open_ms: Math.max(0, median_ms + deviate * (deviate < 0 ? down_ms : up_ms)),
      deliverable_g: Math.max(0, value_g + deviate * (deviate < 0 ? value_g - low80_g : high80_g - value_g)),
    };
  });
}

/**
 * Equally likely ready times, ms, by a normal distribution of the logarithm of different width on either side.
 * @throws OutOfValidRangeError unless 0 < low <= value <= high <= 1000 h
 */
export function readyDrawsOf_ms({ value_h, low_h, high_h }: ReadyAfter): readonly number[] {
  assertInRange(low_h, { quantity: "earliest ready time", unit: "h", minimum: 1e-3, maximum: value_h });
  assertInRange(value_h, { quantity: "ready time", unit: "h", minimum: 1e-3, maximum: 1000 });
  assertInRange(high_h, { quantity: "latest ready time", unit: "h", minimum: value_h, maximum: 1000 });
  return shares(readyDraws).map((share) => {
    const deviate = normalQuantile(share) / normalQuantile95;
    const bound_h = deviate < 0 ? low_h : high_h;
    return hour_ms * value_h * (bound_h / value_h) ** Math.abs(deviate);
  });
}
