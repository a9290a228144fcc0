import { assertInRange } from "../quantities/valid-range.js";

/** Lanczos' coefficients for g = 7 and nine terms, from memory. */
const lanczos = [
  0.99999999999980993, 676.5203681218851, -1259.1392167224028, 771.32342877765313, -176.61502916214059,
  12.507343278686905, -0.13857109526572012, 9.9843695780195716e-6, 1.5056327351493116e-7,
] as const;

function lnGamma(x: number): number {
  const z = x - 1;
  const base = z + 7.5;
  const series = lanczos.reduce((sum, factor, k) => (k === 0 ? factor : sum + factor / (z + k)), 0);
  return 0.5 * Math.log(2 * Math.PI) + (z + 0.5) * Math.log(base) - base + Math.log(series);
}

/** Continued fraction of the incomplete beta function, where x < (a + 1) / (a + b + 2). */
function betaFraction(x: number, a: number, b: number): number {
  const tiny = 1e-300;
  const away = (value: number): number => (Math.abs(value) < tiny ? tiny : value);
  let c = 1;
  let d = 1 / away(1 - ((a + b) * x) / (a + 1));
  let value = d;
  for (let m = 1; m <= 400; m += 1) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 / away(1 + even * d);
    c = away(1 + even / c);
    value *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 / away(1 + odd * d);
    c = away(1 + odd / c);
    const step = d * c;
    value *= step;
    if (Math.abs(step - 1) < 1e-15) break;
  }
  return value;
}

function incompleteBeta(x: number, a: number, b: number): number {
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  const front = Math.exp(lnGamma(a + b) - lnGamma(a) - lnGamma(b) + a * Math.log(x) + b * Math.log1p(-x));
  return x < (a + 1) / (a + b + 2)
    ? (front * betaFraction(x, a, b)) / a
    : 1 - (front * betaFraction(1 - x, b, a)) / b;
}

/**
 * Share of Student's t distribution below t. Degrees of freedom 0.5 to 1e6; error below 1e-9.
 * @throws OutOfValidRangeError for other degrees of freedom
 * @see [AbramowitzStegun1964] 26.7.1 and 26.5.8
 */
export function studentCumulative(t: number, degreesOfFreedom: number): number {
  assertInRange(degreesOfFreedom, { quantity: "degrees of freedom", unit: "", minimum: 0.5, maximum: 1e6 });
  const tail = incompleteBeta(degreesOfFreedom / (degreesOfFreedom + t * t), degreesOfFreedom / 2, 0.5) / 2;
  return t > 0 ? 1 - tail : tail;
}

/**
 * The value of Student's t below which a share lies, share 0.0001 to 0.9999, degrees of freedom 0.5 to 1e6.
 * @throws OutOfValidRangeError outside these ranges
 * @see [AbramowitzStegun1964] 26.7.1; [NistSematech2012] 1.3.6.7.2 for the table that it is checked against
 */
export function studentQuantile(share: number, degreesOfFreedom: number): number {
  assertInRange(share, { quantity: "share", unit: "", minimum: 1e-4, maximum: 1 - 1e-4 });
  if (share === 0.5) return 0;
  const upper = Math.max(share, 1 - share);
  let low = 0;
  let high = 1;
  while (studentCumulative(high, degreesOfFreedom) < upper) high *= 2;
  for (let round = 0; round < 200 && high - low > 1e-12 * high; round += 1) {
    const middle = (low + high) / 2;
    if (studentCumulative(middle, degreesOfFreedom) < upper) low = middle;
    else high = middle;
  }
  return share > 0.5 ? (low + high) / 2 : -(low + high) / 2;
}
