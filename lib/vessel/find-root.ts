import { NoConvergenceError } from "../errors.js";

export interface RootSearch {
  readonly quantity: string;
  readonly low: number;
  readonly high: number;
  /** A first guess between the ends, and a guess of the function's slope there. */
  readonly start: number;
  readonly slope: number;
  /** The root is found when the function is this close to zero. */
  readonly tolerance: number;
}

export type RootOutcome =
  | { readonly kind: "found"; readonly at: number }
  /** The function is still below zero at the high end. */
  | { readonly kind: "above-high" }
  /** The function is already above zero at the low end. */
  | { readonly kind: "below-low" };

const iterationLimit = 100;
/** From here on every second step halves the bracket, whatever the secant says. */
const patience = 12;

/**
 * The root of a rising function: secant steps inside a bracket whose ends are evaluated only when a step reaches them,
 * so that a good first guess costs few evaluations. A root outside the bracket is an outcome, not an error.
 * @throws NoConvergenceError when the bracket has closed, or 100 evaluations are spent, with the function still off zero
 * @see [DahlquistBjorck2008] section 6.2, safeguarded secant method
 */
export function findRoot(search: RootSearch, rising: (at: number) => number): RootOutcome {
  let { low, high } = search;
  let lowIsTried = false;
  let highIsTried = false;
  let at = Math.min(Math.max(search.start, low), high);
  let before: { at: number; value: number } | undefined;
  for (let iteration = 0; iteration < iterationLimit; iteration += 1) {
    const value = rising(at);
    if (Math.abs(value) <= search.tolerance) return { kind: "found", at };
    if (value < 0) {
      if (at >= search.high) return { kind: "above-high" };
      low = at;
      lowIsTried = true;
    } else {
      if (at <= search.low) return { kind: "below-low" };
      high = at;
      highIsTried = true;
    }
    const slope =
      before === undefined || before.at === at ? search.slope : (value - before.value) / (at - before.at);
    let next = at - value / slope;
    if (iteration >= patience && iteration % 2 === 0) next = (low + high) / 2;
    if (!(next < high)) next = highIsTried ? (low + high) / 2 : high;
    if (!(next > low)) next = lowIsTried ? (low + high) / 2 : low;
    before = { at, value };
    if (next === at) break;
    at = next;
  }
  throw new NoConvergenceError(search.quantity, low, high, iterationLimit);
}
