import { assertInRange } from "../quantities/valid-range.js";
import type { Bounded } from "./plan-request.js";

/** All three are common practice, no source; a bubble a second of one counter is twice that of the next. */
export const usualDosing = {
  tankPerBubblePerSecond_L: { least: 50, most: 100 },
  co2PerBubblePerSecond_gPerH: { least: 0.1, most: 0.33 },
  dosing_hPerDay: 8,
} as const;

/**
 * A rule of thumb for what a tank takes a day, where nobody has measured it: g of CO2, with the span of the practice and the
 * middle of it by ratio. For tanks of 1 to 20000 L. Common practice, no source; no estimate of any one tank.
 * @throws OutOfValidRangeError for another volume
 */
export function usualUse_gPerDay(tankVolume_L: number): Bounded {
  assertInRange(tankVolume_L, { quantity: "tank volume", unit: "L", minimum: 1, maximum: 20_000 });
  const { tankPerBubblePerSecond_L, co2PerBubblePerSecond_gPerH, dosing_hPerDay } = usualDosing;
  const low =
    (tankVolume_L / tankPerBubblePerSecond_L.most) * co2PerBubblePerSecond_gPerH.least * dosing_hPerDay;
  const high =
    (tankVolume_L / tankPerBubblePerSecond_L.least) * co2PerBubblePerSecond_gPerH.most * dosing_hPerDay;
  return { value: Math.sqrt(low * high), low, high };
}
