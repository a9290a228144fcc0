/**
 * Share of a standard normal distribution below z; absolute error at most 1e-7.
 * @see [AbramowitzStegun1964] 7.1.26
 */
export function normalCumulative(z: number): number {
  const x = Math.abs(z) / Math.SQRT2;
  const t = 1 / (1 + 0.3275911 * x);
  const series =
    ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t + 0.254829592) * t;
  const tail = (series * Math.exp(-x * x)) / 2;
  return z > 0 ? 1 - tail : tail;
}

/** Terms of the continued fraction: from z = 1 on good to seven digits. */
const fractionTerms = 40;

/** Density over the share above z, for z of 0 or more: the reciprocal of Mills' ratio. */
function hazard(z: number): number {
  if (z < 1) return Math.exp(-0.5 * z * z) / Math.sqrt(2 * Math.PI) / (1 - normalCumulative(z));
  let rest = z;
  for (let term = fractionTerms; term >= 1; term -= 1) rest = z + term / rest;
  return rest;
}

/**
 * Mean and variance of a normal distribution of which all below zero is cut off.
 * @param cut.value zero or less: what is cut is at least half
 * @see [SimonSimon2010] for the use of it, [AbramowitzStegun1964] 26.2.14 for the continued fraction
 */
export function normalAboveZero(cut: { readonly value: number; readonly deviation: number }): {
  readonly value: number;
  readonly variance: number;
} {
  const z = -cut.value / cut.deviation;
  const h = hazard(z);
  return {
    value: cut.deviation * (h - z),
    variance: cut.deviation ** 2 * Math.max(0, 1 + z * h - h * h),
  };
}

/**
 * Half-width of the two-sided interval that holds 80, 90 or 95 % of a normal distribution, in standard deviations.
 * [AbramowitzStegun1964] table 26.1
 */
export const normalQuantile80 = 1.2815516;
export const normalQuantile90 = 1.6448536;
export const normalQuantile95 = 1.959964;
