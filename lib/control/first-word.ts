import type { SensorFreshness } from "../readings/sensor-freshness.js";

/** Whether a sensor has spoken since one listens to it. What the broker held back is not its word. */
export type FirstWord =
  | { readonly kind: "spoken" }
  /** It may any moment: what it would say is not known, and it does not count as silent yet. */
  | { readonly kind: "awaited" }
  /** It has had as long as it may be silent at any other time. */
  | { readonly kind: "overdue" };

/**
 * A sensor's first word is awaited for as long as it may be silent at any other time, counted from when it could be heard.
 * @param listening_ms how long that is; undefined: it cannot be heard yet, as before the first connection to the broker
 */
export function firstWord(
  freshness: SensorFreshness,
  listening_ms: number | undefined,
  { maximumAge_s }: { readonly maximumAge_s: number },
): FirstWord {
  if (freshness.kind !== "never") return { kind: "spoken" };
  // Written so that a time that is no number awaits nothing for ever.
  return listening_ms === undefined || listening_ms <= maximumAge_s * 1000
    ? { kind: "awaited" }
    : { kind: "overdue" };
}

/** An alarm of silence stands still meanwhile: it is not raised, and one from before the start does not return. */
const asLongAsAwaited_s = Number.MAX_SAFE_INTEGER;

/** The on-delay of an alarm that a sensor is silent. */
export function silenceDelay_s(word: FirstWord): number {
  return word.kind === "awaited" ? asLongAsAwaited_s : 0;
}

/** What gas waits for at this instant, in words. */
export function awaitedInWords(sensorId: string): string {
  return `${sensorId} has not spoken yet since the start`;
}
