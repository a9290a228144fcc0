/** How many values, the newest included, the median is taken of: three equal ones make the majority. */
export const medianWindowLength = 5;

/** The last values seen, oldest first; believed or not, so that a genuine step can win the majority. */
export interface MedianWindow {
  readonly values: readonly number[];
  readonly lastSeen_monotonicMs: number;
}

/**
 * Puts a value into the window; after a silence longer than `longestSilence_ms` a new window starts with it.
 */
export function withValueSeen(
  window: MedianWindow | undefined,
  value: number,
  at_monotonicMs: number,
  longestSilence_ms: number,
): MedianWindow {
  const isNew = window === undefined || at_monotonicMs - window.lastSeen_monotonicMs > longestSilence_ms;
  const earlier = isNew ? [] : window.values.slice(1 - medianWindowLength);
  return { values: [...earlier, value], lastSeen_monotonicMs: at_monotonicMs };
}

/** A step makes one leap, a lone spike two. */
const leapsOfTwoSenders = 3;

/**
 * Whether the values leap to and fro by more than the gate, as when two senders fight on one topic: each in its turn would have the
 * majority, and which of them is right cannot be told.
 */
export function leapsToAndFro(window: MedianWindow, gate: number): boolean {
  let leaps = 0;
  let before: number | undefined;
  for (const value of window.values) {
    if (before !== undefined && Math.abs(value - before) > gate) leaps += 1;
    before = value;
  }
  return leaps >= leapsOfTwoSenders;
}

/**
 * Distance of the newest value from the median of the window. Of an even number of values the farther of the two middle
 * ones counts, so that the second of two values is not vouched for by itself. One value alone is at distance 0.
 *
 * A lone spike is refused; a step is followed at its third reading at the latest. A value that climbs by more than half the
 * gate with each reading is refused until it slows down.
 */
export function distanceFromMedian(window: MedianWindow): number {
  const newest = window.values.at(-1) ?? Number.NaN;
  const sorted = [...window.values].sort((a, b) => a - b);
  const upper = sorted[Math.floor(sorted.length / 2)] ?? Number.NaN;
  const lower = sorted[Math.floor((sorted.length - 1) / 2)] ?? Number.NaN;
  return Math.max(Math.abs(newest - lower), Math.abs(newest - upper));
}
