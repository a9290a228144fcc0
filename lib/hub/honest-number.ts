import { normalQuantile80 } from "../numerics/normal-distribution.js";
/**
 * A value that ends at the first digit of its standard uncertainty: 12.34 bar that may be off by 0.3 is 12.3 bar. More
 * digits would claim what nobody knows. [Jcgm2008] 7.2.6, where at most one digit more is allowed.
 * @param uncertainty  in the unit of the value; 0 or no number leaves the value as it is.
 */
export function cutToUncertainty(value: number, uncertainty: number): number {
  if (!(uncertainty > 0) || !Number.isFinite(uncertainty) || !Number.isFinite(value)) return value;
  const place = Math.floor(Math.log10(uncertainty));
  const cut =
    place >= 0
      ? Math.round(value / 10 ** place) * 10 ** place
      : Math.round(value * 10 ** -place) / 10 ** -place;
  return Object.is(cut, -0) ? 0 : Number(cut.toPrecision(15));
}

/** Two significant digits: all that an estimate of a tank's CO2 supports. */
export function twoSignificantDigits(value: number): number {
  return Number(value.toPrecision(2));
}

/** The standard deviation of a normal distribution from the ends of its 80 % interval. */
export function deviationOf80(low: number, high: number): number {
  return (high - low) / 2 / normalQuantile80;
}
