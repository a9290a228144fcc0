import { NoConvergenceError } from "../errors.js";

/**
 * The place where a continuous function changes its sign between `low` and `high`: false position with the
 * stale end's weight halved, so that both ends close in. The simulation keeps a solver of its own.
 * @param relativeTolerance width of the last bracket over its upper end
 * @throws NoConvergenceError when the ends have one sign, or after 200 iterations
 * @see [DowellJarratt1971]
 */
export function findBracketedRoot(
  quantity: string,
  bracket: { readonly low: number; readonly high: number },
  relativeTolerance: number,
  residual: (at: number) => number,
): number {
  let { low, high } = bracket;
  let atLow = residual(low);
  let atHigh = residual(high);
  if (atLow === 0) return low;
  if (atHigh === 0) return high;
  if (!(atLow < 0 !== atHigh < 0)) throw new NoConvergenceError(quantity, low, high, 0);
  let lastMoved: "low" | "high" | "none" = "none";
  const iterationLimit = 200;
  for (let iteration = 0; iteration < iterationLimit; iteration += 1) {
    const guess = (low * atHigh - high * atLow) / (atHigh - atLow);
    const middle = guess > low && guess < high ? guess : (low + high) / 2;
    const atMiddle = residual(middle);
    const step = Math.min(middle - low, high - middle);
    if (atMiddle === 0) return middle;
    if (atMiddle < 0 === atLow < 0) {
      low = middle;
      atLow = atMiddle;
      if (lastMoved === "low") atHigh /= 2;
      lastMoved = "low";
    } else {
      high = middle;
      atHigh = atMiddle;
      if (lastMoved === "high") atLow /= 2;
      lastMoved = "high";
    }
    const tolerance = relativeTolerance * Math.max(Math.abs(high), Number.MIN_VALUE);
    if (high - low <= tolerance || step <= tolerance / 8) return middle;
  }
  throw new NoConvergenceError(quantity, low, high, iterationLimit);
}
