import { assertInRange } from "../quantities/valid-range.js";

/** A value that was believed last, with its instant. */
export interface BelievedValue {
  readonly value: number;
  readonly at_monotonicMs: number;
}

/**
 * The fastest that the water of a tank warms or cools, K per minute. Two things change it: a water change, for which 15 L a
 * minute (a hose or two buckets) that are 20 K off is much; and a heater or a lamp, of which 10 W for each litre is far more
 * than anybody has. Heat that flows into water of 4.19 kJ/(kg K) and 1 kg/L. The amounts are common practice, no source.
 * @param volume_L  above 0
 * @throws OutOfValidRangeError for a volume that is not above 0.
 */
export function fastestWarming_KPerMin(volume_L: number): number {
  assertInRange(volume_L, {
    quantity: "volume",
    unit: "L",
    minimum: Number.MIN_VALUE,
    maximum: Number.MAX_VALUE,
  });
  const byWater = (mostPoured_LPerMin * mostApart_K) / volume_L;
  const byHeat = (mostHeating_WPerL * 60) / (heatCapacity_JPerKgK * density_kgPerL);
  return byWater + byHeat;
}

const mostPoured_LPerMin = 15;
const mostApart_K = 20;
const mostHeating_WPerL = 10;
/** Of water at 25 degC. From memory. */
const heatCapacity_JPerKgK = 4182;
const density_kgPerL = 0.997;

/**
 * How far a value lies beyond what the water can have come to since the last believed one; undefined where it does not, or where
 * nothing was believed yet.
 * @param gate  what the probe itself may leap, as when fresh water flows past it
 */
export function beyondWater_K(
  believed: BelievedValue | undefined,
  next: BelievedValue,
  { gate, fastest_KPerMin }: { readonly gate: number; readonly fastest_KPerMin: number },
): number | undefined {
  if (believed === undefined) return undefined;
  const elapsed_min = Math.max(0, next.at_monotonicMs - believed.at_monotonicMs) / 60_000;
  const beyond_K = Math.abs(next.value - believed.value) - gate - fastest_KPerMin * elapsed_min;
  return beyond_K > 0 ? beyond_K : undefined;
}
