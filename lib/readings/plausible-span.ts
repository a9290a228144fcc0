import { OutOfValidRangeError } from "../errors.js";

/** The values that a sensor can give while it works, both ends included, in the canonical unit. */
export interface PlausibleSpan {
  readonly minimum: number;
  readonly maximum: number;
}

/**
 * @throws OutOfValidRangeError when an end is not finite or the minimum is not below the maximum.
 */
export function assertPlausibleSpan(span: PlausibleSpan): void {
  const { minimum, maximum } = span;
  if (!Number.isFinite(maximum)) {
    throw new OutOfValidRangeError("plausible maximum", maximum, "", -Number.MAX_VALUE, Number.MAX_VALUE);
  }
  if (!(Number.isFinite(minimum) && minimum < maximum)) {
    throw new OutOfValidRangeError("plausible minimum", minimum, "", -Number.MAX_VALUE, maximum);
  }
}

/** False for anything that is no number. */
export function isPlausible(value: number, span: PlausibleSpan): boolean {
  return value >= span.minimum && value <= span.maximum;
}
