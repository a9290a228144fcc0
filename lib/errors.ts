/**
 * The errors that lib/ throws. A broken contract throws one of these, with its fields; what can happen on a
 * normal day (a stale reading, a refused plan) is a returned value instead.
 */

/** A quantity outside the range in which a formula or a model holds. Never clamped, never extrapolated. */
export class OutOfValidRangeError extends Error {
  override readonly name = "OutOfValidRangeError";

  constructor(
    readonly quantity: string,
    readonly value: number,
    readonly unit: string,
    readonly minimum: number,
    readonly maximum: number,
  ) {
    super(
      `${quantity} is ${String(value)} ${unit}; allowed is ${String(minimum)} to ${String(maximum)} ${unit}`.replace(
        /  +/g,
        " ",
      ),
    );
  }
}

/** A solver that did not reach its tolerance. Carries the last bracket, so that the case can be repeated. */
export class NoConvergenceError extends Error {
  override readonly name = "NoConvergenceError";

  constructor(
    readonly quantity: string,
    readonly low: number,
    readonly high: number,
    readonly iterations: number,
  ) {
    super(
      `no solution for ${quantity} between ${String(low)} and ${String(high)} after ${String(iterations)} iterations`,
    );
  }
}

/** A name that lib/ was given and does not know: a unit, a time zone, a sensor. */
export class UnknownNameError extends Error {
  override readonly name = "UnknownNameError";

  constructor(
    readonly kindOfName: string,
    readonly given: string,
    readonly known: readonly string[],
  ) {
    super(`unknown ${kindOfName} "${given}"; known: ${known.join(", ")}`);
  }
}
