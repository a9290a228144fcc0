import { OutOfValidRangeError } from "../errors.js";

/** The span in which a formula holds, both ends included. */
export interface ValidRange {
  readonly quantity: string;
  readonly unit: string;
  readonly minimum: number;
  readonly maximum: number;
}

/**
 * The one gate that every formula uses.
 * @throws OutOfValidRangeError when the value is not a finite number inside the range.
 */
export function assertInRange(value: number, range: ValidRange): void {
  if (!(value >= range.minimum && value <= range.maximum)) {
    throw new OutOfValidRangeError(range.quantity, value, range.unit, range.minimum, range.maximum);
  }
}
