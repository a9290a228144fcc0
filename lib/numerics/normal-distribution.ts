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

/**
 * Half-width of the two-sided interval that holds 80, 90 or 95 % of a normal distribution, in standard deviations.
 * [AbramowitzStegun1964] table 26.1
 */
export const normalQuantile80 = 1.2815516;
export const normalQuantile90 = 1.6448536;
export const normalQuantile95 = 1.959964;
